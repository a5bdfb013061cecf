"""Check packs: their text, their shapes, and the rules that need more than one node to be seen.

The given files are checked amid the shipped knowledge and demo, so that references resolve;
what is wrong there and not in the given files is not told.
A subject that a given file types is described by that file: the shipped description of it steps aside.
"""

from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cache, partial
from pathlib import Path

from pyoxigraph import BlankNode, NamedNode, Quad, Store

from clampgraph import paths
from clampgraph.errors import QuantityError, WrongCallError
from clampgraph.graph.loading import default_packs, files_of
from clampgraph.graph.named_queries import catalogue
from clampgraph.graph.parsing import PackFile, parse_pack
from clampgraph.graph.shapes import violations
from clampgraph.graph.store import GraphStore
from clampgraph.units import UNITS, from_qudt

__all__ = ["Checked", "Finding", "check"]

Homes = Mapping[NamedNode | BlankNode, PackFile]
"""The given file that describes each subject."""

_TYPE = NamedNode("http://www.w3.org/1999/02/22-rdf-syntax-ns#type")
_SUBCLASS = NamedNode("http://www.w3.org/2000/01/rdf-schema#subClassOf")
_DIMENSIONS = {"rate": "rate", "defaultExposure": "time", "leadTime": "time", "mass": "mass"}


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing to correct: how bad, in which file and line, about which subject, what, and what to write."""

    severity: str
    pack: str
    line: int | None
    focus: str | None
    message: str
    hint: str

    @property
    def rank(self) -> tuple[str, str, int, str, str, str]:
        """Where it stands in the list: errors first, then by file, line and subject."""
        return self.severity, self.pack, self.line or 0, self.focus or "", self.message, self.hint


@dataclass(frozen=True)
class Checked:
    """The given files amid what they refer to, and what is wrong in them."""

    graph: GraphStore
    findings: tuple[Finding, ...]
    homes: Homes

    def home_of(self, iri: str) -> PackFile | None:
        """Return the given file that describes a subject, if one does."""
        return self.homes.get(NamedNode(iri))

    def at(self, iri: str, severity: str, message: str, hint: str = "") -> Finding | None:
        """Make a finding about a subject of a given file; None if no given file describes it."""
        home = self.home_of(iri)
        if home is None:
            return None
        return Finding(severity, home.path.name, home.line_of(iri), iri, message, hint)


def check(packs: Iterable[Path]) -> Checked:
    """Check files and folders of packs.

    Raises
    ------
    UnknownNameError
        If a path does not exist or cannot be read.
    DataError
        If a file is not Turtle, N-Triples, N-Quads or TriG by its suffix.
    WrongCallError
        If the paths hold no pack at all.
    """
    given = [parse_pack(file) for file in files_of(packs)]
    if not given:
        raise WrongCallError("There is no pack to check: name a .ttl, .nt, .nq or .trig file, or a folder of them.")
    homes = _homes(given)
    quads = [Quad(q.subject, q.predicate, q.object) for pack in given for q in pack.quads]
    quads += _surroundings(given, {q.subject for q in quads if q.predicate == _TYPE})
    store = Store()
    store.extend(quads)
    graph = GraphStore(store)
    told = {
        *(f for pack in given for f in _faults(pack)),
        *_shape_findings(store, homes),
        *_rule_findings(graph, homes, [pack.text for pack in given if not pack.whole]),
        *_unit_findings(graph, homes),
    }
    return Checked(graph, tuple(sorted(told, key=lambda f: f.rank)), homes)


def _homes(given: Iterable[PackFile]) -> Homes:
    """Map each subject to the file that types it, or else to the first that mentions it."""
    typed: dict[NamedNode | BlankNode, PackFile] = {}
    named: dict[NamedNode | BlankNode, PackFile] = {}
    for pack in given:
        for quad in pack.quads:
            if isinstance(quad.subject, NamedNode | BlankNode):
                named.setdefault(quad.subject, pack)
                if quad.predicate == _TYPE:
                    typed.setdefault(quad.subject, pack)
    return {**named, **typed}


def _surroundings(given: Iterable[PackFile], described: set[object]) -> Iterator[Quad]:
    """Yield what the shipped files say of subjects that no given file describes."""
    same = {pack.path.resolve() for pack in given}
    for file in (paths.ontology() / "terms.ttl", *files_of(default_packs())):
        if file.resolve() not in same:
            yield from (q for q in parse_pack(file).quads if q.subject not in described)


def _finding(home: PackFile, focus: NamedNode | BlankNode | None, severity: str, message: str, hint: str) -> Finding:
    iri = focus.value if isinstance(focus, NamedNode) else None
    return Finding(severity, home.path.name, home.line_of(iri) if iri else None, iri, message, hint)


def _faults(pack: PackFile) -> Iterator[Finding]:
    for fault in pack.faults:
        told = _finding(pack, fault.focus, "error", fault.message, fault.hint)
        yield told if fault.line is None else replace(told, line=fault.line)


def _shape_findings(store: Store, homes: Homes) -> Iterator[Finding]:
    for found in violations(_described(store, homes)):
        if found.focus in homes:
            yield _finding(homes[found.focus], found.focus, found.severity, found.message, found.hint)


def _described(store: Store, subjects: Iterable[NamedNode | BlankNode]) -> set[Quad]:
    """Gather what the shapes look at: all about the subjects, what points at them, the classes of their objects."""
    found = set(store.quads_for_pattern(None, _SUBCLASS, None))
    queue = list(subjects)
    seen = set(queue)
    while queue:
        subject = queue.pop()
        found.update(store.quads_for_pattern(None, None, subject))
        for quad in store.quads_for_pattern(subject, None, None):
            found.add(quad)
            value = quad.object
            if isinstance(value, NamedNode):
                found.update(store.quads_for_pattern(value, _TYPE, None))
            elif isinstance(value, BlankNode) and value not in seen:
                seen.add(value)
                queue.append(value)
    return found


def _rule_findings(graph: GraphStore, homes: Homes, broken: Collection[str]) -> Iterator[Finding]:
    nearest = cache(partial(_nearest, graph))
    for name in sorted(n for n in catalogue() if n.startswith("hygiene/find-")):
        for row in graph.ask(name):
            unknown = str(row.get("unknown") or "")
            local = unknown.replace("#", "/").rpartition("/")[2]
            if unknown and any(local in text for text in broken):
                continue  # the file that describes it could not be read
            focus = _subject(str(row["focus"]), homes)
            if focus is not None:
                hint = str(row["hint"] or "") or nearest(unknown)
                yield _finding(homes[focus], focus, "error", str(row["message"]), hint)


def _subject(value: str, homes: Homes) -> NamedNode | BlankNode | None:
    subject = NamedNode(value) if ":" in value else BlankNode(value)
    return subject if subject in homes else None


def _nearest(graph: GraphStore, unknown: str) -> str:
    """Tell the names nearest to an unknown one within its namespace."""
    from rapidfuzz import fuzz, process  # noqa: PLC0415  # only needed when a name is wrong

    cut = max(unknown.rfind("#"), unknown.rfind("/")) + 1
    space, local = unknown[:cut], unknown[cut:]
    known = {q.subject.value for q in graph.store if isinstance(q.subject, NamedNode)}
    names = sorted(iri[cut:] for iri in known if iri.startswith(space) and not set("/#") & set(iri[cut:]))
    best = [name for name, _, _ in process.extract(local, names, scorer=fuzz.ratio, limit=3, score_cutoff=60)]
    return f"The nearest names are {', '.join(best)}." if best else "Describe it, or load the pack that does."


def _unit_findings(graph: GraphStore, homes: Homes) -> Iterator[Finding]:
    for row in graph.ask("hygiene/list-units"):
        focus, name, unit = _subject(str(row["focus"]), homes), str(row["name"]), str(row["unit"])
        if focus is None:
            continue
        wanted = _DIMENSIONS.get(name)
        try:
            dimension = UNITS[from_qudt(unit)].dimension
        except QuantityError as error:
            yield _finding(homes[focus], focus, "error", f"The unit at cg:{name} is not known: {error}", "")
            continue
        if wanted and dimension != wanted:
            message = f"cg:{name} is a {wanted}, but its unit {unit.rpartition('/')[2]} measures a {dimension}."
            yield _finding(homes[focus], focus, "error", message, f"Give it in a unit of {wanted}.")
