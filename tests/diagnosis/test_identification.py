"""Identification is exact Bayes over finitely many hypotheses."""

from itertools import product

import numpy as np
import pytest

from clampgraph.diagnosis.identification import Trait, information, likelihoods, outcome_chances, posterior

NAMES = ("a", "b", "c")
HAND = Trait("hand", ("left", "right", "other"), 0.05, {"a": frozenset({"right"}), "b": frozenset({"left"})})
SIZE = Trait("size", ("30", "40"), 0.02, {"a": frozenset({"40"}), "b": frozenset({"40"}), "c": frozenset({"30", "40"})})
PRIOR = np.array([0.3, 0.3, 0.3, 0.1])


@pytest.mark.parametrize("trait", [HAND, SIZE, Trait("lone", ("x",), 0.1, {"a": frozenset({"x"})})])
def test_rows_are_distributions(trait):
    """Whatever a candidate shows, its outcomes sum to one."""
    assert likelihoods(trait, NAMES).sum(axis=1) == pytest.approx(1.0)


def test_posterior_by_enumeration():
    """The posterior equals the joint distribution summed by hand over true values and readings."""
    weights = []
    for name, chance in zip((*NAMES, None), PRIOR, strict=True):
        total = 0.0
        for hand, size in product(HAND.outcomes, SIZE.outcomes):
            truth = 1.0
            for trait, value in ((HAND, hand), (SIZE, size)):
                shown = trait.shown.get(name, frozenset(trait.outcomes))
                truth *= (value in shown) / len(shown)
            told = (0.95 if hand == "left" else 0.05 / 2) * (0.98 if size == "40" else 0.02)
            total += truth * told
        weights.append(chance * total)
    found = posterior({"hand": HAND, "size": SIZE}, {"hand": ["left"], "size": ["40"]}, NAMES, PRIOR)
    assert found == pytest.approx(np.array(weights) / sum(weights), abs=1e-12)


def test_no_reading_leaves_the_prior():
    """Who has looked at nothing knows nothing."""
    assert posterior({}, {}, NAMES, PRIOR) == pytest.approx(PRIOR)


def test_a_reading_of_every_outcome_says_nothing():
    """A reading so vague that it means anything moves no probability."""
    assert posterior({"hand": HAND}, {"hand": HAND.outcomes}, NAMES, PRIOR) == pytest.approx(PRIOR)


def test_information_is_the_expected_drop_of_entropy():
    """Mutual information equals the entropy now less the mean entropy after each outcome."""

    def entropy(p):
        p = p[p > 0]
        return -(p * np.log2(p)).sum()

    after = sum(
        chance * entropy(posterior({"hand": HAND}, {"hand": [outcome]}, NAMES, PRIOR))
        for outcome, chance in zip(HAND.outcomes, outcome_chances(HAND, NAMES, PRIOR), strict=True)
    )
    assert information(HAND, NAMES, PRIOR) == pytest.approx(entropy(PRIOR) - after, abs=1e-12)


def test_what_all_candidates_share_tells_them_not_apart():
    """A trait that everyone shows alike, without misreading and without a stranger, brings no information."""
    same = Trait("same", ("x", "y"), 0.0, dict.fromkeys(NAMES, frozenset({"x"})))
    assert information(same, NAMES, np.array([0.5, 0.25, 0.25, 0.0])) == pytest.approx(0.0, abs=1e-15)
