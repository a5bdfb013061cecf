"""Learn from closed jobs: rates of failure modes, and how reliably a deviation shows as its symptom.

Every figure starts at what the pack says and moves with what was found.
A figure without data stays the pack's, digit for digit.

Rates
-----
A failure mode of a component type is found N times in E unit-years (one position of the type, in service for one
year, is one unit-year).
N is Poisson with mean λE, and the pack's rate r is taken as if it had been observed for `PACK_YEARS` unit-years:
λ ~ Gamma(rW, W) beforehand, λ ~ Gamma(rW + N, W + E) afterwards, whose mean (rW + N) / (W + E) is the learned rate.
All assemblies with the type count together.

E must be stated by somebody: no record of jobs tells how many machines ran without one.
So a site states the machine-years behind its cases, for each assembly; the positions of the assembly give the
unit-years of every type in it, also of those that never failed.

Where nobody stated it, only ratios can be learned.
The N faults found in an assembly then count as found in E = N / S machine-years, the time in which the pack
expects as many (S is the pack's rate of all failure modes of the assembly together).
With E put in, the mean above is S (rW + N_i) / (SW + N): S times the mean of a Dirichlet over the modes, the exact
posterior of their shares when the total tells nothing.
Such a rate has no interval, for its size is assumed.

Strengths
---------
Of a path from a fault to a symptom only the two ends are observed: the fault that was found, and whether the symptom
was seen or looked for and absent.
So not every link of a path can be learned.
What can is the last one, how reliably a deviation shows as the symptom, w, provided that the faults that were found
lead to the symptom through one last link only; other cases say nothing of it.
Then the symptom shows with probability `high` if the last link acted and with `low` if it did not, both computed
from the network given the faults that were found; `low` is more than 0 because the deviation may have been absent,
or the symptom reported for another reason.
A case is a trial of w with an imperfect observer.

With w ~ Beta(a, b) beforehand (mean: the pack's strength, a + b = `PACK_LOOKS`), the posterior is exactly a mixture
of Beta(a + j, b + n - j) over j, the number of the n trials in which the link acted, and its weights follow from one
case to the next.
With `low` 0 and `high` 1 one weight is left, and this is the Beta-Binomial.
The strength belongs to the claim, so every assembly and every fault that shows through it counts together.

What this rests on
------------------
A symptom that nobody mentioned is no data: it was neither seen nor looked for.
Jobs are opened because something was seen, so a fault that shows in nothing is found too rarely, and strengths are
those among jobs that were opened.
`PACK_YEARS` and `PACK_LOOKS` say how far a figure of common practice is trusted; they are themselves common practice.

References
----------
A. Gelman and others, Bayesian Data Analysis, third edition, 2013, sections 2.4 and 2.6 (from memory).
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

__all__ = ["LEVEL", "PACK_LOOKS", "PACK_YEARS", "Learned", "Rate", "Strength", "Trial"]

PACK_YEARS = 50.0
"""Unit-years that the pack's rate of a failure mode is worth [yr] (common practice)."""

PACK_LOOKS = 10.0
"""Trials that the pack's strength of a link is worth (common practice)."""

LEVEL = 0.9
"""Probability that an interval holds the true figure."""

FAINT = 1e-22
"""Share of the largest weight below which a weight changes no digit of the result."""


@dataclass(frozen=True, slots=True)
class Rate:
    """The rate of a failure mode of a component type, learned.

    Parameters
    ----------
    pack
        The pack's rate [1/yr], from 0 up.
    cases
        How often the failure mode was found.
    years
        The unit-years in which it was [yr], from 0 up.
    stated
        Whether all of these years were stated, and none assumed.

    Examples
    --------
    >>> Rate(pack=0.02, cases=3, years=50.0).mean
    0.04
    """

    pack: float
    cases: int
    years: float
    stated: bool = True

    @property
    def mean(self) -> float:
        """The learned rate [1/yr]; the pack's own while there are no years."""
        if not self.years:
            return self.pack
        return (self.pack * PACK_YEARS + self.cases) / (PACK_YEARS + self.years)

    def interval(self, level: float = LEVEL) -> tuple[float, float] | None:
        """Return the bounds that leave half of the rest on either side [1/yr]; None if years were assumed."""
        from scipy.special import gammaincinv  # noqa: PLC0415  # a diagnosis needs no interval

        shape = self.pack * PACK_YEARS + self.cases
        if not (self.stated and shape):
            return None
        tail = (1.0 - level) / 2.0
        low, high = gammaincinv(shape, [tail, 1.0 - tail]) / (PACK_YEARS + self.years)
        return float(low), float(high)


