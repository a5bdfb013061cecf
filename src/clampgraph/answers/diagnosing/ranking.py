"""Causes of many findings in short: what `diagnose` tells first of each, to the last bit, and nothing else.

What is asked about one unit becomes rows of findings. Equal rows are solved once, however their findings were put
and whenever they came; all others are solved together, so that each circuit is run once for all that need it.
"""

from array import array
from collections import OrderedDict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby

import numpy as np
from numpy.typing import NDArray

from clampgraph.answers.diagnosing.diagnose import findings_of
from clampgraph.answers.diagnosing.diagnosis import DiagnoseRequest
from clampgraph.answers.diagnosing.evidence import Evidence, check_ages, evidence_of
from clampgraph.answers.diagnosing.study import Study, study_of
from clampgraph.answers.library import Library
from clampgraph.diagnosis.explanation import unexplained_many
from clampgraph.diagnosis.inference import FindingsPlan, posteriors
from clampgraph.errors import ClampgraphError

__all__ = ["NOBODY", "Rankings"]

KEPT = 100_000
"""Answers that are kept, those asked for last; one takes about 350 bytes."""

NOBODY = -1
"""Stands for no cause."""

_Ages = tuple[tuple[str, float], ...]
_Unit = tuple[str, str | None, _Ages]
"""An assembly, its generation, and the ages of its items by position."""

_Key = tuple[str, _Ages, bytes, tuple[tuple[bytes, float], ...]]
"""Generation and ages, the findings, and the findings that measured values leave open with their likelihoods."""


@dataclass(frozen=True, slots=True)
class _Asked:
    """A question by its number: what it comes down to, the findings in the order they were put, and what stays odd."""

    number: int
    key: _Key
    names: tuple[str, ...]
    strange: bool


class Rankings:
    """Ranks findings, and keeps the answers it gave last.

    Parameters
    ----------
    library
        What is loaded.
    top
        How many causes are told of each.
    kept
        How many answers are kept.
    """

    def __init__(self, library: Library, top: int, kept: int = KEPT) -> None:
        self.causes: dict[tuple[str, str], int] = {}
        """Position and failure mode of every cause of the units that were asked about, and its number."""
        self._library, self._bound = library, kept
        self._told = np.dtype([("cause", np.int32, (top,)), ("probability", "f8", (top,)), ("unexplained", "f8")])
        self._kept: OrderedDict[_Key, bytes] = OrderedDict()

    def rank(self, requests: Iterable[DiagnoseRequest]) -> tuple[NDArray[np.void], dict[int, ClampgraphError]]:
        """Rank the causes of many findings; requests about one unit that follow on each other are solved together.

        Returns
        -------
        tuple
            A row for each request, and what is wrong with some, by number.
            `cause` holds numbers from `causes`, likeliest first, `NOBODY` behind the last; `probability` is theirs;
            `unexplained` is the probability that no cause in the model acts on any finding.
        """
        parts, problems, count = [], dict[int, ClampgraphError](), 0
        for unit, family in groupby(enumerate(requests), lambda numbered: _unit(numbered[1])):
            asked, wrong, study = self._understood(unit, family)
            count += len(asked) + len(wrong)
            problems |= wrong
            if study is not None:
                told = self._answered(study, asked)
                problems |= _conflicts(study, [one for one, answer in zip(asked, told, strict=True) if not answer])
                parts.append((asked, told))
        rows = np.zeros(count, self._told)
        rows["cause"] = NOBODY
        for asked, told in parts:
            self._write(rows, asked, told)
        while len(self._kept) > self._bound:
            self._kept.popitem(last=False)
        return rows, problems

    def _understood(
        self, unit: _Unit, family: Iterable[tuple[int, DiagnoseRequest]]
    ) -> tuple[list[_Asked], dict[int, ClampgraphError], Study | None]:
        """Read what is asked about one unit, and say what is wrong with the rest."""
        name, generation, ages = unit
        asked, wrong, study = [], dict[int, ClampgraphError](), None
        try:
            assembly = self._library.assembly(name, generation)
            check_ages(assembly, dict(ages))
            study = study_of(self._library, assembly, dict(ages))
        except ClampgraphError as error:
            return [], dict.fromkeys((number for number, _ in family), error), None
        for number, request in family:
            try:
                found = evidence_of(self._library, assembly, study.network, request)
            except ClampgraphError as error:
                wrong[number] = error
                continue
            key = assembly.generation.iri, ages, _row(study.plan, found.nodes), tuple(_mixture(study.plan, found))
            strange = not findings_of(study.network, found.nodes) and any(
                f"symptom/{symptom}" in found.outside for symptom in request.seen
            )
            asked.append(_Asked(number, key, tuple(found.nodes), strange))
        return asked, wrong, study

    def _answered(self, study: Study, asked: Sequence[_Asked]) -> list[bytes]:
        """Return the row of each question; empty where the findings cannot occur together."""
        new = sorted({one.key for one in asked if one.key not in self._kept}, key=_weight)
        if new:
            self._kept.update(zip(new, self._solved(study, new), strict=True))
        for one in asked:
            self._kept.move_to_end(one.key)
        return [self._kept[one.key] for one in asked]

    def _solved(self, study: Study, keys: Sequence[_Key]) -> Iterator[bytes]:
        """Solve different questions about one unit together."""
        plan = study.plan
        place = {row: number for number, row in enumerate(dict.fromkeys(_rows(keys)))}
        evidence = _evidence(plan, list(place))
        result = plan.evaluate(evidence)
        own = np.array([place[row] for _, _, row, _ in keys], np.intp)
        belief, possible, evidence = result.posterior[own], result.possible[own], evidence[own]
        for number, (*_, mixture) in enumerate(keys):
            if mixture and possible[number]:
                # As `diagnose` weighs the outcomes of measured values.
                rows = [place[row] for row, _ in mixture]
                chance = result.probability[rows] * np.array([weight for _, weight in mixture])
                belief[number] = chance @ result.posterior[rows] / chance.sum()
        told = np.zeros(len(keys), self._told)
        told["cause"], told["probability"] = self._likeliest(study, evidence, belief)
        told["unexplained"][possible] = unexplained_many(
            plan, study.network, evidence[possible], result.probability[own][possible]
        )
        return (row.tobytes() if able else b"" for row, able in zip(told, possible.tolist(), strict=True))

    def _likeliest(
        self, study: Study, evidence: NDArray[np.int8], belief: NDArray[np.float64]
    ) -> tuple[NDArray[np.int32], NDArray[np.float64]]:
        """Return the likeliest causes of each row that can explain a finding of it; twins by name."""
        modes = sorted(study.modes, key=lambda node: node.id)
        pairs = [(node.position or "", node.failure_mode or "") for node in modes]
        number = np.array([self.causes.setdefault(pair, len(self.causes)) for pair in pairs], np.int32)
        findings = _findings(study)
        above = np.array([[mode.id in study.above(name) for mode in modes] for name in findings], np.float32)
        found = evidence[:, list(findings.values())] == 1
        able = (found.astype(np.float32) @ above > 0.0) | ~found.any(axis=1, keepdims=True)
        chance = np.where(able, belief[:, [study.plan.columns[mode.id] for mode in modes]], -1.0)
        top = self._told["cause"].shape[0]
        best = np.argsort(-chance, axis=1, kind="stable")[:, :top]
        chance = np.take_along_axis(chance, best, axis=1)
        missing = ((0, 0), (0, top - best.shape[1]))
        cause = np.pad(np.where(chance < 0.0, NOBODY, number[best]), missing, constant_values=NOBODY)
        return cause, np.pad(np.maximum(chance, 0.0), missing)

    def _write(self, rows: NDArray[np.void], asked: Sequence[_Asked], told: Sequence[bytes]) -> None:
        """Put answers in their places; symptoms that nothing here can cause are unexplained for certain."""
        able = [(one, answer) for one, answer in zip(asked, told, strict=True) if answer]
        rows[[one.number for one, _ in able]] = np.frombuffer(b"".join(answer for _, answer in able), self._told)
        nothing = [one.number for one, _ in able if one.strange]
        rows["unexplained"][nothing] = 1.0


