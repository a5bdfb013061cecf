"""What people say at the machine finds the symptom."""

import pytest

from clampgraph.answers.symptoms import GOOD_ENOUGH, symptoms


def test_no_text(library):
    """Without a text all symptoms are listed by name, without a score."""
    found = symptoms(library).symptoms
    assert [s.id for s in found] == sorted(library.knowledge.symptoms)
    assert all(s.score is None and s.alternatives for s in found)
    assert symptoms(library, "  \t ") == symptoms(library)


@pytest.mark.parametrize("nonsense", ["qwzx", "zzzz", "!!!", "xylophone", "quarterly tax return of the vicarage" * 3])
def test_nonsense(library, nonsense):
    """Nonsense finds nothing, or nothing that sounds sure."""
    assert all(s.score < 80.0 for s in symptoms(library, nonsense).symptoms)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("bang", {"bang-at-release"}),
        ("BANG", {"bang-at-release"}),
        ("pop", {"bang-at-release"}),
        ("bnag", {"bang-at-release"}),
        ("sticky", {"slow-release"}),
        ("hangs", {"partial-release", "no-return", "slow-return", "slow-release"}),
        ("drops the tool", {"tool-pull-out"}),
        ("drops teh tool", {"tool-pull-out"}),
        ("won't let go", {"no-release"}),
        ("wont lett go", {"no-release"}),
        ("hisss at rest", {"hiss-at-rest"}),
        ("slow retrun", {"slow-return"}),
        ("spits water", {"water-or-oil-at-exhaust"}),
        ("release-not-confirmed", {"release-not-confirmed"}),
        ("unclamp time out", {"release-not-confirmed"}),
        ("scraping", {"rubbing-while-running"}),
    ],
)
def test_words_of_the_trade(library, text, expected):
    """The symptom meant stands first, whatever the spelling."""
    found = symptoms(library, text).symptoms
    assert found[0].id in expected
    scores = [s.score for s in found]
    assert scores == sorted(scores, reverse=True)
    assert all(GOOD_ENOUGH - 0.1 <= score <= 100.0 for score in scores)


def test_every_label_finds_its_symptom(library):
    """Each preferred and alternative label puts its own symptom first, or ties with it."""
    for symptom in symptoms(library).symptoms:
        for label in (symptom.label, *symptom.alternatives, symptom.id):
            found = symptoms(library, label).symptoms
            best = {s.id for s in found if s.score == found[0].score}
            assert symptom.id in best, label
