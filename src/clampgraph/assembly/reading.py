"""Read knowledge and assemblies: rows of named queries in, frozen values out."""

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping
from typing import Any, TypeVar

from clampgraph.assembly.knowledge import (
    Caution,
    Check,
    ComponentType,
    Condition,
    Effect,
    FailureMode,
    Indication,
    Knowledge,
    Outcome,
    Pass,
    Pattern,
    Port,
    Promotion,
    Quantity,
    Remedy,
    Sign,
    Symptom,
    Transform,
)
from clampgraph.errors import DataError

__all__ = ["Ask", "read_knowledge"]

Ask = Callable[..., list[Mapping[str, Any]]]
"""Run a named query: ``ask(name, **bindings)`` gives its rows."""

T = TypeVar("T")
_PER_YEAR = "http://qudt.org/vocab/unit/PER-YR"


def _grouped(
    rows: Iterable[Mapping[str, Any]], key: str, make: Callable[[Mapping[str, Any]], T]
) -> dict[str, tuple[T, ...]]:
    found: defaultdict[str, list[T]] = defaultdict(list)
    for row in rows:
        found[row[key]].append(make(row))
    return {k: tuple(v) for k, v in found.items()}


def _pattern(row: Mapping[str, Any]) -> Pattern:
    return Pattern(row.get("from") or row["port"], row["quantity"], row["guideword"], row["phase"])


def _pass(row: Mapping[str, Any]) -> Pass:
    return Pass(row["claim"], _pattern(row), row["to"], row["strength"], row["failed"], row["source"])


def _transform(row: Mapping[str, Any]) -> Transform:
    effect = Pattern(row["to"], row["toQuantity"], row["toGuideword"], row["toPhase"] or row["phase"])
    return Transform(row["claim"], _pattern(row), effect, row["strength"], row["source"])


def _effect(row: Mapping[str, Any]) -> Effect:
    return Effect(row["claim"], _pattern(row), row["strength"], row["source"], row["type"])


def _promotion(row: Mapping[str, Any]) -> Promotion:
    pattern = _pattern(row) if row["port"] is not None else None
    return Promotion(
        row["claim"], row["factor"], row["source"], pattern, row["condition"], row["feature"], row["value"]
    )


def _sign(row: Mapping[str, Any]) -> Sign:
    return Sign(row["claim"], row["type"], _pattern(row), row["strength"], row["source"])


def _indication(row: Mapping[str, Any]) -> Indication:
    pattern = _pattern(row) if row["port"] is not None else None
    return Indication(
        row["claim"], row["strength"], row["source"], row["type"] or row["modeType"], pattern, row["mode"]
    )


def _modes(ask: Ask, effects: Mapping[str, tuple[Effect, ...]]) -> dict[str, tuple[FailureMode, ...]]:
    promotions = _grouped(ask("knowledge/list-promotions"), "mode", _promotion)
    remedies = _grouped(ask("knowledge/list-remedies"), "mode", lambda r: Remedy(r["action"], r["label"], r["minutes"]))

    def make(row: Mapping[str, Any]) -> FailureMode:
        iri = row["iri"]
        if row["rateUnit"] != _PER_YEAR:
            raise DataError(f"The rate of {iri} must be given with qudt:hasUnit unit:PER-YR.")
        return FailureMode(
            iri, row["mode"], row["label"], row["mechanism"], row["rate"], row["severity"], row["source"],
            effects.get(iri, ()), promotions.get(iri, ()), remedies.get(iri, ()),
        )  # fmt: skip

    return _grouped(ask("knowledge/list-failure-modes"), "type", make)


def _ports(ask: Ask) -> dict[str, dict[str, Port]]:
    seen: dict[str, dict[str, tuple[str, dict[str, set[str]]]]] = defaultdict(dict)
    for row in ask("knowledge/list-ports"):
        _, roles = seen[row["type"]].setdefault(row["port"], (row["medium"], defaultdict(set)))
        roles[row["role"]].add(row["quantity"])
    return {
        kind: {
            name: Port(name, medium, frozenset(r["gives"]), frozenset(r["takes"]), frozenset(r["origin"]))
            for name, (medium, r) in ports.items()
        }
        for kind, ports in seen.items()
    }


