"""What is loaded: the graph, the knowledge read from it, and the assemblies read so far."""

from collections import OrderedDict
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from threading import Lock
from typing import Any, TypeVar

from clampgraph.assembly import (
    Assembly,
    InfluenceGraph,
    Knowledge,
    derive,
    read_assemblies,
    read_assembly,
    read_knowledge,
)
from clampgraph.cases.learning import Learned
from clampgraph.diagnosis.derive import network_of
from clampgraph.diagnosis.inference import MEMORY_LIMIT_BYTES, Plan, compile_network
from clampgraph.diagnosis.network import Network
from clampgraph.diagnosis.relevance import upstream
from clampgraph.errors import UnknownNameError
from clampgraph.graph import GraphStore, load
from clampgraph.graph.languages import ENGLISH, in_language, told_languages

__all__ = ["Library", "Sources", "nearest"]

T = TypeVar("T")

FEW_ASSEMBLIES = 500
"""Assemblies up to which the sources of all claims are read at once."""

PLANS_KEPT = 64
"""How many compiled networks stay in memory; one takes from 1 to about 20 MB."""


def nearest(name: str, known: Iterable[str]) -> list[str]:
    """Return the three known names nearest to one that is not known, best first."""
    from rapidfuzz import process  # noqa: PLC0415  # only needed when a name is wrong

    return [found for found, _, _ in process.extract(name, list(known), limit=3)]


@dataclass
class _Lesson:
    """What was derived from the figures that were learned last."""

    learned: Learned
    networks: dict[str, Network] = field(default_factory=dict)
    plans: OrderedDict[tuple[Any, ...], Any] = field(default_factory=OrderedDict)


class Library:
    """Everything answers draw on; reads each thing once, when first asked for."""

    def __init__(self, graph: GraphStore) -> None:
        self.graph = graph
        self._assemblies: dict[tuple[str, str | None], Assembly] = {}
        self._influence: dict[str, InfluenceGraph] = {}
        self._networks: dict[str, Network] = {}
        self._plans: OrderedDict[tuple[Any, ...], Any] = OrderedDict()
        self._tongues: dict[str, Library] = {}
        self.learned = Learned()
        self._lessons = [_Lesson(self.learned)]
        self._lock = Lock()  # the service answers from several threads

    @classmethod
    def open(cls, packs: Iterable[Path] = (), store: str | None = None) -> "Library":
        """Open the shipped packs and the given ones, in the store that is named or set; see `graph.load`."""
        return cls(load(packs, store))

    def in_language(self, language: str) -> "Library":
        """Return this library with its texts in another language; networks and plans are shared, figures the same.

        Raises
        ------
        UnknownNameError
            If no label is told in that language; names those that are.
        """
        if language == ENGLISH:
            return self
        if language not in self._tongues:
            told = told_languages(self.graph)
            if language not in told:
                raise UnknownNameError("language", language, told)
            twin = Library(in_language(self.graph, language))
            twin._networks, twin._plans, twin._lock = self._networks, self._plans, self._lock
            twin.learned, twin._lessons = self.learned, self._lessons
            self._tongues[language] = twin
        return self._tongues[language]

    def taught(self, learned: Learned) -> "Library":
        """Return this library with figures learned from cases; texts, topology and all other figures are the same.

        What is derived from them is kept until other figures are taught.
        """
        if not learned:
            return self
        with self._lock:
            lesson = self._lessons[0]
            if lesson.learned is not learned:
                lesson = self._lessons[0] = _Lesson(learned)
        twin = Library(self.graph)
        twin.knowledge, twin.assemblies, twin.sources = self.knowledge, self.assemblies, self.sources
        twin._assemblies, twin._influence, twin._lock = self._assemblies, self._influence, self._lock
        twin.learned, twin._networks, twin._plans, twin._lessons = (
            learned, lesson.networks, lesson.plans, self._lessons,
        )  # fmt: skip
        return twin

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

    def network(self, assembly: Assembly, ages: Mapping[str, float] | None = None) -> Network:
        """Return the network of an assembly; with the default ages it is derived once."""
        if ages:
            return network_of(self.influence(assembly), self.knowledge, ages, self.learned)
        if assembly.generation.iri not in self._networks:
            self._networks[assembly.generation.iri] = network_of(
                self.influence(assembly), self.knowledge, learned=self.learned
            )
        return self._networks[assembly.generation.iri]

    def plan(
        self,
        assembly: Assembly,
        network: Network,
        ages: Mapping[str, float],
        wanted: Iterable[str],
        memory_limit_bytes: int = MEMORY_LIMIT_BYTES,
    ) -> Plan:
        """Return the compiled network upstream of the wanted nodes and of every cause; the last ones used are kept.

        Raises
        ------
        TooWideError
            If it would take more memory than allowed.
        """
        targets = {*wanted, *(n.id for n in network if n.kind in ("failure-mode", "condition"))}
        key = assembly.generation.iri, tuple(sorted(ages.items())), frozenset(targets)
        return self.kept(
            key, lambda: compile_network(upstream(network, targets), memory_limit_bytes=memory_limit_bytes)
        )

    def kept(self, key: tuple[Any, ...], make: Callable[[], T]) -> T:
        """Return what was made for a key from the figures of this library, whatever its language; the last are kept."""
        with self._lock:
            if key in self._plans:
                self._plans.move_to_end(key)
                found: T = self._plans[key]
                return found
        made = make()
        with self._lock:
            kept: T = self._plans.setdefault(key, made)
            while len(self._plans) > PLANS_KEPT:
                self._plans.popitem(last=False)
        return kept

    @cached_property
    def sources(self) -> "Sources":
        """On which source a claim rests, by IRI."""
        return Sources(self.graph, whole=len(self.assemblies) <= FEW_ASSEMBLIES)


class Sources:
    """The source of each claim: all asked for at once, or, in a fleet with millions of claims, each when it is told."""

    def __init__(self, graph: GraphStore, *, whole: bool) -> None:
        self._graph, self._whole = graph, whole
        rows = graph.ask("knowledge/list-sources") if whole else []
        self._known: dict[str, str | None] = {str(row["claim"]): str(row["source"]) for row in rows}

    def get(self, claim: str, otherwise: str) -> str:
        """Return the source of a claim, or what to say where none is told."""
        if not self._whole and claim not in self._known:
            rows = self._graph.ask("knowledge/find-source", claim=claim)
            self._known[claim] = str(rows[-1]["source"]) if rows else None
        return self._known.get(claim) or otherwise
