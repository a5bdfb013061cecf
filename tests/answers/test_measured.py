"""Measured values in a diagnosis: likelihoods from the simulated healthy value and the error of the instrument."""

import pytest

from clampgraph.answers.diagnosing.diagnose import diagnose
from clampgraph.answers.diagnosing.diagnosis import DiagnoseRequest
from clampgraph.answers.diagnosing.measured import is_number, measured
from clampgraph.errors import QuantityError, WrongCallError

TANDEM = "brannoch-40t"


def ask(library, **found):
    return diagnose(library, DiagnoseRequest.model_validate({"assembly": TANDEM, "all": True, **found}))


def chances(answer):
    return {cause.node: cause.probability for cause in answer.causes}


@pytest.mark.parametrize(
    ("check", "text", "outcome"),
    [
        ("read-supply-pressure", "4.1bar", "low"),
        ("read-supply-pressure", "87 psi", "normal"),
        ("read-supply-pressure", "0.72 MPa", "high"),
        ("read-supply-pressure", "0.01bar", "absent"),
        ("time-return", "850ms", "slow"),
        ("time-return", "0.25s", "normal"),
        ("gauge-clamping-force", "7.2kN", "low"),
        ("gauge-clamping-force", "1900 lbf", "normal"),
        ("feeler-gap-at-rest", "0.05mm", "low"),
        ("dial-push-out", "0.2mm", "short"),
    ],
)
def test_a_value_fits_its_outcome(library, check, text, outcome):
    """The likeliest outcome is the one that the trade would read off; likelihoods add up to one."""
    found = measured(library, library.assembly(TANDEM), check, text)
    assert found.likeliest == outcome
    assert sum(found.likelihood.values()) == pytest.approx(1.0, abs=1e-12)


def test_a_value_on_the_limit_is_half_of_each(library):
    """At the border of a band, low and normal are equally likely."""
    healthy = measured(library, library.assembly(TANDEM), "gauge-clamping-force", "8kN").healthy.value
    found = measured(library, library.assembly(TANDEM), "gauge-clamping-force", f"{0.9 * healthy}kN")
    assert found.likelihood["low"] == pytest.approx(0.5, abs=1e-6)


def test_a_clear_value_equals_its_outcome(library):
    """Far from every limit the number says what the word says."""
    number = ask(library, seen=["slow-return"], readings={"time-return": "850ms"})
    word = ask(library, seen=["slow-return"], readings={"time-return": "slow"})
    assert chances(number) == pytest.approx(chances(word), abs=1e-9)
    assert number.warnings == ()


def test_belief_near_a_limit_is_the_mixture_by_virtual_evidence(library):
    """Bayes by hand: P(cause | v) from P(outcome) and the likelihoods, against the answer, to 1e-12."""
    value = "7.6kN"
    answer = ask(library, readings={"gauge-clamping-force": value})
    likelihood = answer.measurements[0].likelihood
    unit = library.assembly(TANDEM)
    network = library.network(unit)
    plan = library.plan(unit, network, {}, ["check/gauge-clamping-force/low"])
    low = "check/gauge-clamping-force/low"
    result = plan.evaluate(plan.evidence([{low: True}, {low: False}]))
    weights = result.probability * [likelihood["low"], likelihood["normal"]]
    expected = weights @ result.posterior / weights.sum()
    for node, chance in chances(answer).items():
        assert chance == pytest.approx(expected[plan.columns[node]], abs=1e-12)


def test_belief_moves_with_the_value(library):
    """The lower the measured force, the more probable a settled stack, without a jump at the limit."""
    values = [8.3, 7.9, 7.7, 7.5, 7.3, 7.0]
    found = [
        chances(ask(library, readings={"gauge-clamping-force": f"{v}kN"}))["disc-spring-stack:settled"] for v in values
    ]
    assert found == sorted(found)
    assert found[-1] > 10 * found[0]


def test_a_value_near_a_limit_says_so(library):
    """Explanations take the likeliest outcome; the warning tells it."""
    answer = ask(library, readings={"gauge-clamping-force": "7.5kN"})
    assert "near a limit" in answer.warnings[0]


def test_words_stay_words():
    """An outcome is no number, a value is one whatever its sign."""
    assert not is_number("low")
    assert all(is_number(text) for text in ("4.1bar", ".5mm", "-1mm", "1 9/16 in"))


@pytest.mark.parametrize(
    ("check", "text", "error", "words"),
    [
        ("listen-at-silencer", "3bar", WrongCallError, "gives no number"),
        ("read-supply-pressure", "4.1", QuantityError, "no unit"),
        ("read-supply-pressure", "4.1mm", QuantityError, "gauge pressure"),
        ("feeler-gap-at-rest", "-0.1mm", WrongCallError, "below zero"),
    ],
)
def test_a_reading_that_cannot_be_is_refused(library, check, text, error, words):
    """A check without a number, a missing unit, a wrong dimension and a negative length."""
    with pytest.raises(error, match=words):
        ask(library, readings={check: text})
