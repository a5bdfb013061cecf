"""Which unit is it: exact probabilities over a finite set of candidates, from readings that may be wrong.

Each trait (something to look at) has a finite set of outcomes.
A candidate shows one outcome, or one of several with equal chance; a candidate about which a trait says nothing
could show any.
Whoever looks tells the true outcome with probability ``1 - e`` and any one of the others with ``e / (K - 1)``,
where ``e`` is the misreading rate of the trait and ``K`` its number of outcomes.
Readings are independent once the candidate is given, so the posterior is a product, exact and without iteration.
One more hypothesis stands for a unit that nobody described: all its outcomes are equally probable.
Because no likelihood is ever zero, one wrong reading lowers a candidate and never removes it.

The worth of looking at a trait is the mutual information between it and the candidates, in bits.

References
----------
- J. Pearl, Probabilistic Reasoning in Intelligent Systems, 1988, section 2.2 (from memory).
"""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["Trait", "information", "likelihoods", "outcome_chances", "posterior"]

_Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Trait:
    """Something to look at: what can be read, and which of it each candidate shows.

    `shown` leaves out the candidates about which nothing is known.
    """

    id: str
    outcomes: tuple[str, ...]
    misreading: float
    shown: Mapping[str, frozenset[str]]


def likelihoods(trait: Trait, candidates: Sequence[str]) -> _Array:
    """Return the probability of each outcome under each hypothesis.

    Parameters
    ----------
    trait
        With a misreading rate from 0 to 1 [-].
    candidates
        Names of the candidates.

    Returns
    -------
    ndarray
        Rows that sum to one [-], shape (candidates + 1, outcomes); the last row is the unit nobody described.

    Examples
    --------
    >>> hand = Trait("hand", ("left", "right"), 0.1, {"old": frozenset({"right"})})
    >>> likelihoods(hand, ["old"]).round(2).tolist()
    [[0.1, 0.9], [0.5, 0.5]]
    """
    count = len(trait.outcomes)
    rows = np.full((len(candidates) + 1, count), 1.0 / count)
    wrong = trait.misreading / max(count - 1, 1)
    right = 1.0 - trait.misreading if count > 1 else 1.0
    for row, candidate in enumerate(candidates):
        if shown := trait.shown.get(candidate):
            true = np.array([outcome in shown for outcome in trait.outcomes], dtype=float) / len(shown)
            rows[row] = right * true + wrong * (1.0 - true)
    return rows


def posterior(
    traits: Mapping[str, Trait], readings: Mapping[str, Collection[str]], candidates: Sequence[str], prior: _Array
) -> _Array:
    """Return the probability of each hypothesis given the readings.

    Parameters
    ----------
    traits
        By identifier.
    readings
        For each trait that was looked at, the outcomes that what was told may mean; one for a sharp reading.
    candidates
        Names of the candidates.
    prior
        Probability of each candidate and, last, of a unit nobody described [-].

    Returns
    -------
    ndarray
        Sums to one [-], shape (candidates + 1,).

    Examples
    --------
    >>> hand = Trait("hand", ("left", "right"), 0.1, {"old": frozenset({"right"}), "new": frozenset({"left"})})
    >>> posterior({"hand": hand}, {"hand": ["left"]}, ["old", "new"], np.array([0.5, 0.5, 0.0])).round(3).tolist()
    [0.1, 0.9, 0.0]
    """
    weight = prior.copy()
    for name, told in readings.items():
        trait = traits[name]
        columns = [trait.outcomes.index(outcome) for outcome in told]
        weight *= likelihoods(trait, candidates)[:, columns].sum(axis=1)
        weight /= weight.sum()
    return weight


def outcome_chances(trait: Trait, candidates: Sequence[str], belief: _Array) -> _Array:
    """Return how probable each outcome of a trait is before anyone looks [-], shape (outcomes,)."""
    chances: _Array = belief @ likelihoods(trait, candidates)
    return chances


def information(trait: Trait, candidates: Sequence[str], belief: _Array) -> float:
    """Return how much looking at a trait is expected to tell about the unit [bit].

    Parameters
    ----------
    trait
        What would be looked at.
    candidates
        Names of the candidates.
    belief
        Present probability of each hypothesis [-].

    Returns
    -------
    float
        Mutual information [bit], never negative.

    Examples
    --------
    >>> hand = Trait("hand", ("left", "right"), 0.0, {"old": frozenset({"right"}), "new": frozenset({"left"})})
    >>> information(hand, ["old", "new"], np.array([0.5, 0.5, 0.0]))
    1.0
    """
    rows = likelihoods(trait, candidates)
    joint = belief[:, None] * rows
    apart = belief[:, None] * (belief @ rows)[None, :]
    there = joint > 0.0
    return max(0.0, float((joint[there] * np.log2(joint[there] / apart[there])).sum()))
