"""What is loaded: the graph, the knowledge read from it, and the assemblies read so far."""

from collections.abc import Iterable, Mapping
from functools import cached_property
from pathlib import Path
from typing import Any

from clampgraph.assembly import (
    Assembly,
    InfluenceGraph,
    Knowledge,
    derive,
    read_assemblies,
    read_assembly,
    read_knowledge,
)
from clampgraph.errors import UnknownNameError
from clampgraph.graph import GraphStore, load

__all__ = ["Library", "nearest"]


def nearest(name: str, known: Iterable[str]) -> list[str]:
    """Return the three known names nearest to one that is not known, best first."""
    from rapidfuzz import process  # noqa: PLC0415  # only needed when a name is wrong

    return [found for found, _, _ in process.extract(name, list(known), limit=3)]


class Library:
    """Everything answers draw on; reads each thing once, when first asked for."""

    def __init__(self, graph: GraphStore) -> None:
        self.graph = graph
        self._assemblies: dict[tuple[str, str | None], Assembly] = {}
        self._influence: dict[str, InfluenceGraph] = {}

    @classmethod
    def open(cls, packs: Iterable[Path] = ()) -> "Library":
        """Load the shipped packs and the given ones."""
        return cls(load(packs))

    @cached_property
    def knowledge(self) -> Knowledge:
        """What is known of component types."""
        return read_knowledge(self.graph.ask)

    @cached_property
    def assemblies(self) -> Mapping[str, Mapping[str, Any]]:
        """The row of every assembly, by identifier."""
        return read_assemblies(self.graph.ask)

    def assembly(self, name: str, generation: str | None = None) -> Assembly:
        """Return one generation of an assembly, the newest one if none is named.

        Raises
        ------
        UnknownNameError
            If there is no such assembly or generation; names the nearest.
        """
        if name not in self.assemblies:
            raise UnknownNameError("assembly", name, nearest(name, self.assemblies))
        key = name, generation
        if key not in self._assemblies:
            self._assemblies[key] = read_assembly(self.graph.ask, self.knowledge, name, generation)
        return self._assemblies[key]

    def influence(self, assembly: Assembly) -> InfluenceGraph:
        """Return the influence graph of an assembly, derived once."""
        if assembly.generation.iri not in self._influence:
            self._influence[assembly.generation.iri] = derive(assembly, self.knowledge)
        return self._influence[assembly.generation.iri]