@dataclass(frozen=True, slots=True)
class Trial:
    """One case that tells of a last link: how probable the symptom was if the link acted or not, and what was seen."""

    low: float
    high: float
    seen: bool


@dataclass(frozen=True)
class Strength:
    """How reliably a deviation shows as a symptom, learned.

    Parameters
    ----------
    pack
        The pack's strength, above 0 and below 1: what is certain is not learned.
    trials
        The cases that tell of it.

    Examples
    --------
    >>> Strength(0.5, (Trial(0.0, 1.0, seen=True),) * 10).mean
    0.75
    """

    pack: float
    trials: tuple[Trial, ...]

    @property
    def seen(self) -> int:
        """In how many of its trials the symptom was seen."""
        return sum(trial.seen for trial in self.trials)

    @cached_property
    def acted(self) -> tuple[NDArray[np.intp], NDArray[np.float64]]:
        """In how many of its trials the link acted, and how probable each of these numbers is."""
        a, b = self.pack * PACK_LOOKS, (1.0 - self.pack) * PACK_LOOKS
        weights, first = np.ones(1), 0
        for number, trial in enumerate(self.trials):
            acted, idle = (trial.high, trial.low) if trial.seen else (1.0 - trial.high, 1.0 - trial.low)
            times = first + np.arange(len(weights))
            grown = np.zeros(len(weights) + 1)
            grown[1:] = weights * acted * (a + times)
            grown[:-1] += weights * idle * (b + number - times)
            kept = np.flatnonzero(grown > grown.max() * FAINT)
            weights = grown[kept[0] : kept[-1] + 1] / grown.sum()
            first += int(kept[0])
        return first + np.arange(len(weights)), weights

    @cached_property
    def mean(self) -> float:
        """The learned strength; the pack's own while there are no trials."""
        if not self.trials:
            return self.pack
        times, weights = self.acted
        return float(self.pack * PACK_LOOKS + weights @ times) / (PACK_LOOKS + len(self.trials))

    def interval(self, level: float = LEVEL) -> tuple[float, float]:
        """Return the bounds that leave half of the rest on either side."""
        from scipy.optimize import brentq  # noqa: PLC0415  # a diagnosis needs no interval
        from scipy.special import betainc  # noqa: PLC0415  # the same

        times, weights = self.acted
        a = self.pack * PACK_LOOKS + times
        b = (1.0 - self.pack) * PACK_LOOKS + len(self.trials) - times
        tail = (1.0 - level) / 2.0
        low, high = (
            brentq(lambda w, below=below: float(weights @ betainc(a, b, w)) - below, 0.0, 1.0)
            for below in (tail, 1.0 - tail)
        )
        return low, high


@dataclass(frozen=True)
class Learned:
    """Everything learned: rates by component type and failure mode, strengths by the claim of the last link.

    `passed_over` counts the cases whose assembly, position or failure mode is in no pack any more.
    """

    rates: Mapping[tuple[str, str], Rate] = field(default_factory=dict)
    strengths: Mapping[str, Strength] = field(default_factory=dict)
    passed_over: int = 0

    def __bool__(self) -> bool:
        """Say whether any figure differs from the pack's."""
        return bool(self.rates or self.strengths)

    def rate(self, type_id: str, mode: str, pack: float) -> float:
        """Return the rate to reckon with [1/yr]: the learned one, or else the pack's."""
        found = self.rates.get((type_id, mode))
        return pack if found is None else found.mean

    def strength(self, claim: str, pack: float) -> float:
        """Return the strength to reckon with: the learned one, or else the pack's."""
        found = self.strengths.get(claim)
        return pack if found is None else found.mean