def _unit(request: DiagnoseRequest) -> _Unit:
    return request.assembly, request.generation, tuple(sorted(request.ages.items()))


def _weight(key: _Key) -> tuple[int, bytes]:
    """Sort first what has most findings: the circuits that only such need are then given up before the others."""
    *_, row, _ = key
    return -len(row), row


def _row(plan: FindingsPlan, nodes: Mapping[str, bool]) -> bytes:
    """Write findings in short: twice the column of each, plus one where it is on."""
    return array("I", sorted(2 * plan.columns[name] + on for name, on in nodes.items())).tobytes()


def _evidence(plan: FindingsPlan, rows: Sequence[bytes]) -> NDArray[np.int8]:
    """Spread out findings that were written in short."""
    evidence = np.full((len(rows), len(plan.columns)), -1, np.int8)
    code = np.frombuffer(b"".join(rows), np.uintc)
    owner = np.repeat(np.arange(len(rows)), [len(row) // code.itemsize for row in rows])
    evidence[owner, code // 2] = code % 2
    return evidence


def _mixture(plan: FindingsPlan, found: Evidence) -> Iterator[tuple[bytes, float]]:
    """List the rows that measured values leave open, with their likelihoods."""
    return ((_row(plan, nodes), likelihood) for nodes, likelihood in found.mixture())


def _rows(keys: Iterable[_Key]) -> Iterator[bytes]:
    for _, _, row, mixture in keys:
        yield row
        yield from (other for other, _ in mixture)


def _findings(study: Study) -> dict[str, int]:
    """Return symptoms and outcomes of checks, with their columns."""
    return {node.id: study.plan.columns[node.id] for node in study.network if node.kind in ("symptom", "check")}


def _conflicts(study: Study, asked: Iterable[_Asked]) -> dict[int, ClampgraphError]:
    """Say which findings cannot occur together, in the order they were put."""
    said: dict[int, ClampgraphError] = {}
    for one in asked:
        *_, row, _ = one.key
        on = {code // 2: code % 2 == 1 for code in array("I", row)}
        try:
            posteriors(study.plan, {name: on[study.plan.columns[name]] for name in one.names})
        except ClampgraphError as error:
            said[one.number] = error
    return said
