"""What explains it: from symptoms seen and not seen to causes, their upstream paths and the next check."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from clampgraph.answers.cautions import cautions_for
from clampgraph.answers.diagnosis import (
    CauseOut,
    ConditionOut,
    DiagnoseRequest,
    DiagnosisAnswer,
    ExplanationOut,
    NextCheckOut,
    OutcomeOut,
    PathOut,
    PlanStepOut,
    PromoterOut,
    RemedyOut,
    UnexplainedOut,
)
from clampgraph.answers.evidence import evidence_of
from clampgraph.answers.library import Library
from clampgraph.answers.models import Value
from clampgraph.answers.telling import tell_path
from clampgraph.assembly import Assembly
from clampgraph.diagnosis.explanation import PathStep, influence_paths, joint_explanations, unexplained
from clampgraph.diagnosis.inference import Plan, posteriors
from clampgraph.diagnosis.network import Network, Node
from clampgraph.diagnosis.relevance import causes_of
from clampgraph.diagnosis.troubleshooting import CheckOption, CheckWorth, Repair, plan_of_work, worth_of_checks

__all__ = ["diagnose"]

LIKELIEST = 12


@dataclass(frozen=True)
class _Case:
    """One question with everything reasoned about it."""

    library: Library
    assembly: Assembly
    network: Network
    plan: Plan
    evidence: Mapping[str, bool]
    findings: tuple[str, ...]
    posterior: Mapping[str, float]
    prior: Mapping[str, float]
    request: DiagnoseRequest

    def wide_plan(self) -> Plan:
        """Return the plan that also holds the outcomes of every check."""
        checks = [node.id for node in self.network.of_kind("check")]
        return self.library.plan(self.assembly, self.network, self.request.ages, [*self.evidence, *checks])


def diagnose(library: Library, request: DiagnoseRequest) -> DiagnosisAnswer:
    """Answer which causes explain the findings, what lies behind them, and what to check next.

    Raises
    ------
    UnknownNameError
        If an assembly, generation, symptom, check, outcome, position or condition is not known.
    WrongCallError
        If a symptom is both seen and unseen, an age is negative, or a symptom cannot show at this assembly.
    ImpossibleEvidenceError
        If the findings cannot occur together.
    """
    assembly = library.assembly(request.assembly, request.generation)
    network = library.network(assembly, request.ages)
    evidence, warnings = evidence_of(library, assembly, network, request)
    plan = library.plan(assembly, network, request.ages, evidence)
    findings = tuple(n for n, on in evidence.items() if on and network.by_id[n].kind in ("symptom", "check"))
    case = _Case(
        library, assembly, network, plan, evidence, findings,
        posteriors(plan, evidence), posteriors(plan, {}) if evidence else {}, request,
    )  # fmt: skip
    return _answer(case, warnings)


def _answer(case: _Case, warnings: Sequence[str]) -> DiagnosisAnswer:
    request, upstream = case.request, causes_of(case.network, case.findings)
    modes = [node for node in case.network.of_kind("failure-mode") if node.id in case.posterior]
    explaining = [node.id for node in modes if node.id in upstream and node.id not in case.evidence]
    repairs = _repairs(case, explaining)
    worth = _worth(case, repairs)
    nothing, each = unexplained(case.plan, case.network, case.evidence, case.findings)
    return DiagnosisAnswer(
        assembly=case.assembly.id,
        generation=case.assembly.generation.id,
        seen=request.seen,
        unseen=request.unseen,
        readings=dict(request.readings),
        causes=_causes(case, modes, upstream),
        explanations=tuple(
            ExplanationOut(faults=e.faults, probability=e.probability)
            for e in joint_explanations(case.plan, case.evidence, case.posterior, explaining)
        ),
        unexplained=nothing,
        unexplained_findings=tuple(UnexplainedOut(finding=_name(case, f), probability=p) for f, p in each.items()),
        root_conditions=_conditions(case),
        next_checks=_next_checks(case, worth),
        plan=_plan(case, worth, repairs),
        cautions=cautions_for(case.library.knowledge, case.assembly),
        warnings=tuple(warnings),
    )


def _name(case: _Case, finding: str) -> str:
    node = case.network.by_id[finding]
    return node.symptom if node.symptom is not None else f"{node.check}={finding.rpartition('/')[2]}"


def _prior(case: _Case, node: str) -> float:
    return case.prior.get(node, case.posterior[node])


def _causes(case: _Case, modes: Iterable[Node], upstream: frozenset[str]) -> tuple[CauseOut, ...]:
    ranked = sorted(modes, key=lambda n: (-case.posterior[n.id], n.id))
    if not case.request.all:
        ranked = [n for n in ranked if not case.findings or n.id in upstream][:LIKELIEST]
    paths = influence_paths(case.network, case.findings)
    return tuple(_cause(case, node, paths, explains=node.id in upstream) for node in ranked)


def _cause(
    case: _Case, node: Node, paths: Mapping[str, Mapping[str, tuple[PathStep, ...]]], *, explains: bool
) -> CauseOut:
    position = case.assembly.positions[node.position or ""]
    mode = position.type.modes[node.failure_mode or ""]
    return CauseOut(
        node=node.id,
        position=position.id,
        designation=position.designation,
        failure_mode=mode.id,
        label=mode.label,
        kind=position.type.kind,
        mechanism=mode.mechanism,
        severity=mode.severity,
        probability=case.posterior[node.id],
        prior=_prior(case, node.id),
        explains=explains,
        promoted_by=_promoters(case, node),
        paths=tuple(_path(case, finding, found[node.id]) for finding, found in paths.items() if node.id in found),
        remedies=_remedies(case, node),
    )


def _path(case: _Case, finding: str, steps: Sequence[PathStep]) -> PathOut:
    told = tell_path(case.library, case.assembly, steps)
    strength = 1.0
    for step in steps:
        strength *= step.strength
    places = dict.fromkeys(step.position for step in told if step.position)
    name = _name(case, finding)
    return PathOut(symptom=name, strength=strength, summary=" → ".join([*places, name]), steps=told)


def _promoters(case: _Case, node: Node) -> tuple[PromoterOut, ...]:
    above = causes_of(case.network, [node.id])
    known = case.library.knowledge.conditions
    found = [
        PromoterOut(condition=c.id, label=c.label, probability=case.posterior[f"condition/{c.id}"])
        for c in known.values()
        if f"condition/{c.id}" in above
    ]
    return tuple(sorted(found, key=lambda p: (-p.probability, p.condition)))


def _remedies(case: _Case, node: Node) -> tuple[RemedyOut, ...]:
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


def _repairs(case: _Case, modes: Iterable[str]) -> tuple[Repair, ...]:
    """Gather the failure modes that one action ends; money is turned into minutes by the labour rate."""
    found: dict[str, tuple[float, list[str]]] = {}
    for mode in modes:
        node = case.network.by_id[mode]
        remedy = min(_remedies(case, node), key=lambda r: (r.time.value, r.label), default=None)
        if remedy is not None:
            price = remedy.price.value * 60.0 / case.request.labour_rate if remedy.price else 0.0
            key = f"{node.position}: {remedy.label}"
            found.setdefault(key, (remedy.time.value + price, []))[1].append(mode)
    return tuple(Repair(key, tuple(ends), minutes) for key, (minutes, ends) in found.items())


def _conditions(case: _Case) -> tuple[ConditionOut, ...]:
    found = []
    for condition in case.library.knowledge.conditions.values():
        node = f"condition/{condition.id}"
        if node in case.posterior:
            now, before = case.posterior[node], _prior(case, node)
            found.append(
                ConditionOut(
                    id=condition.id, iri=condition.iri, label=condition.label, probability=now, prior=before,
                    raised=now > before * (1.0 + 1e-9), advice=condition.advice,
                )
            )  # fmt: skip
    return tuple(sorted(found, key=lambda c: (-c.probability, c.id)))


def _worth(case: _Case, repairs: Sequence[Repair]) -> tuple[CheckWorth, ...]:
    outcomes: dict[str, dict[str, str]] = {}
    for node in case.network.of_kind("check"):
        outcomes.setdefault(node.check or "", {})[node.id.rpartition("/")[2]] = node.id
    known = case.library.knowledge.checks
    options = [
        CheckOption(name, known[name.partition("@")[0]].minutes, known[name.partition("@")[0]].lockout, nodes)
        for name, nodes in sorted(outcomes.items())
        if name not in case.request.readings
    ]
    return worth_of_checks(case.wide_plan(), case.evidence, options, repairs)


def _next_checks(case: _Case, worth: Iterable[CheckWorth]) -> tuple[NextCheckOut, ...]:
    ranked = sorted(worth, key=lambda w: (-w.gain_per_minute, w.option.id))
    return tuple(_next_check(case, w) for w in ranked)


def _next_check(case: _Case, worth: CheckWorth) -> NextCheckOut:
    name, _, place = worth.option.id.partition("@")
    check = case.library.knowledge.checks[name]
    labels = {o.id: o.label for o in check.outcomes} | {"normal": "nothing abnormal"}
    return NextCheckOut(
        check=worth.option.id,
        label=f"{check.label} ({place})" if place else check.label,
        how=check.how,
        tools=check.tools,
        minutes=worth.option.minutes,
        lockout=worth.option.lockout,
        gain=worth.gain,
        gain_per_minute=worth.gain_per_minute,
        saving=Value(value=worth.saving, unit="min"),
        worthwhile=worth.worthwhile,
        outcomes=tuple(
            OutcomeOut(
                outcome=outcome,
                label=labels[outcome],
                probability=chance,
                leading_cause=worth.leading[outcome][0] if outcome in worth.leading else None,
                leading_probability=worth.leading[outcome][1] if outcome in worth.leading else None,
            )
            for outcome, chance in worth.outcomes.items()
        ),
    )


def _plan(case: _Case, worth: Sequence[CheckWorth], repairs: Sequence[Repair]) -> tuple[PlanStepOut, ...]:
    steps = plan_of_work(worth, case.posterior, repairs)
    return tuple(
        PlanStepOut(
            step=number,
            action=step.action,
            target=step.target,
            text=_step_text(case, step.action, step.target),
            time=Value(value=step.minutes, unit="min"),
            probability=step.probability,
        )
        for number, step in enumerate(steps, 1)
    )


def _step_text(case: _Case, action: str, target: str) -> str:
    if action == "observe":
        return case.library.knowledge.checks[target.partition("@")[0]].label
    if action == "repair":
        return target
    return "verify clamping force, push-out, gap at rest, both switches and leaks before the spindle turns"
