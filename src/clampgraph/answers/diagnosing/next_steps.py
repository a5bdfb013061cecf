"""What to do next: repairs, the worth of the checks still open, and the plan."""

from collections.abc import Iterable, Sequence

from clampgraph.answers.diagnosing.case import Case
from clampgraph.answers.diagnosing.diagnosis import NextCheckOut, OutcomeOut, PlanStepOut
from clampgraph.answers.diagnosing.suspects import remedies
from clampgraph.answers.models import Value
from clampgraph.diagnosis.troubleshooting import CheckWorth, Repair, plan_of_work, worth_of_checks

__all__ = ["next_checks", "plan", "repairs_of", "worth_of_open_checks"]


def repairs_of(case: Case, modes: Iterable[str]) -> tuple[Repair, ...]:
    """Gather the failure modes that one action ends; money is turned into minutes by the labour rate."""
    found: dict[str, tuple[float, list[str]]] = {}
    for mode in modes:
        node = case.network.by_id[mode]
        remedy = min(remedies(case, node), key=lambda r: (r.time.value, r.label), default=None)
        if remedy is not None:
            price = remedy.price.value * 60.0 / case.request.labour_rate if remedy.price else 0.0
            key = f"{node.position}: {remedy.label}"
            found.setdefault(key, (remedy.time.value + price, []))[1].append(mode)
    return tuple(Repair(key, tuple(ends), minutes) for key, (minutes, ends) in found.items())


def worth_of_open_checks(case: Case, repairs: Sequence[Repair]) -> tuple[CheckWorth, ...]:
    """Return what every check that was not made yet, and that can tell anything about the findings, would bring."""
    options = case.study.open_options(case.findings, case.evidence, case.request.readings)
    return worth_of_checks(case.study.plan, case.evidence, options, repairs)


def next_checks(case: Case, worth: Iterable[CheckWorth]) -> tuple[NextCheckOut, ...]:
    """Rank the checks by the information they bring for each minute."""
    ranked = sorted(worth, key=lambda w: (-w.gain_per_minute, w.option.id))
    return tuple(_next_check(case, w) for w in ranked)


def _next_check(case: Case, worth: CheckWorth) -> NextCheckOut:
    name, _, place = worth.option.id.partition("@")
    check = case.library.knowledge.checks[name]
    labels = {o.id: o.label for o in check.outcomes} | {"normal": "nothing abnormal"}
    return NextCheckOut(
        check=worth.option.id,
        iri=check.iri,
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


def plan(case: Case, worth: Sequence[CheckWorth], repairs: Sequence[Repair]) -> tuple[PlanStepOut, ...]:
    """Say what to do from here, step by step."""
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


def _step_text(case: Case, action: str, target: str) -> str:
    if action == "observe":
        return case.library.knowledge.checks[target.partition("@")[0]].label
    if action == "repair":
        return target
    return "verify clamping force, push-out, gap at rest, both switches and leaks before the spindle turns"
