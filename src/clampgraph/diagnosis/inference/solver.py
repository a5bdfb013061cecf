"""The core that both doors share: compile a circuit once, run it for any evidence."""

from dataclasses import dataclass
from math import prod

import numpy as np
from numpy.typing import NDArray

from clampgraph.diagnosis.inference.elimination import ONE, Index, eliminate
from clampgraph.diagnosis.inference.evaluation import Values, downward, upward
from clampgraph.diagnosis.inference.layout import Circuit, lay_out
from clampgraph.diagnosis.inference.ordering import Order, members
from clampgraph.diagnosis.inference.problem import Problem
from clampgraph.errors import TooWideError, WrongCallError

__all__ = ["FAINT", "MEMORY_LIMIT_BYTES", "Evidence", "Solution", "Solver", "compile_problem"]

Evidence = NDArray[np.signedinteger]

MEMORY_LIMIT_BYTES = 2**30
"""What a compiled network may take unless the caller allows more."""

_BYTES_PER_ENTRY = 256
_CHUNK_BYTES, _CHUNK_CASES, _WEIGHED_CASES, _FEW_CASES = 2**25, 64, 64, 4
FAINT = 1e-200
"""Probability of a case below which it is computed again in extended precision."""


@dataclass(frozen=True)
class Solution:
    """Probability of each evidence set, whether it is possible at all, and the marginals asked for."""

    probability: Values
    possible: NDArray[np.bool_]
    marginals: Values


