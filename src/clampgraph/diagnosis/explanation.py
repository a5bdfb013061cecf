"""Why: influence paths, joint explanations, and how much nothing in the model explains.

The path from a cause to a finding is the one along which influence is most probable:
the shortest path when a link of strength s has length ``-ln s``.

A joint explanation says which failure modes are present, and that the others which could explain a finding are not.
The most probable ones are found exactly: sets of faults grow by one fault at a time, the likelier faults first,
and a set is dropped only when its probability with all later faults left open, an upper bound for itself and for
whatever grows from it, lies below what is already found complete.

A finding is unexplained when it was reported although no cause in the model acts on it, that is by its leak alone.
For noisy-OR findings that probability follows from one more evaluation with the findings turned off.
"""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from heapq import heappop, heappush
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from clampgraph.diagnosis.inference import AnyPlan, Evidence
from clampgraph.diagnosis.network import Network, Node

__all__ = ["Explanation", "InfluencePaths", "PathStep", "influence_paths", "joint_explanations", "unexplained"]

Index = NDArray[np.intp]


@dataclass(frozen=True, slots=True)
class PathStep:
    """One node on an influence path, with the strength and the claim of the link that leads to it."""

    node: Node
    strength: float
    claim: str


@dataclass(frozen=True, slots=True)
class Explanation:
    """Failure modes that are present together, the other relevant ones absent, and the probability of that."""

    faults: tuple[str, ...]
    probability: float


@dataclass(frozen=True, slots=True)
class _Edge:
    """A link against the direction of influence: how long it is, how strong, and the claim it rests on."""

    length: float
    strength: float
    claim: str


Edges = Mapping[str, Mapping[str, _Edge]]
"""The edges from each node to its parents."""


def _edges(network: Network) -> Edges:
    found: dict[str, dict[str, _Edge]] = {}
    for node in network:
        for link in node.links:
            strength = node.strength if node.gate == "and" else link.strength
            if strength > 0.0:
                # A small toll for every step prefers the shorter of two equally probable paths.
                edge = _Edge(1e-9 - math.log(strength), strength, link.claim)
                found.setdefault(node.id, {})[link.parent] = edge
    return found


def _trails(edges: Edges, start: str) -> dict[str, list[str]]:
    """Return the shortest trail from a node to each that can be reached (Dijkstra 1959)."""
    shortest, trails, done = {start: 0.0}, {start: [start]}, set[str]()
    queue, number = [(0.0, 0, start)], 0
    while queue:
        length, _, node = heappop(queue)
        if node in done:
            continue
        done.add(node)
        for parent, edge in edges.get(node, {}).items():
            whole = length + edge.length
            if parent not in shortest or whole < shortest[parent]:
                shortest[parent], trails[parent] = whole, [*trails[node], parent]
                number += 1  # of two equal ones the first that was found goes first
                heappush(queue, (whole, number, parent))
    return trails


class InfluencePaths:
    """The most probable influence paths of a network; each is worked out when it is first asked for."""

    def __init__(self, network: Network) -> None:
        self.network = network
        self._edges = _edges(network)
        self._trails: dict[str, dict[str, list[str]]] = {}

    def causes(self, finding: str) -> Iterable[str]:
        """Return the nodes that influence a finding, and itself if any does."""
        if finding not in self._trails:
            linked = finding in self._edges or any(finding in parents for parents in self._edges.values())
            self._trails[finding] = _trails(self._edges, finding) if linked else {}
        return self._trails[finding]

    def path(self, cause: str, finding: str) -> tuple[PathStep, ...]:
        """Return the steps from a cause (first) to a finding (last); none where no influence runs."""
        if cause not in self.causes(finding):
            return ()
        forward = self._trails[finding][cause][::-1]
        steps = [PathStep(self.network.by_id[cause], 1.0, "")]
        for one, other in pairwise(forward):
            edge = self._edges[other][one]
            steps.append(PathStep(self.network.by_id[other], edge.strength, edge.claim))
        return tuple(steps)


