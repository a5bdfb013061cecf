"""What to do next: the order of repairs, the worth of a check, and the plan that follows.

Repairs.
With one fault and independent actions, the expected cost of repair is least when actions are tried in the order of
probability over cost (Kadane and Simon 1977; Heckerman, Breese and Rommelse 1995).
Costs are in minutes; money is turned into minutes by the labour rate.

Checks.
The worth of a check is told in two ways, both as expectations over its outcomes:
how much it lowers the uncertainty about the causes, in bits (the sum over failure modes of the mutual information
with the outcome, never negative), and how much it lowers the expected cost of repair, in minutes.
A check is worthwhile when it saves more minutes than it takes.

References
----------
- D. Heckerman, J. S. Breese, K. Rommelse, Decision-theoretic troubleshooting,
  Communications of the ACM 38(3), 1995.
- J. B. Kadane, H. A. Simon, Optimal strategies for a class of constrained sequential problems,
  Annals of Statistics 5(2), 1977 (from memory).
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from clampgraph.diagnosis.inference import AnyPlan, Evidence

__all__ = [
    "LOCKOUT_MINUTES",
    "NORMAL",
    "VERIFY_MINUTES",
    "CheckOption",
    "CheckWorth",
    "PlanStep",
    "Repair",
    "expected_repair_cost",
    "gains",
    "outcome_rows",
    "plan_of_work",
    "repair_order",
    "shares",
    "what_ifs",
    "worth_of_checks",
]

LOCKOUT_MINUTES = 10.0
"""Minutes to lock out, bleed, prove zero pressure and put back in service (common practice)."""

VERIFY_MINUTES = 20.0
"""Minutes to verify force, push-out, gap, switches and leaks after a repair (common practice)."""

NORMAL = "normal"
"""The outcome of a check that shows nothing abnormal."""

_DIGITS = 12
"""Decimals by which beliefs are compared: twins in a circuit are equal but for rounding, and the first named leads."""

_Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class CheckOption:
    """A check that can still be made: its minutes, and the nodes of its abnormal outcomes."""

    id: str
    minutes: float
    lockout: bool
    nodes: Mapping[str, str]

    @property
    def cost(self) -> float:
        """Minutes with lock-out [min]."""
        return self.minutes + (LOCKOUT_MINUTES if self.lockout else 0.0)


@dataclass(frozen=True, slots=True)
class Repair:
    """One action that ends any of several failure modes, and what it costs [min]."""

    id: str
    modes: tuple[str, ...]
    minutes: float


@dataclass(frozen=True, slots=True)
class CheckWorth:
    """What a check is expected to bring: `gain` in bits, `saving` in minutes before its own cost.

    `outcomes` gives the probability of each; `leading` the repairable cause that would then be likeliest.
    """

    option: CheckOption
    outcomes: Mapping[str, float]
    leading: Mapping[str, tuple[str, float]]
    gain: float
    saving: float

    @property
    def gain_per_minute(self) -> float:
        """Bits for each minute, lock-out included [bit/min]."""
        return self.gain / self.option.cost

    @property
    def worthwhile(self) -> bool:
        """Whether it saves more minutes than it takes."""
        return self.saving > self.option.cost


def repair_order(chances: _Array, costs: _Array) -> NDArray[np.intp]:
    """Return the order of repairs with the least expected cost: falling probability over cost.

    Parameters
    ----------
    chances
        Probability that a repair ends the trouble [-], shape (..., n).
    costs
        Cost of each repair, greater than zero [min], shape (n,).

    Returns
    -------
    ndarray
        Indices, shape (..., n); ties keep the given order.

    Examples
    --------
    >>> import numpy as np
    >>> repair_order(np.array([0.45, 0.25, 0.20, 0.10]), np.array([30.0, 5.0, 10.0, 2.0])).tolist()
    [1, 3, 2, 0]
    """
    return np.argsort(-chances / costs, axis=-1, kind="stable")


def expected_repair_cost(chances: _Array, costs: _Array) -> _Array:
    """Return the least expected cost of repair when exactly one of the faults is present.

    Parameters
    ----------
    chances
        Weight of each fault, scaled here to sum to one [-], shape (..., n).
    costs
        Cost of each repair, greater than zero [min], shape (n,).

    Returns
    -------
    ndarray
        ``sum_k c_k (1 - sum_(j<k) p_j)`` in the best order [min], shape (...); 0 where all weights are 0.

    Examples
    --------
    >>> import numpy as np
    >>> round(float(expected_repair_cost(np.array([0.45, 0.25, 0.2, 0.1]), np.array([30.0, 5.0, 10.0, 2.0]))), 6)
    26.5
    """
    total = chances.sum(axis=-1, keepdims=True)
    share = np.divide(chances, total, out=np.zeros_like(chances), where=total > 0.0)
    order = repair_order(share, costs)
    ranked = np.take_along_axis(share, order, axis=-1)
    still_there = 1.0 - np.cumsum(ranked, axis=-1) + ranked
    cost = (costs[order] * still_there).sum(axis=-1)
    return np.where(total[..., 0] > 0.0, cost, 0.0)


def _entropy(chances: _Array) -> _Array:
    """Sum of the binary entropies of each row [bit]."""
    p = np.clip(chances, 0.0, 1.0)
    q = 1.0 - p
    with np.errstate(divide="ignore", invalid="ignore"):
        terms = np.where(p > 0.0, p * np.log2(p), 0.0) + np.where(q > 0.0, q * np.log2(q), 0.0)
    found: _Array = -terms.sum(axis=-1)
    return found


def what_ifs(plan: AnyPlan, found: Evidence, options: Sequence[CheckOption]) -> Evidence:
    """Return the evidence under every outcome of every check: abnormal ones in their order, then the normal one.

    Parameters
    ----------
    plan
        The compiled network; must know the outcome nodes.
    found
        Findings so far, shape (1, columns).
    options
        The checks that can still be made.
    """
    rows = np.repeat(found, sum(len(option.nodes) + 1 for option in options), axis=0)
    start = 0
    for option in options:
        columns = np.array([plan.columns[node] for node in option.nodes.values()], np.intp)
        stop = start + len(columns) + 1
        rows[start:stop, columns] = np.eye(len(columns) + 1, len(columns), dtype=np.int8)
        start = stop
    return rows


def worth_of_checks(
    plan: AnyPlan,
    evidence: Mapping[str, bool],
    options: Sequence[CheckOption],
    repairs: Sequence[Repair],
) -> tuple[CheckWorth, ...]:
    """Return what every check would bring, evaluated in one batch.

    Parameters
    ----------
    plan
        The compiled network; must know the outcome nodes.
    evidence
        Findings so far, by node id.
    options
        The checks that can still be made.
    repairs
        Actions that end the failure modes which could explain a finding; those modes are the causes that count.

    Returns
    -------
    tuple of CheckWorth
        In the order of `options`.
    """
    found = plan.evaluate(what_ifs(plan, plan.evidence([evidence]), options))
    modes = [mode for repair in repairs for mode in repair.modes]
    belief = found.posterior[:, [plan.columns[mode] for mode in modes]]
    worth: dict[str, CheckWorth] = {}
    for alike, rows in outcome_rows(options):
        chance, after = shares(found.probability[rows]), belief[rows]
        gain, saving = gains(chance, after), _savings(chance, after, repairs)
        best = np.round(after, _DIGITS).argmax(axis=2) if modes else np.empty((len(alike), 0), np.intp)
        for number, option in enumerate(alike):
            names = (*option.nodes, NORMAL)
            leading = {
                name: (modes[mode], float(after[number, row, mode]))
                for row, (name, mode) in enumerate(zip(names, best[number].tolist(), strict=bool(modes)))
            }
            outcomes = dict(zip(names, chance[number].tolist(), strict=True))
            worth[option.id] = CheckWorth(option, outcomes, leading, float(gain[number]), float(saving[number]))
    return tuple(worth[option.id] for option in options)


def outcome_rows(options: Sequence[CheckOption]) -> Iterator[tuple[list[CheckOption], NDArray[np.intp]]]:
    """Yield the checks with equally many outcomes, and their rows among the what-ifs, shape (checks, outcomes)."""
    found: dict[int, tuple[list[CheckOption], list[int]]] = {}
    start = 0
    for option in options:
        alike, starts = found.setdefault(len(option.nodes) + 1, ([], []))
        alike.append(option)
        starts.append(start)
        start += len(option.nodes) + 1
    for outcomes, (alike, starts) in found.items():
        yield alike, np.array(starts)[:, None] + np.arange(outcomes)


def shares(chance: _Array) -> _Array:
    """Return the probabilities of the outcomes of checks, which exclude each other; shape (checks, outcomes)."""
    found: _Array = chance / chance.sum(axis=1, keepdims=True)
    return found


def gains(chance: _Array, after: _Array) -> _Array:
    """Return the expected information of checks [bit].

    Parameters
    ----------
    chance
        Probability of each outcome, shape (checks, outcomes).
    after
        Belief in each failure mode under each outcome, shape (checks, outcomes, modes).
    """
    # The belief before the check is the mixture of those after it, so the gain is never negative but for rounding.
    before = (chance[:, :, None] * after).sum(axis=1)
    found: _Array = np.maximum(_entropy(before) - (chance * _entropy(after)).sum(axis=1), 0.0)
    return found


def _savings(chance: _Array, after: _Array, repairs: Sequence[Repair]) -> _Array:
    """Return how much checks lower the expected cost of repair [min]."""
    if not repairs:
        return np.zeros(len(chance))
    edges = np.cumsum([0, *(len(repair.modes) for repair in repairs[:-1])])
    minutes = np.array([repair.minutes for repair in repairs])
    before = (chance[:, :, None] * after).sum(axis=1)
    cost_before = expected_repair_cost(np.add.reduceat(before, edges, axis=-1), minutes)
    cost_after = expected_repair_cost(np.add.reduceat(after, edges, axis=-1), minutes)
    found: _Array = cost_before - (chance * cost_after).sum(axis=1)
    return found


@dataclass(frozen=True, slots=True)
class PlanStep:
    """One step of a plan: observe a check, repair a failure mode, or verify; with its expected minutes."""

    action: str
    target: str
    minutes: float
    probability: float | None = None


def plan_of_work(
    worth: Sequence[CheckWorth], posterior: Mapping[str, float], repairs: Sequence[Repair]
) -> tuple[PlanStep, ...]:
    """Return the steps from here: worthwhile checks, then repairs by probability over cost, then verification.

    Parameters
    ----------
    worth
        What every open check would bring.
    posterior
        P(failure mode | findings), by node id.
    repairs
        Actions that end the failure modes which could explain a finding.

    Returns
    -------
    tuple of PlanStep
        At most two checks and five repairs, fewer when they cover nine tenths of the single-fault probability;
        empty when nothing was found.
    """
    if not repairs:
        return ()
    worthwhile = sorted(
        (w for w in worth if w.worthwhile), key=lambda w: (round(w.option.cost - w.saving, 9), w.option.id)
    )
    steps = [PlanStep("observe", w.option.id, w.option.cost) for w in worthwhile[:2]]
    chances = np.array([sum(posterior[mode] for mode in repair.modes) for repair in repairs])
    order = repair_order(np.round(chances, _DIGITS), np.array([repair.minutes for repair in repairs]))
    covered, total = 0.0, float(chances.sum())
    for index in order[:5]:
        if covered >= 0.9 * total:
            break
        repair, chance = repairs[index], float(chances[index])
        covered += chance
        steps.append(PlanStep("repair", repair.id, repair.minutes, min(chance, 1.0)))
    return (*steps, PlanStep("verify", "clamp-unit", VERIFY_MINUTES))
