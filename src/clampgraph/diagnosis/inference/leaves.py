r"""Leaves as weights: a circuit without a variable for what is only ever found.

Symptoms and outcomes of checks are leaves: nothing follows from them, and nobody asks how probable they are.
Once the state of such a leaf is known, it is a weight on the states of its parents.
Turned off, a noisy-OR leaf has the probability ``(1 - leak) * prod(1 - s_i)`` over the parents that are on,
which is a product of one weight for each parent.
Turned on, it is a sum of such products, one for each parent, without a subtraction that could lose digits:

.. math:: P(on) = q_1 + \sum_{j > 1} s_j \, (1 - q_1) \prod_{1 < i < j} (1 - s_i), \quad q_1 = l + (1 - l) s_1

(parent 1 or the leak acts; or they do not and parent 2 acts; and so on; each s counts only where its parent is on).
So a leaf that was found on costs as many evaluations as it has parents, its *ways*;
the ways of several leaves multiply.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from clampgraph.diagnosis.inference.elimination import Index
from clampgraph.diagnosis.inference.evaluation import Values
from clampgraph.diagnosis.inference.search import cheapest, ways
from clampgraph.diagnosis.inference.skeleton import either, skeleton
from clampgraph.diagnosis.inference.solver import FAINT, Evidence, Solution, Solver, compile_problem
from clampgraph.diagnosis.network import Network, Node
from clampgraph.diagnosis.relevance import upstream

__all__ = ["Leaf", "LeafPlan", "compile_leaves"]

_ROWS = 4096
"""Evaluations that are laid out at a time."""


@dataclass(frozen=True, eq=False)
class Leaf:
    """What the states of a leaf weigh.

    Parameters
    ----------
    parents
        Places of its parents among the variables that leaves weigh.
    weights
        Shape (1 + ways, 1 + 2 parents). Row 0 is for off, each further row for one way to be on.
        Column 0 is a weight of its own, then come the weights of each parent's being off, then of its being on.
    """

    parents: Index
    weights: Values

    @property
    def ways(self) -> int:
        """In how many ways the leaf comes on: one for each parent, at least one."""
        return len(self.weights) - 1


@dataclass(frozen=True, eq=False)
class LeafPlan:
    """A compiled circuit with some leaves as weights; make one with `compile_leaves`.

    Parameters
    ----------
    inner
        How many columns of the evidence are variables of the circuit; the leaves follow.
    asked
        How many of those have a posterior.
    """

    solver: Solver = field(repr=False)
    leaves: tuple[Leaf, ...] = field(repr=False)
    inner: int
    asked: int

    @property
    def size(self) -> int:
        """Products in the upward pass of one evaluation."""
        return self.solver.circuit.terms

    def ways(self, evidence: Evidence) -> Index:
        """Return how many evaluations each evidence set takes."""
        many = np.array([leaf.ways for leaf in self.leaves], np.intp)
        found: Index = np.where(evidence[:, self.inner :] == 1, many, 1).prod(axis=1, dtype=np.intp)
        return found

    def solve(self, evidence: Evidence, *, marginals: bool) -> Solution:
        """Return the probability of each evidence set, and the posteriors if they are wanted."""
        asked = self.solver.base[: self.asked] + 1 if marginals else np.empty(0, np.intp)
        cases = len(evidence)
        found = Solution(np.zeros(cases), np.zeros(cases, bool), np.zeros((cases, len(asked))))
        for part in _parts(self.ways(evidence)):
            self._solve_into(found, np.arange(part.start, part.stop), evidence[part], asked)
        return found

    def _solve_into(self, found: Solution, place: Index, evidence: Evidence, asked: Index) -> None:
        total, mean = self._blended(evidence, asked, np.float64)
        faint = np.flatnonzero(total < FAINT)
        found.probability[place], found.possible[place], found.marginals[place] = total, total > 0.0, mean
        if len(faint):
            place = place[faint]
            total, mean = self._blended(evidence[faint], asked, np.longdouble)
            found.probability[place], found.possible[place], found.marginals[place] = total, total > 0.0, mean

    def _blended(
        self, evidence: Evidence, asked: Index, kind: type[np.floating]
    ) -> tuple[NDArray[np.floating], NDArray[np.floating]]:
        """Evaluate every way of every case and add the ways up, each case for itself and in order."""
        many = self.ways(evidence)
        first, weights = self._weights(evidence, many, kind)
        inner = evidence[np.repeat(np.arange(len(evidence)), many), : self.inner]
        chance, marginal = self.solver.weighed(inner, asked, weights)
        total, mean = chance[first], marginal[first]
        several = np.flatnonzero(many > 1)
        if len(several):
            mean[several] *= total[several, None]
            for step in range(1, int(many.max())):
                still = several[many[several] > step]
                row = first[still] + step
                total[still] += chance[row]
                mean[still] += chance[row, None] * marginal[row]
            divisor = np.where(total > 0.0, total, 1.0)[several, None]
            mean[several] = np.minimum(mean[several] / divisor, 1.0)
        return total, mean

    def _weights(self, evidence: Evidence, many: Index, kind: type[np.floating]) -> tuple[Index, NDArray[np.floating]]:
        """Return where the evaluations of each case begin, and the weights of each evaluation, one a column."""
        first = np.cumsum(many) - many
        rest = np.arange(int(many.sum())) - np.repeat(first, many)
        behind = len(self.solver.base) - self.inner
        weights = np.ones((1 + 2 * behind, len(rest)), kind)
        found = evidence[:, self.inner :]
        for number in np.flatnonzero((found >= 0).any(axis=0)).tolist():
            leaf, state = self.leaves[number], found[:, number]
            cases = np.flatnonzero(state >= 0)
            row = _rows_of(cases, first, many)
            on = np.repeat(state[cases] == 1, many[cases])
            which = np.where(on, 1 + rest[row] % leaf.ways, 0)
            rest[row] //= np.where(on, leaf.ways, 1)
            places = (0, *(1 + leaf.parents).tolist(), *(1 + behind + leaf.parents).tolist())
            for column, place in enumerate(places):
                weights[place, row] *= leaf.weights[which, column]
        return first, weights


def _rows_of(cases: Index, first: Index, many: Index) -> Index:
    """Return the evaluations of some cases, in order."""
    counts = many[cases]
    ends = np.cumsum(counts)
    found: Index = np.arange(int(counts.sum())) + np.repeat(first[cases] - (ends - counts), counts)
    return found


def _parts(many: Index) -> Iterator[slice]:
    """Cut cases into parts whose evaluations fit into memory; a case is never cut."""
    ends = np.cumsum(many)
    begin = 0
    while begin < len(many):
        before = int(ends[begin - 1]) if begin else 0
        stop = max(int(np.searchsorted(ends, before + _ROWS, side="right")), begin + 1)
        yield slice(begin, stop)
        begin = stop


def compile_leaves(
    network: Network, inner: Sequence[str], leaves: Sequence[str], asked: int, memory_limit_bytes: int
) -> LeafPlan:
    """Compile a network in which some leaves weigh.

    Parameters
    ----------
    network
        Noisy-OR and AND gates over binary nodes.
    inner
        Nodes that can be observed in the circuit.
    leaves
        Noisy-OR leaves that become weights.
    asked
        How many of the first nodes of `inner` have a posterior.
    memory_limit_bytes
        [byte] What the compiled network may take.

    Raises
    ------
    TooWideError
        If it would take more; the sentence names the nodes that loops tie together.
    """
    parents = list(dict.fromkeys(link.parent for name in leaves for link in network.by_id[name].links))
    core = upstream(network, [*inner, *parents])
    bones = skeleton(core)
    variable = dict(zip((node.id for node in core), bones.observed, strict=True))
    order, draft = cheapest(ways(bones))
    weighed = list(dict.fromkeys(variable[name] for name in parents))
    observed = (*(variable[name] for name in inner), *weighed)
    solver = compile_problem(replace(draft.problem(), observed=observed), order, memory_limit_bytes)
    place = {name: weighed.index(variable[name]) for name in parents}
    return LeafPlan(solver, tuple(_leaf(network.by_id[name], place) for name in leaves), len(inner), asked)


def _leaf(node: Node, place: Mapping[str, int]) -> Leaf:
    """Tabulate what the states of a leaf weigh; links from parents that are one variable are joined."""
    terms: dict[int, float] = {}
    for link in node.links:
        if link.strength > 0.0:
            terms[place[link.parent]] = either(terms.get(place[link.parent], 0.0), link.strength)
    many = len(terms)
    strength = np.array(list(terms.values()))
    weights = np.ones((1 + max(many, 1), 1 + 2 * many))
    off, on = weights[:, 1 : 1 + many], weights[:, 1 + many :]
    weights[0, 0], on[0] = 1.0 - node.leak, 1.0 - strength
    if many:
        off[1, 0], on[1, 0] = node.leak, either(node.leak, float(strength[0]))
    else:
        weights[1, 0] = node.leak
    for way in range(1, many):
        weights[1 + way, 0] = 1.0 - node.leak
        on[1 + way, :way] = 1.0 - strength[:way]
        off[1 + way, way], on[1 + way, way] = 0.0, strength[way]
    return Leaf(np.array(list(terms), np.intp), weights)
