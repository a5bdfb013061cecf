"""One assembly as frozen, typed values, and the influence graph that follows from its topology.

`knowledge` says what a component type is; `topology` says which positions, items and connections an assembly has.
`reading` turns the rows of named queries into both.
`influence` derives, phase by phase, which deviation leads to which: the step from description to consequence.
"""

from clampgraph.assembly.influence import InfluenceGraph, derive
from clampgraph.assembly.knowledge import Knowledge
from clampgraph.assembly.reading import read_knowledge
from clampgraph.assembly.reading_topology import read_assemblies, read_assembly
from clampgraph.assembly.topology import Assembly

__all__ = [
    "Assembly",
    "InfluenceGraph",
    "Knowledge",
    "derive",
    "read_assemblies",
    "read_assembly",
    "read_knowledge",
]
