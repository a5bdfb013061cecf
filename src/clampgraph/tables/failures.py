"""Failure modes and effects after IEC 60812: every failure mode of an assembly once, worst first, all derived.

Local effects are what the failure mode does at the ports of its own component;
end effects are the symptoms that it reaches, detection the checks and switches in which it shows.
The rating of occurrence and detection, and their product with the severity, stand there on request only.
"""

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from clampgraph.assembly import Assembly
from clampgraph.assembly.knowledge import Effect, FailureMode
from clampgraph.assembly.topology import Position
from clampgraph.diagnosis.network import Network
from clampgraph.tables.columns import Cell, Column, Row
from clampgraph.tables.facts import Facts, Scope
from clampgraph.tables.reach import reached, strongest_paths

__all__ = ["CAVEATS", "COLUMNS", "PRIORITY", "PRIORITY_CAVEATS", "rows"]

COLUMNS = (
    Column("assembly", "Assembly", "Identifier of the assembly.", key=True),
    Column(
        "severity", "Severity", "How bad the worst likely outcome is, 1 (nuisance) to 10 (people at risk).", "integer"
    ),
    Column("designation", "Designation", "Reference designation after IEC 81346-2."),
    Column("position", "Position", "Identifier of the position.", key=True),
    Column("item", "Item", "What sits at the position."),
    Column("function", "Function", "What the item is there to do."),
    Column("failure_mode", "Failure mode", "Identifier of the failure mode.", key=True),
    Column("label", "What fails", "The failure mode in words."),
    Column("mechanism", "Mechanism", "The process that leads to the failure."),
    Column("rate", "Rate", "Failures in a year of one item.", "number", "1/yr"),
    Column("local_effect", "Local effect", "What it does at the ports of its own component.", "list"),
    Column(
        "end_effect", "End effect", "Symptoms it can reach, with the probability when it is the only fault.", "list"
    ),
    Column("detection", "Detection", "Checks and switches that show it, the surest first.", "list"),
    Column("remedy", "Remedy", "What ends it, with working time.", "list"),
)

PRIORITY = (
    Column("occurrence", "Occurrence", "Rating of the probability to be present, 1 to 10.", "integer"),
    Column("detectability", "Detectability", "Rating of how hard it is to detect, 1 to 10.", "integer"),
    Column("priority_number", "Priority number", "Severity times occurrence times detectability.", "integer"),
)

CAVEATS = (
    "Severity stands first, and the rows are sorted by it: a rare failure that can hurt people is not outweighed.",
    "Behind a symptom stands the probability that it shows when this failure mode is the only fault.",
)
PRIORITY_CAVEATS = (
    "The priority number multiplies ranks, which are no amounts: 120 values in all, which hide unequal dangers.",
    "IEC 60812:2018 advises against it as the sole criterion (from memory).",
    "Occurrence: 10 from a probability of 0.5 over the exposure, one less for each halving (common practice).",
    "Detectability: 10 where nothing shows it, else 1, and 1 more for each tenth the surest check misses (the same).",
)

SURE_ENOUGH = 0.01
"""A check that shows a failure mode less often than this is not listed."""


@dataclass(frozen=True)
class _Place:
    """One assembly with its network and how strongly each failure mode shows at each node."""

    facts: Facts
    assembly: Assembly
    network: Network
    shows: Mapping[str, Mapping[str, float]]


def rows(facts: Facts, scope: Scope) -> Iterator[Row]:
    """Give one row for each failure mode."""
    for assembly in facts.assemblies(scope):
        network = facts.loaded.network(assembly)
        shows = strongest_paths(network, (node.id for node in network.of_kind("failure-mode")))
        place = _Place(facts, assembly, network, shows)
        modes = [(p, m) for p in assembly.positions.values() for m in p.type.modes.values()]
        for position, mode in sorted(modes, key=lambda pm: (-pm[1].severity, pm[0].designation, pm[1].id)):
            yield _row(place, position, mode, priority=scope.priority)


