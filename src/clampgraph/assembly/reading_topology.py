"""Read assemblies: rows of named queries in, frozen values out."""

from collections import defaultdict
from collections.abc import Mapping
from typing import Any

from clampgraph.assembly.knowledge import Knowledge
from clampgraph.assembly.reading import Ask
from clampgraph.assembly.topology import Assembly, Connection, FittedItem, Generation, Position
from clampgraph.errors import DataError, UnknownNameError

__all__ = ["read_assemblies", "read_assembly"]

DEFAULT_EXPOSURE = 3.0
"""Years since an item was last known good, where a pack says nothing (common practice)."""


def read_assemblies(ask: Ask) -> dict[str, Mapping[str, Any]]:
    """Return the row of every assembly, by identifier."""
    return {row["assembly"]: row for row in ask("assembly/list-assemblies")}


def _generations(ask: Ask, assembly: str) -> tuple[Generation, ...]:
    return tuple(
        Generation(
            row["iri"], row["generation"], row["label"],
            row["builtFrom"], row["builtUntil"], row["serialFrom"], row["serialUntil"],
        )
        for row in ask("assembly/list-generations", assembly=assembly)
    )  # fmt: skip


def _items(ask: Ask, assembly: str) -> dict[str, tuple[FittedItem, ...]]:
    features: dict[str, dict[str, object]] = defaultdict(dict)
    for row in ask("assembly/list-item-features", assembly=assembly):
        features[row["mpn"]][row["feature"]] = row["value"]
    rows: dict[tuple[str, str], list[Mapping[str, Any]]] = defaultdict(list)
    for row in ask("assembly/list-fitted-items", assembly=assembly):
        rows[row["position"], row["mpn"]].append(row)
    found: dict[str, list[FittedItem]] = defaultdict(list)
    for (position, mpn), same in rows.items():
        row = same[0]
        generations = frozenset(r["generation"] for r in same if r["generation"] is not None)
        found[position].append(
            FittedItem(
                row["iri"], mpn, row["label"], row["maker"] or "", row["price"], row["currency"],
                generations, features[mpn],
            )
        )  # fmt: skip
    return {position: tuple(items) for position, items in found.items()}


def _positions(ask: Ask, assembly: str, generation: str, knowledge: Knowledge) -> dict[str, Position]:
    items = _items(ask, assembly)
    rows: dict[str, list[Mapping[str, Any]]] = defaultdict(list)
    for row in ask("assembly/list-positions", assembly=assembly):
        if row["generation"] in (None, generation):
            rows[row["position"]].append(row)
    found = {}
    for name, same in rows.items():
        row = same[0]
        if row["type"] not in knowledge.types:
            raise DataError(f"The position {name} of {assembly} has the type {row['type']}, which no pack describes.")
        fitted = tuple(i for i in items.get(name, ()) if not i.generations or generation in i.generations)
        actuated = frozenset(r["actuated"] for r in same if r["actuated"] is not None)
        found[name] = Position(
            row["iri"], name, row["designation"], knowledge.types[row["type"]], row["number"] or 1, actuated, fitted
        )
    return found


def read_assembly(ask: Ask, knowledge: Knowledge, assembly: str, generation: str | None = None) -> Assembly:
    """Read one generation of one assembly; the newest one if none is named.

    Raises
    ------
    UnknownNameError
        If there is no such assembly or generation; the nearest are told by the caller.
    DataError
        If the assembly lacks a generation, or a position has a type that no pack describes.
    """
    rows = ask("assembly/find-assembly", assembly=assembly)
    if not rows:
        raise UnknownNameError("assembly", assembly)
    row = rows[0]
    generations = _generations(ask, assembly)
    if not generations:
        raise DataError(f"The assembly {assembly} has no generation; describe at least one.")
    chosen = next((g for g in generations if g.id == generation), None) if generation else generations[-1]
    if chosen is None:
        raise UnknownNameError("generation", generation or "", [g.id for g in generations], f"of {assembly}")
    positions = _positions(ask, assembly, chosen.id, knowledge)
    driven = {phase for position in positions.values() for phase in position.actuated}
    phases = tuple(p for p in knowledge.phases if p in driven or p not in knowledge.optional_phases)
    connections = tuple(
        Connection(r["iri"], r["from"], r["fromPort"], r["to"], r["toPort"])
        for r in ask("assembly/list-connections", assembly=assembly)
        if r["from"] in positions and r["to"] in positions
    )
    return Assembly(
        row["iri"], assembly, row["label"], row["builder"] or "", row["taper"], row["actuator"], row["drive"] or "",
        row["exposure"] or DEFAULT_EXPOSURE, phases, generations, chosen, positions, connections,
    )  # fmt: skip
