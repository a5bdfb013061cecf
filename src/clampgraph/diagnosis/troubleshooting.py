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

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from clampgraph.diagnosis.inference import Plan

__all__ = [
    "LOCKOUT_MINUTES",
    "NORMAL",
    "VERIFY_MINUTES",
    "CheckOption",
    "CheckWorth",
    "PlanStep",
    "Repair",
    "expected_repair_cost",
    "plan_of_work",
    "repair_order",
    "worth_of_checks",
]

LOCKOUT_MINUTES = 10.0
"""Minutes to lock out, bleed, prove zero pressure and put back in service (common practice)."""

VERIFY_MINUTES = 20.0
"""Minutes to verify force, push-out, gap, switches and leaks after a repair (common practice)."""

NORMAL = "normal"
"""The outcome of a check that shows nothing abnormal."""

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


def worth_of_checks(
    plan: Plan,
    evidence: Mapping[str, bool],
    options: Sequence[CheckOption],
    repairs: Sequence[Repair],
) -> tuple[CheckWorth, ...]:
    """Return what every check would bring, evaluated in one batch.

    Parameters
    ----------
    plan
        The compiled network; must contain the outcome nodes.
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
    rows: list[Mapping[str, bool]] = [evidence]
    for option in options:
        silent = dict.fromkeys(option.nodes.values(), False)
        rows += [{**evidence, **silent, node: True} for node in option.nodes.values()]
        rows.append({**evidence, **silent})
    found = plan.evaluate(plan.evidence(rows))
    modes = [mode for repair in repairs for mode in repair.modes]
    columns = [plan.columns[mode] for mode in modes]
    worth, start = [], 1
    for option in options:
        part = slice(start, start + len(option.nodes) + 1)
        start = part.stop
        # Outcomes exclude each other; the belief before the check is their mixture, so the gain is never negative.
        chance = found.probability[part] / found.probability[part].sum()
        after = found.posterior[part][:, columns]
        worth.append(_worth_of(option, chance, after, repairs))
    return tuple(worth)


def _worth_of(option: CheckOption, chance: _Array, after: _Array, repairs: Sequence[Repair]) -> CheckWorth:
    names = (*option.nodes, NORMAL)
    outcomes = dict(zip(names, chance.tolist(), strict=True))
    if not repairs:
        return CheckWorth(option, outcomes, {}, 0.0, 0.0)
    before = chance @ after
    gain = float(_entropy(before) - chance @ _entropy(after))
    sizes = [len(repair.modes) for repair in repairs]
    edges = np.cumsum([0, *sizes[:-1]])
    minutes = np.array([repair.minutes for repair in repairs])
    cost_after = chance @ expected_repair_cost(np.add.reduceat(after, edges, axis=1), minutes)
    cost_before = expected_repair_cost(np.add.reduceat(before, edges), minutes)
    modes = [mode for repair in repairs for mode in repair.modes]
    best = after.argmax(axis=1)
    leading = {n: (modes[c], float(row[c])) for n, row, c in zip(names, after, best, strict=True)}
    return CheckWorth(option, outcomes, leading, max(gain, 0.0), float(cost_before - cost_after))


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
    worthwhile = sorted((w for w in worth if w.worthwhile), key=lambda w: (w.option.cost - w.saving, w.option.id))
    steps = [PlanStep("observe", w.option.id, w.option.cost) for w in worthwhile[:2]]
    chances = np.array([sum(posterior[mode] for mode in repair.modes) for repair in repairs])
    order = repair_order(chances, np.array([repair.minutes for repair in repairs]))
    covered, total = 0.0, float(chances.sum())
    for index in order[:5]:
        if covered >= 0.9 * total:
            break
        repair, chance = repairs[index], float(chances[index])
        covered += chance
        steps.append(PlanStep("repair", repair.id, repair.minutes, min(chance, 1.0)))
    return (*steps, PlanStep("verify", "clamp-unit", VERIFY_MINUTES))