@dataclass(frozen=True)
class Solver:
    """A compiled problem.

    Parameters
    ----------
    circuit
        What to compute.
    base
        For each column of the evidence, the position of its first state among the indicators.
    cards
        For each column, its number of states.
    part
        For each indicator, its connected part of the network.
    width
        Variables in the largest clique, minus one.
    """

    circuit: Circuit
    base: Index
    cards: Index
    part: Index
    width: int

    def solve(self, evidence: Evidence, wanted: Index | None = None) -> Solution:
        """Run the circuit.

        Parameters
        ----------
        evidence
            Shape (cases, columns): a state's number, or -1 where nothing was observed.
        wanted
            Indicators whose posterior is asked for; None for the upward pass only.

        Raises
        ------
        WrongCallError
            If the shape is wrong, or a number names no state.
        """
        evidence = self._checked(evidence)
        cases = len(evidence)
        asked = np.empty(0, np.intp) if wanted is None else wanted
        probability, possible = np.empty(cases), np.empty(cases, bool)
        marginals = np.empty((cases, len(asked)))
        step = min(max(_CHUNK_BYTES // (16 * self.circuit.slots), 1), _CHUNK_CASES)
        step = 1 if cases <= _FEW_CASES else step
        for begin in range(0, cases, step):
            chunk = slice(begin, begin + step)
            chance, answer = self._run(evidence[chunk], asked, np.float64)
            faint = np.flatnonzero(chance < FAINT)
            probability[chunk], possible[chunk], marginals[chunk] = chance, chance > 0.0, answer
            if len(faint):
                chance, answer = self._run(evidence[begin + faint], asked, np.longdouble)
                probability[begin + faint], possible[begin + faint] = chance, chance > 0.0
                marginals[begin + faint] = answer
        return Solution(probability, possible, marginals)

    def weighed(
        self, evidence: Evidence, asked: Index, weights: NDArray[np.floating]
    ) -> tuple[NDArray[np.floating], NDArray[np.floating]]:
        """Run the circuit with weights on the states of some variables; each case to the last bit as if it were alone.

        Parameters
        ----------
        evidence
            Shape (cases, first columns): a state's number, or -1.
        asked
            Indicators whose posterior is asked for.
        weights
            Shape (1 + 2 n, cases): a weight of the case, then weights of the first state of each of the n columns
            that stand behind those of the evidence, then of their second state. Its type is that of the sums.

        Returns
        -------
        tuple
            P(case) with its weights, and the posteriors, shape (cases, asked).
        """
        cases = len(evidence)
        chance = np.empty(cases, weights.dtype)
        marginals = np.empty((cases, len(asked)), weights.dtype)
        step = min(max(_CHUNK_BYTES // (16 * self.circuit.slots), 2), _WEIGHED_CASES)
        for begin in range(0, cases, step):
            chunk = slice(begin, begin + step)
            found = self._run(evidence[chunk], asked, weights.dtype.type, weights[:, chunk])
            chance[chunk], marginals[chunk] = found
        return chance, marginals

    def _run(
        self, evidence: Evidence, asked: Index, kind: type[np.floating], weights: NDArray[np.floating] | None = None
    ) -> tuple[NDArray[np.floating], NDArray[np.floating]]:
        """Evaluate a chunk; where the machine offers it, `np.longdouble` reaches below the smallest float."""
        circuit, cases = self.circuit, len(evidence)
        alone = cases == 1 and kind is np.float64  # the sums of one case know no other numbers
        shape = (circuit.slots,) if alone else (circuit.slots, cases)
        value = np.empty(shape, kind)
        value[: ONE + 1 + len(circuit.indicators)] = 1.0
        if weights is not None:
            behind = self.base[evidence.shape[1] :]
            value[circuit.indicators[np.concatenate([behind, behind + 1])]] = weights[1:].reshape(-1, *shape[1:])
        self._observe(value.reshape(-1), evidence)
        upward(circuit, value)
        roots = value[circuit.roots].reshape(-1, cases)
        chance = roots.prod(axis=0) if weights is None else roots.prod(axis=0) * weights[0]
        if not len(asked):
            return chance, np.empty((cases, 0))
        slope = np.empty(shape, kind)
        downward(circuit, value, slope)
        slots = circuit.indicators[asked]
        joint = (slope.take(slots, axis=0) * value.take(slots, axis=0)).reshape(-1, cases)
        total = np.where(chance > 0.0, roots, np.inf).take(self.part[asked], axis=0)
        return chance, np.minimum(joint / total, 1.0).T

    def _observe(self, value: NDArray[np.floating], evidence: Evidence) -> None:
        """Set to 0 the indicators of the states that the evidence rules out."""
        case, column = np.nonzero(evidence >= 0)
        seen = evidence[case, column].astype(np.intp)
        base, cards = self.base[column], self.cards[column]
        for shift in range(1, int(cards.max(initial=1))):
            other = shift < cards
            position = base[other] + (seen[other] + shift) % cards[other]
            value[self.circuit.indicators[position] * len(evidence) + case[other]] = 0.0

    def _checked(self, evidence: Evidence) -> Evidence:
        given = np.asarray(evidence)
        if given.ndim != 2 or given.shape[1] != len(self.base):
            raise WrongCallError(
                f"The evidence has the shape {given.shape}; "
                f"it needs one row for each case and {len(self.base)} columns, one for each variable."
            )
        if given.dtype.kind not in "iu" or (given.size and (given.min() < -1 or (given >= self.cards).any())):
            raise WrongCallError(
                "Evidence is the whole number of a state, counted from 0, or -1 where nothing is known."
            )
        return given


def compile_problem(problem: Problem, order: Order, memory_limit_bytes: int) -> Solver:
    """Compile a problem by an order of elimination.

    Raises
    ------
    TooWideError
        If it would not fit into the memory allowed; names the nodes that are tied together.
    """
    _check_width(order, problem, memory_limit_bytes)
    circuit = lay_out(eliminate(problem, order.variables))
    start = np.cumsum([0, *problem.cards], dtype=np.intp)
    observed = np.array(problem.observed, np.intp)
    cards = np.array(problem.cards, np.intp)
    return Solver(circuit, start[observed], cards[observed], np.repeat(circuit.part, cards), order.width)


def _check_width(order: Order, problem: Problem, allowed: int) -> None:
    needed = order.size * _BYTES_PER_ENTRY
    if needed <= allowed:
        return
    widest = max(order.cliques, key=lambda clique: prod(problem.cards[v] for v in members(clique)))
    tied = sorted({problem.labels[v] for v in members(widest)})
    raise TooWideError(
        f"Exact inference in {problem.place} would take about {needed / 2**20:,.0f} MiB "
        f"where {allowed / 2**20:,.0f} MiB are allowed, because loops tie these {len(tied)} nodes "
        f"together: {', '.join(tied)}; cut a link between them or allow more memory."
    )
