"""Hold what was predicted on past cases against what was found.

Each case is diagnosed from its own findings with figures learned from earlier cases only, so that nothing is
predicted from itself; beside it stands the same with the pack's figures, so that one sees whether learning helped.
A prediction is the probability of one failure mode at one position; it came true if that was found.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from pydantic import Field

from clampgraph.answers.diagnosing.evidence import evidence_of
from clampgraph.answers.diagnosing.study import study_of
from clampgraph.answers.library import Library, nearest
from clampgraph.answers.models import Answer
from clampgraph.answers.recording.lessons import Classroom, standing
from clampgraph.cases.calibration import brier_score, reliability
from clampgraph.cases.records import Case
from clampgraph.cases.store import CaseStore
from clampgraph.diagnosis.inference import posteriors
from clampgraph.errors import ImpossibleEvidenceError, UnknownNameError, WrongCallError

__all__ = ["BinOut", "CalibrationAnswer", "calibration"]

LESSONS = 24
"""How often figures are learned anew along the history, at most: each time, every network is derived anew."""


class BinOut(Answer):
    """Predictions of about one size, and how often they came true."""

    low: float
    high: float
    count: int
    predicted: float = Field(description="Mean of the predictions.")
    found: float = Field(description="Share of them that came true.")
    bounds: tuple[float, float] = Field(description="Hold the true share with nine chances in ten.")


class CalibrationAnswer(Answer):
    """How well past cases were predicted."""

    basis: str = "figures learned from earlier cases only"
    cases: int = Field(description="Cases that were predicted.")
    passed_over: int = Field(description="Cases whose names are in no pack any more, or whose findings it rules out.")
    predictions: int = Field(description="One for each failure mode of each case.")
    brier: float | None = Field(description="Mean squared error of the predictions; 0 is perfect.")
    brier_pack: float | None = Field(description="The same with the pack's figures.")
    first_found: float | None = Field(description="Share of cases with a cause in which the likeliest one was found.")
    first_found_pack: float | None = Field(description="The same with the pack's figures.")
    bins: tuple[BinOut, ...] = Field(description="The predictions by size.")


_Judged = tuple[Mapping[str, float], frozenset[str]]
"""The chance of each failure mode, and which of them were found."""


@dataclass(frozen=True, slots=True)
class _Predicted:
    """What was predicted of one case, with learned figures and with the pack's, and what came true."""

    learned: Mapping[str, float]
    pack: Mapping[str, float]
    found: frozenset[str]


def calibration(library: Library, store: CaseStore, assembly: str | None = None) -> CalibrationAnswer:
    """Compare predictions on past cases with what was found.

    Parameters
    ----------
    library
        With the pack's own figures.
    store
        Where the cases are.
    assembly
        Judge the cases of one assembly only; figures are learned from all.

    Raises
    ------
    UnknownNameError
        If there is no such assembly; names the nearest.
    StoreError
        If the case store is down.
    """
    if assembly is not None and assembly not in library.assemblies:
        raise UnknownNameError("assembly", assembly, nearest(assembly, library.assemblies))
    history = store.cases()
    judged = [c for c in standing(history) if assembly in (None, c.told.assembly)]
    predicted = list(_predictions(library, store, history, judged))
    learned = [(p.learned, p.found) for p in predicted]
    pack = [(p.pack, p.found) for p in predicted]
    chances, outcomes = _pairs(learned)
    return CalibrationAnswer(
        cases=len(predicted),
        passed_over=len(judged) - len(predicted),
        predictions=len(chances),
        brier=brier_score(chances, outcomes) if chances else None,
        brier_pack=brier_score(*_pairs(pack)) if chances else None,
        first_found=_first_found(learned),
        first_found_pack=_first_found(pack),
        bins=tuple(
            BinOut(low=b.low, high=b.high, count=b.count, predicted=b.predicted, found=b.found, bounds=b.bounds)
            for b in reliability(chances, outcomes)
        ),
    )


def _pairs(predicted: Iterable[_Judged]) -> tuple[list[float], list[bool]]:
    """Return the predictions of all cases in a row, and which of them came true."""
    pairs = [(chance, mode in found) for chances, found in predicted for mode, chance in chances.items()]
    return [chance for chance, _ in pairs], [came_true for _, came_true in pairs]


def _first_found(predicted: Iterable[_Judged]) -> float | None:
    hits = [max(chances, key=lambda mode: chances[mode]) in found for chances, found in predicted if found]
    return sum(hits) / len(hits) if hits else None


def _predictions(
    library: Library, store: CaseStore, history: Sequence[Case], judged: Sequence[Case]
) -> Iterator[_Predicted]:
    """Predict each case from what was known before the block of cases that it stands in."""
    classroom, exposures = Classroom(library), store.exposures()
    block = -(-len(judged) // LESSONS) or 1
    for start in range(0, len(judged), block):
        first = judged[start].id
        known = standing(case for case in history if case.id < first)
        taught = library.taught(classroom.learn(known, [e for e in exposures if e.after < first]))
        for case in judged[start : start + block]:
            chain = _chain(history, case)
            if any(other.id in chain for other in known):
                rest = [other for other in known if other.id not in chain]
                own = library.taught(classroom.learn(rest, [e for e in exposures if e.after < first]))
            else:
                own = taught
            try:
                yield _Predicted(_chances(own, case), _chances(library, case), frozenset(case.told.found))
            except (UnknownNameError, WrongCallError, ImpossibleEvidenceError):
                continue


def _chain(history: Sequence[Case], case: Case) -> set[int]:
    """Return the numbers of the earlier records of the same job, which this one puts right."""
    by_id = {other.id: other for other in history}
    found: set[int] = set()
    corrects = case.told.corrects
    while corrects is not None and corrects in by_id:
        found.add(corrects)
        corrects = by_id[corrects].told.corrects
    return found


def _chances(library: Library, case: Case) -> dict[str, float]:
    """Return the probability of every failure mode under the findings of a case.

    A measured value counts as the outcome that it fits best.
    """
    told = case.told
    assembly = library.assembly(told.assembly, told.generation)
    study = study_of(library, assembly, told.findings.ages)
    found = evidence_of(library, assembly, study.network, told.findings)
    belief = posteriors(study.plan, found.nodes)
    return {node.id: belief[node.id] for node in study.modes}
