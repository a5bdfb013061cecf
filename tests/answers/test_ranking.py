"""Ranked in bulk: what a diagnosis tells first, to the last bit, however many are asked, and in whatever order."""

import random
import re

import pytest

from clampgraph.answers.diagnosing.diagnose import diagnose
from clampgraph.answers.diagnosing.diagnosis import DiagnoseRequest
from clampgraph.answers.diagnosing.ranking import NOBODY, Rankings
from clampgraph.diagnosis.inference import FindingsPlan

UNITS = ("brannoch-40t", "ulvedal-50b")


@pytest.fixture
def solved(monkeypatch):
    """Return a list of how many rows of findings were solved, batch by batch."""
    counts = []
    whole = FindingsPlan.evaluate
    monkeypatch.setattr(FindingsPlan, "evaluate", lambda self, rows: counts.append(len(rows)) or whole(self, rows))
    return counts


def drawn(library, count, seed):
    """Draw questions with symptoms, readings, ages and conditions, sorted by unit."""
    draw = random.Random(seed)  # noqa: S311  # no secret
    symptoms = {name: _named(library, name, "symptom") for name in UNITS}
    checks = {name: _named(library, name, "check") for name in UNITS}
    return sorted((_one(draw, symptoms, checks) for _ in range(count)), key=lambda request: request.assembly)


def _named(library, name, kind):
    nodes = library.network(library.assembly(name)).of_kind(kind)
    return [node.symptom if kind == "symptom" else (node.check, node.outcome) for node in nodes]


def _one(draw, symptoms, checks):
    name = draw.choice(UNITS)
    picked = draw.sample(symptoms[name], draw.randint(0, 4))
    at = draw.randint(0, len(picked))
    return DiagnoseRequest(
        assembly=name,
        seen=tuple(picked[:at]),
        unseen=tuple(picked[at:]),
        readings=dict(draw.sample(checks[name], draw.choice((0, 0, 1, 2)))),
        conditions={"wet-air": draw.random() < 0.5} if draw.random() < 0.2 else {},
    )


def told(rankings, row):
    """Return a row as pairs of cause and probability."""
    causes = list(rankings.causes)
    numbers = [number for number in row["cause"].tolist() if number != NOBODY]
    return list(zip([causes[number] for number in numbers], row["probability"].tolist(), strict=False))


def agrees(library, rankings, request, row, problem):
    """Hold a row against a diagnosis."""
    if problem is not None:
        with pytest.raises(type(problem), match=f"^{re.escape(str(problem))}$"):
            diagnose(library, request)
        return
    answer = diagnose(library, request)
    found = [((c.position, c.failure_mode), c.probability) for c in answer.causes[: len(row["cause"])]]
    assert (told(rankings, row), row["unexplained"]) == (found, answer.unexplained)


def test_bulk_says_what_a_diagnosis_says(library):
    """Causes, probabilities and what stays unexplained, to the last bit."""
    requests = drawn(library, 60, seed=3)
    rankings = Rankings(library, 5)
    rows, problems = rankings.rank(requests)
    for number, (request, row) in enumerate(zip(requests, rows, strict=True)):
        agrees(library, rankings, request, row, problems.get(number))


@pytest.mark.parametrize(
    "asked",
    [
        {},
        {"seen": ("slow-return",), "readings": {"read-supply-pressure": "4.1bar"}},
        {"readings": {"read-supply-pressure": "5.45bar"}, "ages": {"valve": 12.0}},
        {"seen": ("slow-return",), "unseen": ("slow-return",)},
        {"seen": ("slow-retrun",)},
        {"ages": {"nowhere": 3.0}},
        {"generation": "gen-99"},
    ],
)
def test_bulk_weighs_and_refuses_as_a_diagnosis_does(asked, library):
    """Nothing found, measured values near a limit, ages, and whatever is wrong."""
    request = DiagnoseRequest(assembly="brannoch-40t", **asked)
    rankings = Rankings(library, 12)
    rows, problems = rankings.rank([request])
    agrees(library, rankings, request, rows[0], problems.get(0))


def test_a_symptom_that_nothing_here_can_cause_is_unexplained(library):
    """For certain if it stands alone, and as a diagnosis weighs it otherwise."""
    known = {n.symptom for n in library.network(library.assembly("brannoch-40t")).of_kind("symptom")}
    strange = next(symptom for symptom in library.knowledge.symptoms if symptom not in known)
    requests = [DiagnoseRequest(assembly="brannoch-40t", seen=s) for s in [(strange,), (strange, "slow-return")]]
    rankings = Rankings(library, 3)
    rows, problems = rankings.rank(requests)
    assert not problems
    assert rows["unexplained"][0] == 1.0
    for request, row in zip(requests, rows, strict=True):
        agrees(library, rankings, request, row, None)


def test_equal_findings_are_solved_once(library, solved):
    """In whatever order they are put, in one call and in the next."""
    requests = [
        DiagnoseRequest(assembly="brannoch-40t", seen=seen, unseen=unseen)
        for seen in [("slow-return", "bang-at-release"), ("bang-at-release", "slow-return")]
        for unseen in [(), ("hiss-at-rest",)]
    ]
    rankings = Rankings(library, 3)
    first, _ = rankings.rank(requests)
    second, _ = rankings.rank(requests)
    assert solved == [2]
    assert first[:2].tobytes() == first[2:].tobytes() == second[2:].tobytes()


def test_what_was_asked_last_is_kept(library, solved):
    """Beyond the bound the answers that were not asked for longest go; later answers are the same."""
    symptoms = _named(library, "brannoch-40t", "symptom")[:6]
    requests = [DiagnoseRequest(assembly="brannoch-40t", seen=(symptom,)) for symptom in symptoms]
    rankings = Rankings(library, 3, kept=4)
    first, _ = rankings.rank(requests)
    assert rankings.rank(requests[2:])[0].tobytes() == first[2:].tobytes()
    assert rankings.rank(requests[:1])[0].tobytes() == first[:1].tobytes()
    assert rankings.rank(requests[3:])[0].tobytes() == first[3:].tobytes()
    assert solved == [6, 1]


def test_impossible_findings_are_told_in_the_order_they_were_put(library, monkeypatch):
    """The sentence is that of a diagnosis; what is possible beside them is answered."""
    whole = FindingsPlan.evaluate

    def never(self, rows):
        found = whole(self, rows)
        found.possible[(rows == 1).sum(axis=1) > 1] = False
        return found

    monkeypatch.setattr(FindingsPlan, "evaluate", never)
    pair = ("slow-return", "bang-at-release")
    requests = [DiagnoseRequest(assembly="brannoch-40t", seen=seen) for seen in [pair, pair[:1], pair[::-1]]]
    rankings = Rankings(library, 3)
    rows, problems = rankings.rank(requests)
    assert sorted(problems) == [0, 2]
    for number, (request, row) in enumerate(zip(requests, rows, strict=True)):
        agrees(library, rankings, request, row, problems.get(number))