def _row(place: _Place, position: Position, mode: FailureMode, *, priority: bool) -> Row:
    node = f"{position.id}:{mode.id}"
    detection = _detection(place, node)
    cells: tuple[Cell, ...] = (
        place.assembly.id, mode.severity, position.designation, position.id, position.type.label,
        position.type.function or None, mode.id, mode.label, mode.mechanism, mode.rate,
        tuple(dict.fromkeys(_local(place.facts, effect) for effect in mode.effects)),
        _end_effects(place, node),
        tuple(text for text, _ in detection),
        tuple(f"{r.label} ({r.minutes:g} min)" for r in mode.remedies),
    )  # fmt: skip
    if priority:
        rating = _occurrence(mode.rate * place.assembly.exposure), _detectability([s for _, s in detection])
        cells = (*cells, *rating, mode.severity * rating[0] * rating[1])
    claims = tuple(effect.claim for effect in mode.effects)
    return Row(
        cells,
        place.facts.told_by(mode.iri, *claims),
        (mode.iri, position.iri, position.type.iri, *claims),
        (place.assembly.id, place.assembly.generation.id),
        (node,),
    )


def _local(facts: Facts, effect: Effect) -> str:
    p = effect.pattern
    return f"port {p.port}: {facts.word(p.quantity)}, {facts.word(p.guideword)} ({facts.word(p.phase)})"


def _end_effects(place: _Place, node: str) -> tuple[str, ...]:
    found: list[tuple[float, str]] = []
    within = reached(place.network, node)
    for symptom in place.network.of_kind("symptom"):
        if symptom.id not in within:
            continue
        tree = place.facts.tree(place.assembly, symptom.id, 1)
        alone = next((cut.alone for cut in tree.cut_sets if cut.events == (node,)), 0.0)
        found.append((alone, place.facts.knowledge.symptoms[symptom.symptom or ""].label))
    told = sorted(found, key=lambda f: (-f[0], f[1]))
    return tuple(f"{label} ({alone:.2g})" if alone else f"{label} (only with a further fault)" for alone, label in told)


def _detection(place: _Place, node: str) -> list[tuple[str, float]]:
    """Return the checks and switches that show a failure mode, the surest first."""
    found: dict[str, float] = {}
    for check in place.network.of_kind("check"):
        strength = place.shows[check.id].get(node, 0.0)
        if strength >= SURE_ENOUGH:
            name, _, at = (check.check or "").partition("@")
            known = place.facts.knowledge.checks[name]
            outcome = next(o.label for o in known.outcomes if o.id == check.id.rpartition("/")[2])
            found[f"{known.label}{f' ({at})' if at else ''}: {outcome}"] = strength
    for text, strength in _switches(place, node):
        found[text] = max(strength, found.get(text, 0.0))
    return sorted(found.items(), key=lambda f: (-f[1], f[0]))


def _switches(place: _Place, node: str) -> Iterator[tuple[str, float]]:
    """Give the sensors at other positions whose signal deviates."""
    own = place.network.by_id[node].position if node in place.network.by_id else None
    influence = place.facts.loaded.influence(place.assembly)
    for there, causes in place.shows.items():
        deviation = influence.nodes[there].deviation
        if deviation is None or deviation.quantity != "signal" or causes.get(node, 0.0) < SURE_ENOUGH:
            continue
        sensor = place.assembly.positions[deviation.position]
        if sensor.type.kind == "sensor" and sensor.id != own:
            guideword, phase = place.facts.word(deviation.guideword), place.facts.word(deviation.phase)
            yield f"{sensor.id} ({sensor.designation}): signal, {guideword} ({phase})", causes[node]


def _occurrence(expected: float) -> int:
    chance = -math.expm1(-expected)
    return max(1, min(10, 11 + math.floor(math.log2(chance)))) if chance > 0.0 else 1


def _detectability(strengths: list[float]) -> int:
    return min(10, 1 + math.floor(10.0 * (1.0 - max(strengths)) + 1e-9)) if strengths else 10
