"""Joint explanations: which failure modes are present, and that the others which could explain a finding are not.

The most probable ones are found exactly.
Sets of faults grow by one fault at a time, the likelier faults first, in branches: a branch is all sets that begin
with the same faults. The probability of a branch is that of its first faults with all later ones left open.
A branch is dropped only when no set in it can be among those wanted, for one of three reasons:
one of its faults, or a pair of them, is less probable than what is found already;
or what is left of its probability, when the sets found in it are taken off, is.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from clampgraph.diagnosis.inference import AnyPlan, Evidence

__all__ = ["Explanation", "joint_explanations"]

Index = NDArray[np.intp]
Chances = NDArray[np.float64]
Faults = tuple[int, ...]
"""Faults as rising places in a ranking."""

_ROUNDING = 1e-14
"""What the sum of the sets found in a branch may be off by, as a share of the branch."""

_DIGITS = 9
"""Digits by which chances are compared: twins in a circuit are equal but for rounding, and the first named leads."""


@dataclass(frozen=True, slots=True)
class Explanation:
    """Failure modes that are present together, the other relevant ones absent, and the probability of that."""

    faults: tuple[str, ...]
    probability: float


def joint_explanations(
    plan: AnyPlan, evidence: Mapping[str, bool], posterior: Mapping[str, float], modes: Sequence[str], count: int = 5
) -> tuple[Explanation, ...]:
    """Return the most probable joint explanations, best first.

    Parameters
    ----------
    plan
        The compiled network.
    evidence
        Findings, by node id.
    posterior
        P(mode | evidence), by node id.
    modes
        The failure modes that could explain a finding; all others are left open.
    count
        How many explanations are wanted.

    Returns
    -------
    tuple of Explanation
        At most `count`; each is exact, and no other assignment of `modes` is more probable.
    """
    base = plan.evidence([evidence])
    total = float(plan.likelihood(base)[0])
    if total == 0.0 or not modes:
        return ()
    ranked = sorted(modes, key=lambda mode: (-posterior[mode], mode))
    places = np.array([plan.columns[mode] for mode in ranked], np.intp)
    base[:, places] = 0
    search = _Search(plan, base, places, total, [posterior[mode] for mode in ranked], count)
    search.climb()
    search.prove()
    named = [(chance, tuple(sorted(ranked[mode] for mode in faults))) for faults, chance in search.exact.items()]
    named.sort(key=lambda one: (-float(f"{one[0]:.{_DIGITS}e}"), one[1]))
    return tuple(Explanation(faults, chance) for chance, faults in named[:count])


@dataclass
class _Search:
    """Sets of faults, as places in a ranking, with the exact probability that they and no others are present."""

    plan: AnyPlan
    base: Evidence
    places: Index
    total: float
    belief: Sequence[float]
    count: int
    exact: dict[Faults, float] = field(default_factory=dict)
    pairs: Chances = field(default_factory=lambda: np.empty((0, 0)))

    def floor(self) -> float:
        """Return what is to be beaten: the chance of the last set wanted, 0 until so many are found.

        The margin is for rounding: an explanation of one fault alone is as probable as that fault itself.
        """
        best = sorted(self.exact.values(), reverse=True)[: self.count]
        return best[-1] * (1.0 - 1e-9) if len(best) == self.count else 0.0

    def likely(self) -> int:
        """Return how many faults, from the first of the ranking, can be part of a set that is not beaten."""
        floor = self.floor()
        return sum(chance >= floor for chance in self.belief)

    def climb(self) -> None:
        """Find good sets by adding one fault at a time to the best ones, as long as that finds better ones."""
        self._solve([()])
        for begin in range(0, len(self.places), self.count):
            self._solve([(mode,) for mode in range(begin, min(begin + self.count, self.likely()))])
        self.pairs = self._pairs(self.likely())
        better = True
        while better:
            floor = self.floor()
            best = sorted(self.exact, key=lambda faults: -self.exact[faults])[: self.count]
            self._solve([more for faults in best for more in self._with_one_more(faults, floor)])
            better = self.floor() > floor

    def prove(self) -> None:
        """Find whatever was missed among the likely faults: grow every branch that is not beaten yet."""
        likely = self.likely()
        frontier: list[Faults] = [()]
        while frontier:
            mass, after = self._branches(frontier, likely)
            floor, found = self.floor(), self._found(likely)
            able = self.pairs[:likely, :likely] >= floor
            grown = [
                (*faults, mode)
                for faults, whole, belief in zip(frontier, mass, after, strict=True)
                if whole * (1.0 + _ROUNDING) - found.get(faults, 0.0) >= floor
                for mode in np.flatnonzero(whole * belief >= floor).tolist()
                if mode > max(faults, default=-1) and able[mode, list(faults)].all()
            ]
            self._solve(grown)
            frontier = grown

    def _with_one_more(self, faults: Faults, floor: float) -> list[Faults]:
        """Return the set with each of the few faults that go with it best."""
        together = self.pairs[list(faults)].min(axis=0, initial=1.0)
        best = np.argsort(-together, kind="stable")[: len(faults) + self.count]
        return [tuple(sorted({*faults, mode})) for mode in best[together[best] >= floor].tolist()]

    def _pairs(self, likely: int) -> Chances:
        """Return the probability of each pair of likely faults, whatever else is present."""
        rows = np.repeat(self.base, likely, axis=0)
        rows[:, self.places] = -1
        rows[np.arange(likely), self.places[:likely]] = 1
        answer = self.plan.evaluate(rows)
        return answer.probability[:, None] * answer.posterior[:, self.places[:likely]] / self.total

    def _branches(self, frontier: Sequence[Faults], likely: int) -> tuple[Chances, Chances]:
        """Return the probability of each branch, and in it that of each likely fault."""
        answer = self.plan.evaluate(self._rows(frontier, likely))
        return answer.probability / self.total, answer.posterior[:, self.places[:likely]]

    def _found(self, likely: int) -> dict[Faults, float]:
        """Return how much of each branch is found."""
        found: dict[Faults, float] = {}
        for faults, chance in self.exact.items():
            if max(faults, default=0) < likely:
                for length in range(len(faults) + 1):
                    found[faults[:length]] = found.get(faults[:length], 0.0) + chance
        return found

    def _solve(self, sets: Sequence[Faults]) -> None:
        new = [faults for faults in dict.fromkeys(sets) if faults not in self.exact]
        if new:
            chance = self.plan.likelihood(self._rows(new, 0)) / self.total
            self.exact |= dict(zip(new, chance.tolist(), strict=True))

    def _rows(self, sets: Sequence[Faults], likely: int) -> Evidence:
        """Return evidence in which these faults are present and all others absent, but later likely ones open."""
        rows = np.repeat(self.base, len(sets), axis=0)
        for row, faults in zip(rows, sets, strict=True):
            if likely:
                row[self.places[max(faults, default=-1) + 1 : likely]] = -1
            row[self.places[list(faults)]] = 1
        return rows
