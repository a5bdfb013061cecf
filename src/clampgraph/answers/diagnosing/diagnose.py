"""What explains it: from symptoms seen and not seen to causes, their upstream paths and the next check."""

from collections.abc import Iterator, Mapping

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
from clampgraph.answers.diagnosing.study import study_of
from clampgraph.answers.diagnosing.suspects import causes, conditions
from clampgraph.answers.library import Library
from clampgraph.answers.models import Value
from clampgraph.diagnosis.explanation import unexplained
from clampgraph.diagnosis.inference import FindingsPlan, posteriors
from clampgraph.diagnosis.joint import joint_explanations
from clampgraph.diagnosis.network import Network
from clampgraph.diagnosis.relevance import causes_of

__all__ = ["diagnose", "findings_of"]

SURE = 0.95
"""Likelihood from which on a measured value counts as clear of its limits (common practice)."""


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
    assembly = library.assembly(request.assembly, request.generation)
    check_ages(assembly, request.ages)
    study = study_of(library, assembly, request.ages)
    found = evidence_of(library, assembly, study.network, request)
    likeliest = posteriors(study.plan, found.nodes)
    belief = _weighed(study.plan, found) if found.weighed else likeliest
    case = Case(
        library, assembly, study, found.nodes, findings_of(study.network, found.nodes),
        belief, study.before if found.nodes else {}, request,
    )  # fmt: skip
    return _answer(case, found, likeliest)


def findings_of(network: Network, evidence: Mapping[str, bool]) -> tuple[str, ...]:
    """Return the symptoms and abnormal outcomes of checks that were found on."""
    return tuple(node for node, on in evidence.items() if on and network.by_id[node].kind in ("symptom", "check"))


def _weighed(compiled: FindingsPlan, found: Evidence) -> dict[str, float]:
    """Return the belief under measured values: the mixture over their outcomes by likelihood, which is exact."""
    rows, weights = zip(*found.mixture(), strict=True)
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
    joint = joint_explanations(case.study.narrow_plan(case.evidence), case.evidence, likeliest, explaining)
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
    together, each = unexplained(case.study.plan, case.network, case.evidence, case.findings)
    strange = [s for s in case.request.seen if f"symptom/{s}" in found.outside]
    told = {case.name(finding): chance for finding, chance in each.items()} | dict.fromkeys(strange, 1.0)
    return (
        1.0 if strange and not case.findings else together,
        tuple(UnexplainedOut(finding=name, probability=chance) for name, chance in told.items()),
    )