def influence_paths(network: Network, findings: Sequence[str]) -> dict[str, dict[str, tuple[PathStep, ...]]]:
    """Return, for each finding and each node upstream of it, the most probable influence path.

    Parameters
    ----------
    network
        The derived network.
    findings
        Ids of symptoms or check outcomes that were seen.

    Returns
    -------
    dict
        ``paths[finding][cause]``: steps from the cause (first) to the finding (last).
    """
    paths = InfluencePaths(network)
    return {finding: {cause: paths.path(cause, finding) for cause in paths.causes(finding)} for finding in findings}


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
    search = _Search(plan, base, places, total)
    search.climb(count)
    search.prove(sum(posterior[mode] >= search.floor(count) for mode in ranked), count)
    named = [(chance, tuple(sorted(ranked[mode] for mode in faults))) for faults, chance in search.exact.items()]
    named.sort(key=lambda one: (-one[0], one[1]))
    return tuple(Explanation(faults, chance) for chance, faults in named[:count])


class _Search:
    """Sets of faults, as places in a ranking, with the exact probability that they and no others are present."""

    def __init__(self, plan: AnyPlan, base: Evidence, places: Index, total: float) -> None:
        self.plan, self.base, self.places, self.total = plan, base, places, total
        self.exact: dict[tuple[int, ...], float] = {}

    def floor(self, count: int) -> float:
        """Return what is to be beaten: the chance of the last set wanted, among those found.

        The margin is for rounding: an explanation of one fault alone is as probable as that fault itself.
        """
        return sorted(self.exact.values(), reverse=True)[:count][-1] * (1.0 - 1e-9)

    def climb(self, count: int) -> None:
        """Find good sets by adding one fault at a time to the best ones, as long as that finds better ones."""
        self._solve([(), *((mode,) for mode in range(len(self.places)))])
        floor, better = 0.0, True
        while better:
            best = sorted(self.exact, key=lambda faults: -self.exact[faults])[:count]
            self._solve([tuple(sorted({*faults, mode})) for faults in best for mode in range(len(self.places))])
            floor, better = self.floor(count), self.floor(count) > floor

    def prove(self, likely: int, count: int) -> None:
        """Find whatever was missed among the likely faults: grow every set whose bound is not beaten yet."""
        frontier: list[tuple[int, ...]] = [()]
        while frontier:
            grown = [(*faults, mode) for faults in frontier for mode in range(max(faults, default=-1) + 1, likely)]
            bound = self.plan.likelihood(self._rows(grown, likely)) / self.total
            floor = self.floor(count)
            frontier = [faults for faults, chance in zip(grown, bound.tolist(), strict=True) if chance >= floor]
            self._solve(frontier)

    def _solve(self, sets: Sequence[tuple[int, ...]]) -> None:
        new = [faults for faults in dict.fromkeys(sets) if faults not in self.exact]
        chance = self.plan.likelihood(self._rows(new, 0)) / self.total
        self.exact |= dict(zip(new, chance.tolist(), strict=True))

    def _rows(self, sets: Sequence[tuple[int, ...]], likely: int) -> Evidence:
        """Return evidence in which these faults are present and all others absent, but later likely ones open."""
        rows = np.repeat(self.base, len(sets), axis=0)
        for row, faults in zip(rows, sets, strict=True):
            if likely:
                row[self.places[faults[-1] + 1 : likely]] = -1
            row[self.places[list(faults)]] = 1
        return rows


def unexplained(
    plan: AnyPlan, network: Network, evidence: Mapping[str, bool], findings: Sequence[str]
) -> tuple[float, dict[str, float]]:
    """Return the probability that no cause in the model acts on any finding, and the same for each finding alone.

    Parameters
    ----------
    plan
        The compiled network.
    network
        The network it was compiled from.
    evidence
        Findings, by node id.
    findings
        The ids among them that were seen: leaf nodes that are noisy-ORs.

    Returns
    -------
    tuple
        The probability for all of them together (0 when there is none), and one for each.
    """
    if not findings:
        return 0.0, {}
    rows = np.repeat(plan.evidence([evidence]), len(findings) + 2, axis=0)
    columns = [plan.columns[finding] for finding in findings]
    rows[1, columns] = 0
    rows[np.arange(2, len(rows)), columns] = 0
    likelihood = plan.likelihood(rows)
    odds = [_odds(network.by_id[finding].leak) for finding in findings]
    ratios = likelihood[1:] / likelihood[0]
    together = float(ratios[0] * math.prod(odds))
    return together, {f: float(r * o) for f, r, o in zip(findings, ratios[1:], odds, strict=True)}


def _odds(leak: float) -> float:
    return leak / (1.0 - leak) if leak < 1.0 else math.inf
