"""Hold what was predicted against what was found.

The Brier score is the mean of (p - y)² over predictions p and outcomes y, 0 or 1: 0 is perfect, and whoever always
says one half scores 0.25.
A reliability diagram sorts predictions into bins by size and asks of each bin how often the prediction came true;
where predictions are calibrated, that is as often as was predicted.

References
----------
G. W. Brier, Verification of forecasts expressed in terms of probability, Monthly Weather Review 78, 1950
(in the form for two outcomes; from memory).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from clampgraph.cases.learning import LEVEL
from clampgraph.errors import WrongCallError

__all__ = ["Bin", "brier_score", "reliability"]


@dataclass(frozen=True, slots=True)
class Bin:
    """Predictions from `low` up to `high`: how many, their mean, how often they came true, and how sure that is.

    `bounds` hold the true frequency with probability `LEVEL` (Jeffreys interval: half a success and half a failure
    beforehand).
    """

    low: float
    high: float
    count: int
    predicted: float
    found: float
    bounds: tuple[float, float]


def brier_score(predicted: Sequence[float], found: Sequence[bool]) -> float:
    """Return the mean squared difference between predictions and outcomes.

    Raises
    ------
    WrongCallError
        If there is no prediction.

    Examples
    --------
    >>> round(brier_score([0.9, 0.2], [True, False]), 4)
    0.025
    """
    if not predicted:
        raise WrongCallError("There is nothing to score: record cases first.")
    return float(np.mean((np.asarray(predicted) - np.asarray(found, float)) ** 2))


def reliability(predicted: Sequence[float], found: Sequence[bool], bins: int = 10) -> tuple[Bin, ...]:
    """Return the bins that hold any prediction, lowest first; all are equally wide, the last one includes 1.

    Examples
    --------
    >>> [(b.count, b.found) for b in reliability([0.05, 0.95, 1.0], [False, True, False])]
    [(1, 0.0), (2, 0.5)]
    """
    from scipy.special import betaincinv  # noqa: PLC0415  # only this picture needs it

    chances, outcomes = np.asarray(predicted, float), np.asarray(found, float)
    place = np.minimum((chances * bins).astype(int), bins - 1)
    tail, told = (1.0 - LEVEL) / 2.0, []
    for number in np.unique(place):
        here = place == number
        count, hits = int(here.sum()), float(outcomes[here].sum())
        low, high = betaincinv(hits + 0.5, count - hits + 0.5, [tail, 1.0 - tail])
        told.append(
            Bin(
                float(number / bins), float((number + 1) / bins), count,
                float(chances[here].mean()), hits / count, (float(low), float(high)),
            )
        )  # fmt: skip
    return tuple(told)
