"""The simulated tool change of an assembly, and what it says of the graph's claims.

`parameters` and `circuits` read an assembly as numbers, `stroke_unit` makes the simulated unit of them;
`simulate` answers one stroke, `agreement` holds every claimed effect against one.
"""
