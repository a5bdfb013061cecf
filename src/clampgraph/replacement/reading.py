"""Read items, interfaces and work: rows of named queries in, frozen values out."""

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping
from typing import Any

from clampgraph.assembly import Knowledge
from clampgraph.errors import DataError, QuantityError
from clampgraph.replacement.facts import (
    Acceptance,
    Catalogue,
    Feature,
    Interface,
    Item,
    Verification,
    Wear,
    WorkStep,
)
from clampgraph.units import from_qudt

__all__ = ["Ask", "feature_of", "grouped", "read_catalogue"]

Ask = Callable[..., list[Mapping[str, Any]]]
"""Run a named query: ``ask(name, **bindings)`` gives its rows."""

Row = Mapping[str, Any]


def feature_of(row: Row, number: str = "number", unit: str = "unit", word: str = "word") -> Feature | None:
    """Return the value that a row states, or None if it states none.

    Raises
    ------
    DataError
        If a number comes with a unit that nobody knows here.
    """
    if row.get(number) is not None:
        try:
            symbol = from_qudt(row[unit])
        except QuantityError as error:
            raise DataError(
                f"The value {row[number]} of {row.get('iri', 'a claim')} cannot be read: {error}"
            ) from error
        return Feature(float(row[number]), symbol)
    text = row.get(word)
    return None if text is None else Feature(str(text))


def grouped(rows: Iterable[Row], key: str, value: str) -> dict[str, tuple[Any, ...]]:
    """Gather one column by another, without repetition, in the order of the rows."""
    found: dict[str, dict[Any, None]] = defaultdict(dict)
    for row in rows:
        if row[value] is not None:
            found[row[key]][row[value]] = None
    return {name: tuple(values) for name, values in found.items()}


def _items(ask: Ask) -> dict[str, Item]:
    features: dict[str, dict[str, Feature]] = defaultdict(dict)
    for row in ask("replacement/list-features"):
        value = feature_of(row)
        if value is not None:
            features[row["mpn"]][row["feature"]] = value
    contents: dict[str, dict[str, int]] = defaultdict(dict)
    for row in ask("replacement/list-contents"):
        contents[row["holder"]][row["mpn"]] = contents[row["holder"]].get(row["mpn"], 0) + (row["count"] or 1)
    replaced = grouped(ask("replacement/list-supersessions"), "mpn", "replaced")
    return {
        row["mpn"]: Item(
            row["mpn"], row["iri"], row["label"], row["kind"], row["type"], row["maker"] or "", row["price"],
            row["currency"] or "EUR", row["lead"], row["consumable"], features.get(row["mpn"], {}),
            contents.get(row["mpn"], {}), frozenset(replaced.get(row["mpn"], ())),
        )
        for row in ask("replacement/list-items")
    }  # fmt: skip


def _interfaces(ask: Ask) -> dict[str, tuple[Interface, ...]]:
    found: dict[str, list[Interface]] = defaultdict(list)
    for row in ask("replacement/list-interfaces"):
        found[row["type"]].append(
            Interface(
                row["iri"], row["type"], row["feature"], row["rule"], row["port"], feature_of(row),
                feature_of(row, "tolerance", "toleranceUnit", ""),
            )
        )  # fmt: skip
    return {name: tuple(these) for name, these in found.items()}


def _steps(ask: Ask, tools: Mapping[str, tuple[str, ...]]) -> tuple[WorkStep, ...]:
    rows = ask("replacement/list-work-steps")
    rules = grouped(rows, "iri", "rule")
    first = {row["iri"]: row for row in reversed(rows)}
    return tuple(
        WorkStep(
            row["step"], row["label"], row["stage"], float(row["minutes"]), tools.get(iri, ()),
            frozenset(rules.get(iri, ())), iri,
        )
        for iri, row in sorted(first.items(), key=lambda pair: (pair[1]["order"], pair[0]))
    )  # fmt: skip


def _verifications(ask: Ask, tools: Mapping[str, tuple[str, ...]]) -> tuple[Verification, ...]:
    accepted: dict[str, list[Acceptance]] = defaultdict(list)
    for row in ask("replacement/list-acceptances"):
        accepted[row["verification"]].append(
            Acceptance(
                row["label"], feature_of(row, "minimum", "minimumUnit", ""),
                feature_of(row, "maximum", "maximumUnit", ""), row["assembly"], row["iri"],
            )
        )  # fmt: skip
    rows = ask("replacement/list-verifications")
    types = grouped(rows, "verification", "type")
    first = {row["verification"]: row for row in reversed(rows)}
    return tuple(
        Verification(
            name, row["label"], float(row["minutes"]), row["check"], row["how"] or "", tools.get(row["iri"], ()),
            frozenset(types.get(name, ())), tuple(accepted.get(name, ())),
        )
        for name, row in sorted(first.items(), key=lambda pair: (pair[1]["order"], pair[0]))
    )  # fmt: skip


def read_catalogue(ask: Ask, knowledge: Knowledge) -> Catalogue:
    """Read what the loaded packs say of items, interfaces and work.

    Raises
    ------
    DataError
        If an item has a component type that no pack describes, or a value has an unknown unit.
    """
    items = _items(ask)
    for item in items.values():
        if item.type is not None and item.type not in knowledge.types:
            raise DataError(f"The item {item.mpn} has the type {item.type}, which no pack describes.")
    tools = grouped(ask("replacement/list-tools"), "iri", "tool")
    return Catalogue(
        items=items,
        interfaces=_interfaces(ask),
        matings=frozenset((r["feature"], r["value"], r["mate"]) for r in ask("replacement/list-matings")),
        steps=_steps(ask, tools),
        verifications=_verifications(ask, tools),
        wear={
            r["mechanism"]: Wear(float(r["shape"]), float(r["life"]), r["iri"])
            for r in ask("replacement/list-wear-patterns")
        },
        figures={r["name"]: (float(r["value"]), r["iri"]) for r in ask("replacement/list-cost-figures")},
    )
