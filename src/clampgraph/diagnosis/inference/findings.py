"""A plan for findings: prepared once for an assembly, whatever will be found at it.

The leaves that can be found are sorted into a few groups that lie upstream of much the same.
A question is solved on a circuit that holds only what lies upstream of its causes and of the groups that it touches,
with the leaves as weights (see `leaves`); such a circuit is small, and a few of them serve thousands of questions.
Which one is taken depends on what was found in the case alone, and every sum runs in its own order:
an answer is the same to the last bit whatever else stands in the batch, and whatever was asked before.
"""

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from difflib import get_close_matches
from functools import partial
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from clampgraph.diagnosis.inference.archive import digest
from clampgraph.diagnosis.inference.archive import kept as archived
from clampgraph.diagnosis.inference.elimination import Index
from clampgraph.diagnosis.inference.leaves import LeafPlan, compile_leaves
from clampgraph.diagnosis.inference.plan import Evaluation
from clampgraph.diagnosis.inference.shelf import SHELF, Shelf
from clampgraph.diagnosis.inference.solver import MEMORY_LIMIT_BYTES, Evidence
from clampgraph.diagnosis.network import Network
from clampgraph.diagnosis.relevance import causes_of
from clampgraph.errors import UnknownNameError, WrongCallError

__all__ = ["FindingsPlan", "plan_findings"]

_GROUPS = 4
"""Groups of leaves: more of them make smaller circuits, but two to their power of these, each to be compiled."""
_WORTH_KEEPING = 100
"""Nodes from which on compiling takes longer than reading what was kept on disk."""
_MOST_WAYS = 24
"""Evaluations of one case from which on its leaves with the most parents become variables of the circuit."""


@dataclass(frozen=True, eq=False)
class FindingsPlan:
    """A network prepared for findings; make one with `plan_findings`.

    Parameters
    ----------
    node_ids
        The nodes that can be asked for: the columns of a posterior, and the first columns of the evidence.
    columns
        For each node that can be found, its column in the evidence.
    network
        What it was made from.
    group
        For each leaf, its group.
    ways
        For each leaf, how many evaluations it costs when it is found on.
    shelf
        Where compiled circuits are kept.
    digest
        Tells apart what circuits are compiled from; equal networks share them.
    """

    node_ids: tuple[str, ...]
    columns: Mapping[str, int] = field(repr=False)
    network: Network = field(repr=False)
    group: Index = field(repr=False)
    ways: Index = field(repr=False)
    shelf: Shelf = field(repr=False)
    digest: str = field(repr=False)
    memory_limit_bytes: int = MEMORY_LIMIT_BYTES

    def evidence(self, findings: Sequence[Mapping[str, bool]]) -> Evidence:
        """Turn findings into an array, one row for each set.

        Raises
        ------
        UnknownNameError
            If an id names no node that can be found.
        """
        rows = np.full((len(findings), len(self.columns)), -1, np.int8)
        columns = self.columns
        for row, found in zip(rows, findings, strict=True):
            for name, state in found.items():
                if name not in columns:
                    near = get_close_matches(name, columns)
                    raise UnknownNameError("node", name, near, f"in {self.network.place}")
                row[columns[name]] = state
        return rows

    def evaluate(self, evidence: Evidence) -> Evaluation:
        """Return the posterior of every node that can be asked for, for every evidence set.

        Parameters
        ----------
        evidence
            Shape (batch, columns): -1 not observed, 0 off, 1 on.

        Raises
        ------
        WrongCallError
            If the shape is another.
        TooWideError
            If what a case touches would take more memory than allowed.
        """
        return self._evaluate(evidence, marginals=True)

    def likelihood(self, evidence: Evidence) -> NDArray[np.float64]:
        """Return P(evidence) for every evidence set, shape (batch,)."""
        return self._evaluate(evidence, marginals=False).probability

    def cost(self, evidence: Evidence) -> Index:
        """Return how many products one evaluation of each evidence set takes, in all its ways, shape (batch,)."""
        found = np.zeros(len(evidence), np.intp)
        for groups, kept, rows in self._alike(evidence):
            part, columns = self._part(groups, kept)
            found[rows] = part.ways(evidence[np.ix_(rows, columns)]) * part.size
        return found

    def _evaluate(self, evidence: Evidence, *, marginals: bool) -> Evaluation:
        if evidence.ndim != 2 or evidence.shape[1] != len(self.columns):
            raise WrongCallError(
                f"The evidence has the shape {evidence.shape}; "
                f"it needs one row for each case and {len(self.columns)} columns, one for each node that can be found."
            )
        cases, asked = len(evidence), len(self.node_ids)
        answer = Evaluation(np.zeros(cases), np.zeros((cases, asked if marginals else 0)), np.zeros(cases, bool))
        for groups, kept, rows in self._alike(evidence):
            part, columns = self._part(groups, kept)
            found = part.solve(evidence[np.ix_(rows, columns)], marginals=marginals)
            answer.probability[rows], answer.possible[rows] = found.probability, found.possible
            answer.posterior[rows] = found.marginals
        return answer

    def _alike(self, evidence: Evidence) -> Iterator[tuple[int, tuple[int, ...], Index]]:
        """Sort cases by the circuit that they need: the bits of their groups, and the leaves that become variables."""
        leaves = evidence[:, len(self.node_ids) :]
        touched = np.zeros(len(evidence), np.int64)
        for group in range(int(self.group.max(initial=-1)) + 1):
            touched |= (leaves[:, self.group == group] >= 0).any(axis=1).astype(np.int64) << group
        kept = self._kept(leaves)
        keys: dict[tuple[int, tuple[int, ...]], list[int]] = {}
        for row, bits in enumerate(touched.tolist()):
            keys.setdefault((bits, kept.get(row, ())), []).append(row)
        for (bits, leaf), rows in keys.items():
            yield bits, leaf, np.array(rows, np.intp)

    def _kept(self, leaves: Evidence) -> dict[int, tuple[int, ...]]:
        """Choose the leaves that cost too many evaluations, for the cases that have such."""
        many = np.where(leaves == 1, self.ways, 1).prod(axis=1, dtype=np.float64)
        found: dict[int, tuple[int, ...]] = {}
        for row in np.flatnonzero(many > _MOST_WAYS).tolist():
            on = sorted(np.flatnonzero(leaves[row] == 1).tolist(), key=lambda leaf: (-self.ways[leaf], leaf))
            left, count = float(many[row]), 0
            while left > _MOST_WAYS:
                left /= float(self.ways[on[count]])
                count += 1
            found[row] = tuple(sorted(on[:count]))
        return found

    def _part(self, groups: int, kept: tuple[int, ...]) -> tuple[LeafPlan, Index]:
        """Return a circuit, and the columns of the evidence that are its own."""
        asked = len(self.node_ids)
        leaves = [leaf for leaf, group in enumerate(self.group.tolist()) if groups >> group & 1 and leaf not in kept]
        columns = np.array([*range(asked), *(asked + leaf for leaf in (*kept, *leaves))], np.intp)
        names = list(self.columns)
        make = partial(
            compile_leaves,
            self.network,
            [*self.node_ids, *(names[asked + leaf] for leaf in kept)],
            [names[asked + leaf] for leaf in leaves],
            asked,
            self.memory_limit_bytes,
        )
        name = "-".join(map(str, (self.digest, groups, *kept)))
        worth = len(self.network) >= _WORTH_KEEPING
        return self.shelf.get(name, partial(archived, name, make) if worth else make), columns


