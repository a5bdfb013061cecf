"""One assembly as replacement sees it: requirements and joints follow from component types and connections.

A position asks for the features that the interfaces of its type name.
The figure is the assembly's own requirement where it states one, else what the builder's item offers.
A joint stands where two positions are connected: the rule that names most of the pair decides how they are fastened.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from clampgraph.assembly import Assembly
from clampgraph.assembly.topology import Connection
from clampgraph.errors import DataError
from clampgraph.replacement.facts import Catalogue, Consumption, Item, Joint, Requirement, Site
from clampgraph.replacement.reading import Ask, Row, feature_of, grouped

__all__ = ["CONTACT", "read_site"]

CONTACT = "contact"
"""The kind of a joint rule that says: these touch and are not fastened."""


def read_site(ask: Ask, catalogue: Catalogue, assembly: Assembly) -> Site:
    """Return one generation of an assembly with its items, requirements and joints.

    Raises
    ------
    DataError
        If a requirement names a position that the assembly lacks.
    """
    fitted = {
        position.id: min((catalogue.items[i.mpn] for i in position.items if i.mpn in catalogue.items), key=_by_number)
        for position in assembly.positions.values()
        if any(i.mpn in catalogue.items for i in position.items)
    }
    own = [
        row
        for row in ask("replacement/list-requirements")
        if row["assembly"] == assembly.id and row["generation"] in (None, assembly.generation.id)
    ]
    return Site(
        assembly,
        catalogue,
        fitted,
        {position.id: position.type.lineage for position in assembly.positions.values()},
        tuple(_requirements(catalogue, assembly, fitted, own)),
        _joints(ask, assembly),
    )


def _by_number(item: Item) -> str:
    return item.mpn


def _requirements(
    catalogue: Catalogue, assembly: Assembly, fitted: Mapping[str, Item], own: Iterable[Row]
) -> Iterator[Requirement]:
    stated: dict[str, dict[str, Requirement]] = defaultdict(dict)
    for row in own:
        for name in (row["position"], row["neighbour"]):
            if name is not None and name not in assembly.positions:
                raise DataError(f"The requirement {row['iri']} names {name}, a position that {assembly.id} lacks.")
        stated[row["position"]][row["feature"]] = Requirement(
            row["iri"], row["position"], row["feature"], row["rule"], feature_of(row), row["neighbour"],
            feature_of(row, "tolerance", "toleranceUnit", ""),
        )  # fmt: skip
    for position in assembly.positions.values():
        yield from (r for _, r in sorted(stated[position.id].items()))
        done = {(feature, r.neighbour) for feature, r in stated[position.id].items()}
        for interface in (i for kind in position.type.lineage for i in catalogue.interfaces.get(kind, ())):
            neighbours = [None] if interface.port is None else _behind(assembly, position.id, interface.port)
            for neighbour in neighbours:
                if (interface.feature, neighbour) in done:
                    continue
                done.add((interface.feature, neighbour))
                value = interface.value
                if value is None and neighbour is None and position.id in fitted:
                    value = fitted[position.id].features.get(interface.feature)
                yield Requirement(
                    interface.claim, position.id, interface.feature, interface.rule, value, neighbour,
                    interface.tolerance,
                )  # fmt: skip


def _behind(assembly: Assembly, position: str, port: str) -> list[str | None]:
    ends = [
        *((c.from_position, c.from_port, c.to_position) for c in assembly.connections),
        *((c.to_position, c.to_port, c.from_position) for c in assembly.connections),
    ]
    return list(dict.fromkeys(sorted(other for here, at, other in ends if (here, at) == (position, port))))


@dataclass(frozen=True)
class _Books:
    """What the packs say of joints beside the joints themselves, by IRI of joint or rule."""

    tools: Mapping[str, tuple[str, ...]]
    types: Mapping[str, tuple[str, ...]]
    places: Mapping[str, tuple[str, ...]]
    first: Mapping[str, tuple[str, ...]]
    routes: Mapping[str, tuple[frozenset[str], ...]]
    uses: Mapping[str, tuple[Consumption, ...]]


def _books(ask: Ask) -> _Books:
    spoiled = ask("replacement/list-disturbances")
    via: dict[str, tuple[str, set[str]]] = {}
    for row in ask("replacement/list-routes"):
        joints = via.setdefault(f"{row['route']} {row['target']}", (row["target"], set()))[1]
        joints.update(v for v in (row["via"],) if v is not None)
    routes: dict[str, list[frozenset[str]]] = defaultdict(list)
    for target, joints in via.values():
        routes[target].append(frozenset(joints))
    uses: dict[str, list[Consumption]] = defaultdict(list)
    for row in ask("replacement/list-consumptions"):
        uses[row["iri"]].append(Consumption(row["consumable"], row["label"], float(row["share"])))
    return _Books(
        grouped(ask("replacement/list-tools"), "iri", "tool"),
        grouped(spoiled, "iri", "type"),
        grouped(spoiled, "iri", "position"),
        grouped(ask("replacement/list-openings"), "iri", "first"),
        {target: tuple(sorted(these, key=sorted)) for target, these in routes.items()},
        {iri: tuple(these) for iri, these in uses.items()},
    )


def _joints(ask: Ask, assembly: Assembly) -> dict[str, Joint]:
    books, rules = _books(ask), ask("replacement/list-joint-rules")
    joined = grouped(ask("replacement/list-joined"), "iri", "position")
    drafts: dict[str, tuple[Row, str, frozenset[str], str]] = {}
    for row in ask("replacement/list-joints"):
        if row["assembly"] == assembly.id and row["generation"] in (None, assembly.generation.id):
            drafts[row["iri"]] = row, row["label"], frozenset(joined.get(row["iri"], ())), ""
    stated = {joins for _, _, joins, _ in drafts.values()}
    for connection in assembly.connections:
        pair = frozenset((connection.from_position, connection.to_position))
        rule = _rule_for(rules, assembly, connection)
        if rule is not None and rule["kind"] != CONTACT and pair not in stated:
            ends = f"{connection.from_position} to {connection.to_position}"
            drafts[connection.iri] = rule, f"{rule['label']} ({ends})", pair, rule["iri"]
    for position in assembly.positions.values():
        for rule in rules:
            alone = rule["toType"] is None and rule["medium"] is None and rule["atPort"] is None
            if alone and rule["atType"] in position.type.lineage and frozenset((position.id,)) not in stated:
                iri = f"{position.iri}.{rule['iri'].rpartition('#')[2]}"
                drafts[iri] = rule, f"{rule['label']} ({position.id})", frozenset((position.id,)), rule["iri"]
    return _finished(assembly, books, drafts)


def _rule_for(rules: Iterable[Row], assembly: Assembly, connection: Connection) -> Row | None:
    """Return the rule that names most of a connection; the first by IRI where two name as much."""
    best: tuple[int, Row] | None = None
    for rule in rules:
        if rule["toType"] is None and rule["medium"] is None:
            continue
        named = max(_named(rule, assembly, connection, turned) for turned in (False, True))
        if named > 0 and (best is None or named > best[0]):
            best = named, rule
    return None if best is None else best[1]


def _named(rule: Row, assembly: Assembly, connection: Connection, turned: bool) -> int:  # noqa: FBT001 - a direction
    """Count what a rule names of a connection, read in one direction; 0 if it names something else."""
    start, end = (connection.from_position, connection.from_port), (connection.to_position, connection.to_port)
    if turned:
        start, end = end, start
    medium = assembly.positions[start[0]].type.ports[start[1]].medium
    pairs: tuple[tuple[Any, bool], ...] = (
        (rule["atType"], rule["atType"] in assembly.positions[start[0]].type.lineage),
        (rule["atPort"], rule["atPort"] == start[1]),
        (rule["toType"], rule["toType"] in assembly.positions[end[0]].type.lineage),
        (rule["toPort"], rule["toPort"] == end[1]),
        (rule["medium"], rule["medium"] == medium),
    )
    asked = [holds for name, holds in pairs if name is not None]
    return len(asked) if all(asked) else 0


def _finished(
    assembly: Assembly, books: _Books, drafts: Mapping[str, tuple[Row, str, frozenset[str], str]]
) -> dict[str, Joint]:
    """Resolve rules into the joints of this assembly: what is disturbed, what comes first, which ways lead there."""
    members: dict[str, frozenset[str]] = {iri: frozenset((iri,)) for iri in drafts}
    for iri, (_, _, _, rule) in drafts.items():
        if rule:
            members[rule] = members.get(rule, frozenset()) | {iri}

    def named(names: Iterable[str]) -> frozenset[str]:
        return frozenset(j for name in names for j in members.get(name, ()))

    found = {}
    for iri, (row, label, joins, rule) in drafts.items():
        keys = (iri, rule) if rule else (iri,)
        ways = [named(way) for key in keys for way in books.routes.get(key, ())]
        found[iri] = Joint(
            iri, label, row["kind"], joins, float(row["open"] or 0.0), float(row["close"] or 0.0),
            float(row["closeNew"] or row["close"] or 0.0), tuple(t for key in keys for t in books.tools.get(key, ())),
            frozenset(p for key in keys for p in _disturbed(assembly, books, key, joins)),
            named(f for key in keys for f in books.first.get(key, ())) - {iri},
            tuple(sorted({way - {iri} for way in ways if way}, key=sorted)),
            tuple(u for key in keys for u in books.uses.get(key, ())), rule,
        )  # fmt: skip
    return found


def _disturbed(assembly: Assembly, books: _Books, key: str, joins: frozenset[str]) -> Iterator[str]:
    """Name the positions that opening spoils: of each type the joined ones, else those throughout the assembly."""
    yield from (p for p in books.places.get(key, ()) if p in assembly.positions)
    for kind in books.types.get(key, ()):
        everywhere = [p.id for p in assembly.positions.values() if kind in p.type.lineage]
        yield from [p for p in everywhere if p in joins] or everywhere
