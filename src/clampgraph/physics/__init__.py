"""The numbers behind a diagnosis: pure functions with SI inside.

Every function takes keyword arguments named by the symbols of its standard, floats or numpy arrays that
broadcast against each other, and gives back the same shape. Pressures say whether they are gauge or absolute.
What lies outside the stated range raises a QuantityError; nothing is extrapolated and no nan comes out.
`catalogue` lists the calculations that a technician calls by name, with trade units at the edges.
"""

__all__: list[str] = []
