"""Who is suspected: causes with their paths and remedies, and the conditions behind them."""

from collections.abc import Iterable, Iterator, Mapping, Sequence

from clampgraph.answers.diagnosing.case import Case
from clampgraph.answers.diagnosing.diagnosis import CauseOut, ConditionOut, FigureOut, PathOut, PromoterOut, RemedyOut
from clampgraph.answers.diagnosing.telling import tell_path
from clampgraph.answers.models import Value
from clampgraph.assembly.knowledge import ComponentType, FailureMode
from clampgraph.diagnosis.explanation import PathStep
from clampgraph.diagnosis.network import Node

__all__ = ["by_probability", "causes", "conditions", "remedies"]

LIKELIEST = 12
"""How many causes an answer lists unless all are asked for."""


def causes(case: Case, modes: Iterable[Node], upstream: frozenset[str]) -> tuple[CauseOut, ...]:
    """Rank failure modes by probability; the likeliest dozen that explain a finding, or all of them on request."""
    ranked = by_probability(modes, case.posterior)
    if not case.request.all:
        ranked = [n for n in ranked if not case.findings or n.id in upstream][:LIKELIEST]
    return tuple(_cause(case, node, explains=node.id in upstream) for node in ranked)


def by_probability(nodes: Iterable[Node], belief: Mapping[str, float]) -> list[Node]:
    """Sort nodes by probability, the likeliest first; twins by name."""
    return sorted(nodes, key=lambda node: (-belief[node.id], node.id))


def _cause(case: Case, node: Node, *, explains: bool) -> CauseOut:
    position = case.assembly.positions[node.position or ""]
    mode = position.type.modes[node.failure_mode or ""]
    return CauseOut(
        node=node.id,
        position=position.id,
        position_iri=position.iri,
        designation=position.designation,
        failure_mode=mode.id,
        iri=mode.iri,
        label=mode.label,
        kind=position.type.kind,
        mechanism=mode.mechanism,
        severity=mode.severity,
        probability=case.posterior[node.id],
        prior=case.prior(node.id),
        figure=_figure(case, position.type, mode),
        explains=explains,
        promoted_by=_promoters(case, node),
        paths=tuple(_paths(case, node)),
        remedies=remedies(case, node),
    )


def _figure(case: Case, type_: ComponentType, mode: FailureMode) -> FigureOut:
    """Tell the rate that was reckoned with."""
    learned = case.library.learned.rates.get((type_.id, mode.id))
    if learned is None:
        return FigureOut(origin="pack", cases=0, rate=Value(value=mode.rate, unit="1/yr"))
    return FigureOut(origin="cases", cases=learned.cases, rate=Value(value=learned.mean, unit="1/yr"))


def _paths(case: Case, node: Node) -> Iterator[PathOut]:
    for finding in case.findings:
        steps = case.study.paths.path(node.id, finding)
        if steps:
            yield _path(case, finding, steps)


def _path(case: Case, finding: str, steps: Sequence[PathStep]) -> PathOut:
    told = tell_path(case.library, case.assembly, steps)
    strength = 1.0
    for step in steps:
        strength *= step.strength
    places = dict.fromkeys(step.position for step in told if step.position)
    name = case.name(finding)
    return PathOut(symptom=name, strength=strength, summary=" → ".join([*places, name]), steps=told)


def _promoters(case: Case, node: Node) -> tuple[PromoterOut, ...]:
    above = case.study.above(node.id)
    known = case.library.knowledge.conditions
    found = [
        PromoterOut(condition=c.id, label=c.label, probability=case.posterior[f"condition/{c.id}"])
        for c in known.values()
        if f"condition/{c.id}" in above
    ]
    return tuple(sorted(found, key=lambda p: (-p.probability, p.condition)))


def remedies(case: Case, node: Node) -> tuple[RemedyOut, ...]:
    """List what ends a failure mode, with the fitted item's number and price where it takes a new one."""
    position = case.assembly.positions[node.position or ""]
    item = position.items[0] if position.items else None
    found = []
    for remedy in position.type.modes[node.failure_mode or ""].remedies:
        fits = item is not None and remedy.action.startswith("replace")
        price = item.price if item is not None and fits else None
        found.append(
            RemedyOut(
                action=remedy.action,
                label=remedy.label,
                time=Value(value=remedy.minutes, unit="min"),
                item=item.mpn if item is not None and fits else None,
                price=Value(value=price, unit=(item.currency if item else None) or "EUR")
                if price is not None
                else None,
            )
        )
    return tuple(found)


def conditions(case: Case) -> tuple[ConditionOut, ...]:
    """List the conditions of plant and surroundings, the most probable first."""
    found = []
    for condition in case.library.knowledge.conditions.values():
        node = f"condition/{condition.id}"
        if node in case.posterior:
            now, before = case.posterior[node], case.prior(node)
            found.append(
                ConditionOut(
                    id=condition.id, iri=condition.iri, label=condition.label, probability=now, prior=before,
                    raised=now > before * (1.0 + 1e-9), advice=condition.advice,
                )
            )  # fmt: skip
    return tuple(sorted(found, key=lambda c: (-c.probability, c.id)))
