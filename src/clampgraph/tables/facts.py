"""What tables draw on: the loaded packs and what is reasoned from them, read once and kept."""

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from difflib import get_close_matches
from functools import cached_property
from typing import Any, Protocol

from clampgraph.assembly import Assembly, InfluenceGraph, Knowledge
from clampgraph.diagnosis.fault_tree import FaultTree, fault_tree
from clampgraph.diagnosis.network import Network
from clampgraph.graph import GraphStore
from clampgraph.replacement.facts import Catalogue
from clampgraph.replacement.reading import grouped, read_catalogue

__all__ = ["Facts", "Loaded", "Scope"]

_LEAST_ORDER = 2
"""Trees are read to this order even for tables that want less, so that one reading serves them all."""


class Loaded(Protocol):
    """What is loaded, as the library of answers offers it."""

    graph: GraphStore

    @property
    def knowledge(self) -> Knowledge:
        """What is known of component types."""

    @property
    def assemblies(self) -> Mapping[str, Mapping[str, Any]]:
        """The row of every assembly, by identifier."""

    def assembly(self, name: str, generation: str | None = None) -> Assembly:
        """Return one generation of an assembly."""

    def influence(self, assembly: Assembly) -> InfluenceGraph:
        """Return the influence graph of an assembly."""

    def network(self, assembly: Assembly, ages: Mapping[str, float] | None = None) -> Network:
        """Return the network of an assembly."""


@dataclass(frozen=True, slots=True)
class Scope:
    """What a table is asked for: one assembly or all, and the options that a table may know."""

    assembly: str | None = None
    generation: str | None = None
    symptom: str | None = None
    order: int = 2
    compact: bool = False
    differing: bool = False
    priority: bool = False


@dataclass
class Facts:
    """The loaded packs with the fault trees read so far."""

    loaded: Loaded
    _trees: dict[tuple[str, str], FaultTree] = field(default_factory=dict, repr=False)

    @property
    def knowledge(self) -> Knowledge:
        """What is known of component types."""
        return self.loaded.knowledge

    @property
    def ask(self) -> Callable[..., list[Mapping[str, Any]]]:
        """Run a named query."""
        return self.loaded.graph.ask

    def assemblies(self, scope: Scope) -> Iterator[Assembly]:
        """Give the assembly asked for, or the newest generation of every one."""
        names = [scope.assembly] if scope.assembly is not None else sorted(self.loaded.assemblies)
        for name in names:
            yield self.loaded.assembly(name, scope.generation)

    def generations(self, scope: Scope) -> Iterator[Assembly]:
        """Give every generation of the assembly asked for, or of every one."""
        for newest in self.assemblies(Scope(scope.assembly)):
            for generation in newest.generations:
                if scope.generation in (None, generation.id):
                    yield self.loaded.assembly(newest.id, generation.id)

    def tree(self, assembly: Assembly, top: str, order: int) -> FaultTree:
        """Return the fault tree of a symptom node; one read to a higher order serves the lower ones."""
        key = assembly.generation.iri, top
        if key not in self._trees or self._trees[key].order < order:
            self._trees[key] = fault_tree(self.loaded.network(assembly), top, max(order, _LEAST_ORDER))
        tree = self._trees[key]
        return replace(tree, order=order, cut_sets=tuple(c for c in tree.cut_sets if len(c.events) <= order))

    def word(self, name: str) -> str:
        """Return how a phase, quantity, guideword, medium or source is called."""
        return self.knowledge.words.get(name, name)

    def nearest(self, name: str, known: Iterable[str]) -> list[str]:
        """Return up to three known names nearest to one that is not known, best first."""
        return get_close_matches(name, list(known), 3, 0.3)

    def cause(self, assembly: Assembly, node: str) -> tuple[str | None, str, str]:
        """Return position, identifier and label of the cause that a node stands for."""
        position, _, name = node.rpartition(":")
        if position:
            return position, name, assembly.positions[position].type.modes[name].label
        condition = self.knowledge.conditions[node.partition("/")[2]]
        return None, condition.id, condition.label

    def iris_of(self, assembly: Assembly, nodes: Iterable[str]) -> tuple[str, ...]:
        """Return the IRIs of the failure modes, with their positions, or conditions that nodes stand for."""
        found: list[str] = []
        for node in nodes:
            position, _, name = node.rpartition(":")
            if position:
                at = assembly.positions[position]
                found += [at.type.modes[name].iri, at.iri]
            else:
                found.append(self.knowledge.conditions[node.partition("/")[2]].iri)
        return tuple(found)

    @cached_property
    def edition(self) -> tuple[str, ...]:
        """One line for each pack that says which version it is."""
        return tuple(
            f"{row['title']}, {str(row['version']).rpartition('/')[2]}" for row in self.ask("tables/list-editions")
        )

    @cached_property
    def sources(self) -> Mapping[str, str]:
        """The label of every claim's source, by IRI of the claim."""
        return {str(row["claim"]): str(row["source"]) for row in self.ask("knowledge/list-sources")}

    @cached_property
    def catalogue(self) -> Catalogue:
        """What the packs say of items, interfaces and work."""
        return read_catalogue(self.ask, self.knowledge)

    @cached_property
    def _cautions(self) -> Mapping[str, tuple[str, ...]]:
        return grouped(self.ask("tables/list-cautions"), "caution", "iri")

    def caution_iris(self, caution: str) -> tuple[str, ...]:
        """Return the IRIs that go by the identifier of a caution."""
        return self._cautions.get(caution, ())

    def told_by(self, *claims: str) -> tuple[str, ...]:
        """Return the sources of some claims, each once."""
        return tuple(dict.fromkeys(self.sources[c] for c in claims if c in self.sources))
