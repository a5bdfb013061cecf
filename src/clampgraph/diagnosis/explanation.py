"""Why: influence paths, and how much nothing in the model explains.

The path from a cause to a finding is the one along which influence is most probable:
the shortest path when a link of strength s has length ``-ln s``.

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

__all__ = ["InfluencePaths", "PathStep", "influence_paths", "unexplained", "unexplained_many"]


@dataclass(frozen=True, slots=True)
class PathStep:
    """One node on an influence path, with the strength and the claim of the link that leads to it."""

    node: Node
    strength: float
    claim: str


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
    together = float(ratios[0] * math.prod(sorted(odds)))  # sorted: the same digits in whatever order they were put
    return together, {f: float(r * o) for f, r, o in zip(findings, ratios[1:], odds, strict=True)}


def unexplained_many(
    plan: AnyPlan, network: Network, evidence: Evidence, probability: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return the first answer of `unexplained` for many sets of findings, to the last bit.

    Parameters
    ----------
    plan
        The compiled network.
    network
        The network it was compiled from.
    evidence
        Shape (batch, columns), as the plan makes it.
    probability
        P(evidence), shape (batch,).
    """
    odds = {plan.columns[node.id]: _odds(node.leak) for node in network if node.kind in ("symptom", "check")}
    absent = evidence.copy()
    absent[:, list(odds)] = np.minimum(absent[:, list(odds)], 0)
    alike: dict[bytes, int] = {}
    place = [alike.setdefault(row.tobytes(), len(alike)) for row in absent]
    rows = np.frombuffer(b"".join(alike), absent.dtype).reshape(-1, absent.shape[1])
    several = np.ones(len(evidence))
    for column, times in sorted(odds.items(), key=lambda pair: pair[1]):
        several[evidence[:, column] == 1] *= times
    with np.errstate(divide="ignore", invalid="ignore"):
        together = plan.likelihood(rows)[place] / probability * several
    answer: NDArray[np.float64] = np.where((evidence[:, list(odds)] == 1).any(axis=1), together, 0.0)
    return answer


def _odds(leak: float) -> float:
    return leak / (1.0 - leak) if leak < 1.0 else math.inf
