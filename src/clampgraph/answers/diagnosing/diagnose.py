"""What explains it: from symptoms seen and not seen to causes, their upstream paths and the next check."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import product
from typing import Any

import numpy as np

from clampgraph.answers.cautions import cautions_for
from clampgraph.answers.diagnosing.case import Case
from clampgraph.answers.diagnosing.diagnosis import (
    DiagnoseRequest,
    DiagnosisAnswer,
    ExplanationOut,
    MeasurementOut,
    UnexplainedOut,
)
from clampgraph.answers.diagnosing.evidence import Evidence, check_ages, evidence_of
from clampgraph.answers.diagnosing.next_steps import next_checks, plan, repairs_of, worth_of_open_checks
from clampgraph.answers.diagnosing.suspects import causes, conditions
from clampgraph.answers.library import Library
from clampgraph.answers.models import Value
from clampgraph.assembly import Assembly
from clampgraph.diagnosis.explanation import joint_explanations, unexplained
from clampgraph.diagnosis.inference import Plan, posteriors
from clampgraph.diagnosis.network import Network
from clampgraph.diagnosis.relevance import causes_of
from clampgraph.errors import ClampgraphError

__all__ = ["diagnose", "diagnose_many"]

SURE = 0.95
"""Likelihood from which on a measured value counts as clear of its limits (common practice)."""


@dataclass(frozen=True)
class _Question:
    """A request that was understood: its assembly with its network, what was found there, and the compiled network."""

    library: Library
    request: DiagnoseRequest
    assembly: Assembly
    network: Network
    found: Evidence

    @property
    def kin(self) -> tuple[Any, ...]:
        """What it shares with the questions that one compiled network answers."""
        ages = tuple(sorted(self.request.ages.items()))
        return self.assembly.generation.iri, ages, frozenset(self.found.nodes)

    def plan(self) -> Plan:
        """Return the compiled network."""
        return self.library.plan(self.assembly, self.network, self.request.ages, self.found.nodes)


def diagnose(library: Library, request: DiagnoseRequest) -> DiagnosisAnswer:
    """Answer which causes explain the findings, what lies behind them, and what to check next.

    Raises
    ------
    UnknownNameError
        If an assembly, generation, symptom, check, outcome, position or condition is not known.
    WrongCallError
        If a symptom is both seen and unseen, or a check does not apply to the assembly.
    QuantityError
        If an age is negative or not a number.
    ImpossibleEvidenceError
        If the findings cannot occur together.
    """
    question = _understood(library, request, {})
    plan = question.plan()
    return _told(question, plan, *_beliefs(plan, [question.found.nodes]))


def diagnose_many(
    library: Library, requests: Sequence[DiagnoseRequest]
) -> tuple[DiagnosisAnswer | ClampgraphError, ...]:
    """Answer many diagnoses, each as `diagnose` would, to the last digit; what one of them raises stands in its place.

    Those about the same findings at one assembly, generation and ages, present or absent, are solved as one batch.
    """
    answers: dict[int, DiagnosisAnswer | ClampgraphError] = {}
    kin: dict[tuple[Any, ...], list[tuple[int, _Question]]] = {}
    networks: dict[tuple[Any, ...], Network] = {}
    for index, request in enumerate(requests):
        try:
            question = _understood(library, request, networks)
            kin.setdefault(question.kin, []).append((index, question))
        except ClampgraphError as error:
            answers[index] = error
    for family in kin.values():
        answers |= _answered(family)
    return tuple(answers[index] for index in range(len(requests)))


def _answered(family: Sequence[tuple[int, _Question]]) -> dict[int, DiagnosisAnswer | ClampgraphError]:
    """Answer the questions that one compiled network answers."""
    found: dict[int, DiagnosisAnswer | ClampgraphError] = {}
    try:
        plan = family[0][1].plan()
    except ClampgraphError as error:
        return {index: error for index, _ in family}
    *beliefs, before = _beliefs(plan, [question.found.nodes for _, question in family])
    for (index, question), belief in zip(family, beliefs, strict=True):
        try:
            found[index] = _told(question, plan, belief, before)
        except ClampgraphError as error:
            found[index] = error
    return found


def _understood(library: Library, request: DiagnoseRequest, networks: dict[tuple[Any, ...], Network]) -> _Question:
    assembly = library.assembly(request.assembly, request.generation)
    check_ages(assembly, request.ages)
    key = assembly.generation.iri, tuple(sorted(request.ages.items()))
    if key not in networks:
        networks[key] = library.network(assembly, request.ages)
    network = networks[key]
    return _Question(library, request, assembly, network, evidence_of(library, assembly, network, request))


def _beliefs(plan: Plan, findings: Sequence[Mapping[str, bool]]) -> list[dict[str, float] | None]:
    """Return the posteriors under each set of findings in one batch, None where they cannot be; last, those before."""
    result = plan.evaluate(plan.evidence([*findings, {}]))
    return [
        dict(zip(plan.node_ids, row, strict=True)) if possible else None
        for row, possible in zip(result.posterior.tolist(), result.possible.tolist(), strict=True)
    ]


def _told(
    question: _Question, plan: Plan, likeliest: dict[str, float] | None, before: dict[str, float] | None
) -> DiagnosisAnswer:
    network, found = question.network, question.found
    if likeliest is None:
        likeliest = posteriors(plan, found.nodes)  # raises, and names the smallest conflict
    findings = tuple(n for n, on in found.nodes.items() if on and network.by_id[n].kind in ("symptom", "check"))
    case = Case(
        question.library, question.assembly, network, plan, found.nodes, findings,
        _weighed(plan, found) if found.weighed else likeliest,
        before or {} if found.nodes else {}, question.request,
    )  # fmt: skip
    return _answer(case, found, likeliest)


def _weighed(compiled: Plan, found: Evidence) -> dict[str, float]:
    """Return the belief under measured values: the mixture over their outcomes by likelihood, which is exact."""
    rows, weights = [], []
    for combination in product(*found.weighed):
        states, likelihoods = zip(*combination, strict=True)
        rows.append({**found.nodes, **{node: state for each in states for node, state in each.items()}})
        weights.append(float(np.prod(likelihoods)))
    result = compiled.evaluate(compiled.evidence(rows))
    chance = result.probability * np.array(weights)
    belief = chance @ result.posterior / chance.sum()
    return dict(zip(compiled.node_ids, belief.tolist(), strict=True))


def _answer(case: Case, found: Evidence, likeliest: Mapping[str, float]) -> DiagnosisAnswer:
    request, upstream = case.request, causes_of(case.network, case.findings)
    modes = [node for node in case.network.of_kind("failure-mode") if node.id in case.posterior]
    explaining = [node.id for node in modes if node.id in upstream]
    repairs = repairs_of(case, explaining)
    worth = worth_of_open_checks(case, repairs)
    joint = joint_explanations(case.plan, case.evidence, likeliest, explaining)
    nothing, each = _unexplained(case, found)
    return DiagnosisAnswer(
        assembly=case.assembly.id,
        generation=case.assembly.generation.id,
        seen=request.seen,
        unseen=request.unseen,
        readings=dict(request.readings),
        measurements=tuple(
            MeasurementOut(
                check=m.check,
                value=Value(value=m.value.value, unit=m.value.unit),
                healthy=Value(value=m.healthy.value, unit=m.healthy.unit),
                likelihood=dict(m.likelihood),
                likeliest=m.likeliest,
            )
            for m in found.measurements
        ),
        causes=causes(case, modes, upstream),
        explanations=tuple(ExplanationOut(faults=e.faults, probability=e.probability) for e in joint),
        unexplained=nothing,
        unexplained_findings=each,
        root_conditions=conditions(case),
        next_checks=next_checks(case, worth),
        plan=plan(case, worth, repairs),
        cautions=cautions_for(case.library.knowledge, case.assembly),
        warnings=tuple(_warnings(case, found)),
    )


def _warnings(case: Case, found: Evidence) -> Iterator[str]:
    for node in found.outside:
        yield f"Nothing in {case.assembly.id} leads to or follows from {node.partition('/')[2]}; it changes no cause."
    for m in found.measurements:
        if m.likelihood[m.likeliest] < SURE:
            yield (
                f"{m.check} = {m.value} lies near a limit: the causes weigh every outcome, "
                f"explanations and next checks take it as {m.likeliest}."
            )


def _unexplained(case: Case, found: Evidence) -> tuple[float, tuple[UnexplainedOut, ...]]:
    """Say how much stays unexplained; a symptom that nothing here can cause is unexplained for certain."""
    together, each = unexplained(case.plan, case.network, case.evidence, case.findings)
    strange = [s for s in case.request.seen if f"symptom/{s}" in found.outside]
    told = {case.name(finding): chance for finding, chance in each.items()} | dict.fromkeys(strange, 1.0)
    return (
        1.0 if strange and not case.findings else together,
        tuple(UnexplainedOut(finding=name, probability=chance) for name, chance in told.items()),
    )