def _types(ask: Ask, effects: Mapping[str, tuple[Effect, ...]]) -> dict[str, ComponentType]:
    rows = {row["type"]: row for row in ask("knowledge/list-types")}
    ports = _ports(ask)
    passes = _grouped(ask("knowledge/list-passes"), "type", _pass)
    transforms = _grouped(ask("knowledge/list-transforms"), "type", _transform)
    modes = _modes(ask, effects)

    def lineage(kind: str) -> tuple[str, ...]:
        chain: list[str] = []
        step: str | None = kind
        while step is not None:
            if step in chain:
                raise DataError(f"The component type {kind} specialises itself: {' → '.join([*chain, step])}.")
            chain.append(step)
            step = rows[step]["parent"] if step in rows else None
        return tuple(chain)

    found = {}
    for kind, row in rows.items():
        line = lineage(kind)
        found[kind] = ComponentType(
            row["iri"], kind, row["label"], row["kind"], row["letter"], row["function"] or "", line,
            {n: p for t in reversed(line) for n, p in ports.get(t, {}).items()},
            tuple(p for t in line for p in passes.get(t, ())),
            tuple(x for t in line for x in transforms.get(t, ())),
            {m.id: m for t in reversed(line) for m in modes.get(t, ())},
        )  # fmt: skip
    return found


def _checks(ask: Ask) -> dict[str, Check]:
    indications = _grouped(
        ({**row, "key": f"{row['check']}={row['outcome']}"} for row in ask("knowledge/list-indications")),
        "key",
        _indication,
    )
    outcomes = _grouped(
        ask("knowledge/list-outcomes"),
        "check",
        lambda r: Outcome(
            r["outcome"], r["label"], r["falseAlarm"], indications.get(f"{r['check']}={r['outcome']}", ())
        ),
    )
    tools = _grouped(ask("knowledge/list-check-tools"), "check", lambda r: str(r["tool"]))
    return {
        row["check"]: Check(
            row["iri"], row["check"], row["label"], row["minutes"], row["lockout"], row["how"] or "",
            bool(row["perPosition"]), tools.get(row["check"], ()), outcomes.get(row["check"], ()),
        )
        for row in ask("knowledge/list-checks")
    }  # fmt: skip


def read_knowledge(ask: Ask) -> Knowledge:
    """Read everything the loaded packs say of component types.

    Raises
    ------
    DataError
        If a rate has another unit than 1/yr, or a component type specialises itself.
    """
    effects = _grouped(ask("knowledge/list-effects"), "owner", _effect)
    signs = _grouped(ask("knowledge/list-signs"), "symptom", _sign)
    phases = ask("knowledge/list-phases")
    return Knowledge(
        phases=tuple(row["phase"] for row in phases),
        optional_phases=frozenset(row["phase"] for row in phases if row["optional"]),
        quantities={
            row["quantity"]: Quantity(
                row["quantity"], row["label"], bool(row["redundant"]), bool(row["lasting"]), row["shortfall"],
                bool(row["free"]),
            )
            for row in ask("knowledge/list-quantities")
        },
        types=_types(ask, effects),
        conditions={
            row["condition"]: Condition(
                row["iri"], row["condition"], row["label"], row["prior"], row["advice"] or "", row["source"],
                effects.get(row["iri"], ()),
            )
            for row in ask("knowledge/list-conditions")
        },
        symptoms={
            row["symptom"]: Symptom(
                row["iri"], row["symptom"], row["label"], row["leak"], signs.get(row["symptom"], ())
            )
            for row in ask("knowledge/list-symptoms")
        },
        checks=_checks(ask),
        cautions=tuple(
            Caution(
                row["caution"], row["label"], row["source"], row["always"] is not None, row["medium"], row["type"]
            )
            for row in ask("knowledge/list-cautions")
        ),
        words={row["word"]: row["label"] for row in ask("knowledge/list-words")},
    )  # fmt: skip