def plan_findings(
    network: Network,
    asked: Sequence[str],
    findings: Collection[str],
    shelf: Shelf = SHELF,
    *,
    memory_limit_bytes: int = MEMORY_LIMIT_BYTES,
) -> FindingsPlan:
    """Prepare a network for whatever is found at it; circuits are compiled when they are first needed.

    Parameters
    ----------
    network
        Noisy-OR and AND gates over binary nodes.
    asked
        Nodes whose posterior is wanted; they can be found as well.
    findings
        Further nodes that can be found. Those that are not noisy-OR leaves are asked for too.
    shelf
        Where compiled circuits are kept.
    memory_limit_bytes
        [byte] What a compiled circuit may take.

    Examples
    --------
    >>> from clampgraph.diagnosis.network import Link, Network, Node
    >>> seal, valve = Node("seal-worn", "failure-mode", 0.01), Node("valve-leaks", "failure-mode", 0.02)
    >>> hiss = Node("hiss", "symptom", 0.001, (Link("seal-worn", 0.9), Link("valve-leaks", 0.5)))
    >>> plan = plan_findings(Network((seal, valve, hiss)), ["seal-worn", "valve-leaks"], ["hiss"])
    >>> [round(chance, 4) for chance in plan.evaluate(plan.evidence([{"hiss": True}])).posterior[0].tolist()]
    [0.453, 0.5078]
    """
    taken = set(asked)
    leaves = [
        name
        for name in findings
        if name not in taken and network.by_id[name].gate == "or" and not network.children[name]
    ]
    inner = list(dict.fromkeys([*asked, *(name for name in findings if name not in set(leaves))]))
    group = _groups(network, leaves)
    return FindingsPlan(
        tuple(inner),
        {name: column for column, name in enumerate((*inner, *leaves))},
        network,
        np.array([group[name] for name in leaves], np.intp),
        np.array([max(len(network.by_id[name].links), 1) for name in leaves], np.intp),
        shelf,
        digest(network, inner, leaves),
        memory_limit_bytes,
    )


def _groups(network: Network, leaves: Sequence[str]) -> dict[str, int]:
    """Put together leaves that lie downstream of much the same deviations, until few groups are left."""
    sets: dict[frozenset[str], list[str]] = {}
    for name in leaves:
        above = causes_of(network, [link.parent for link in network.by_id[name].links])
        own = frozenset(node for node in above if network.by_id[node].links)
        sets.setdefault(own, []).append(name)
    number = {node: index for index, node in enumerate(sorted({node for own in sets for node in own}))}
    groups = [(sum(1 << number[node] for node in own), names) for own, names in sets.items()]
    while len(groups) > _GROUPS:
        one, other = min(combinations(groups, 2), key=lambda pair: _growth(pair[0][0], pair[1][0]))
        groups = [group for group in groups if group is not one and group is not other]
        groups.append((one[0] | other[0], one[1] + other[1]))
    return {name: index for index, (_, names) in enumerate(groups) for name in names}


def _growth(one: int, other: int) -> tuple[int, int]:
    """Say what a group would hold beyond the larger of two, then how much it would hold at all."""
    joined = (one | other).bit_count()
    return joined - max(one.bit_count(), other.bit_count()), joined
