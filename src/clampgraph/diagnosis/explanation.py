"""Why: influence paths, joint explanations, and how much nothing in the model explains.

The path from a cause to a finding is the one along which influence is most probable:
the shortest path when a link of strength s has length ``-ln s``.

A joint explanation says which failure modes are present, and that the others which could explain a finding are not.
The most probable ones are found exactly: assignments are refined one failure mode at a time,
and one is dropped only when its probability, an upper bound for all its refinements, lies below what is already
found complete.

A finding is unexplained when it was reported although no cause in the model acts on it, that is by its leak alone.
For noisy-OR findings that probability follows from one more evaluation with the findings turned off.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from heapq import heappop, heappush
from itertools import pairwise

import numpy as np

from clampgraph.diagnosis.inference import Plan
from clampgraph.diagnosis.network import Network, Node

__all__ = ["Explanation", "PathStep", "influence_paths", "joint_explanations", "unexplained"]


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
    edges = _edges(network)
    linked = {*edges, *(parent for parents in edges.values() for parent in parents)}
    return {
        finding: {cause: _steps(network, edges, trail) for cause, trail in _trails(edges, finding).items()}
        if finding in linked
        else {}
        for finding in findings
    }


def _steps(network: Network, edges: Edges, trail: Sequence[str]) -> tuple[PathStep, ...]:
    forward = list(reversed(trail))
    steps = [PathStep(network.by_id[forward[0]], 1.0, "")]
    for cause, effect in pairwise(forward):
        edge = edges[effect][cause]
        steps.append(PathStep(network.by_id[effect], edge.strength, edge.claim))
    return tuple(steps)


def joint_explanations(
    plan: Plan, evidence: Mapping[str, bool], posterior: Mapping[str, float], modes: Sequence[str], count: int = 5
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
    total = plan.likelihood(plan.evidence([evidence]))[0]
    if total == 0.0 or not modes:
        return ()
    absent = dict.fromkeys(modes, False)
    rows = [{**evidence, **absent}, *({**evidence, **absent, mode: True} for mode in modes)]
    complete = np.sort(plan.likelihood(plan.evidence(rows)) / total)[::-1]
    # The margin is for rounding: an explanation of one fault alone is as probable as that fault itself.
    floor = float(complete[min(count, len(complete)) - 1]) * (1.0 - 1e-9)
    candidates = sorted((m for m in modes if posterior[m] >= floor), key=lambda m: (-posterior[m], m))
    fixed = {**evidence, **{m: False for m in modes if m not in set(candidates)}}
    start = float(plan.likelihood(plan.evidence([fixed]))[0] / total)
    frontier: list[tuple[tuple[str, ...], float]] = [((), start)]
    decided: dict[str, bool] = {}
    for mode in candidates:
        rows = [{**fixed, **decided, **dict.fromkeys(faults, True), mode: True} for faults, _ in frontier]
        present = plan.likelihood(plan.evidence(rows)) / total
        decided[mode] = False
        grown = [((*faults, mode), float(p)) for (faults, _), p in zip(frontier, present, strict=True)]
        grown += [(faults, chance - float(p)) for (faults, chance), p in zip(frontier, present, strict=True)]
        frontier = [(faults, chance) for faults, chance in grown if chance >= floor]
    frontier.sort(key=lambda found: (-found[1], found[0]))
    return tuple(Explanation(tuple(sorted(faults)), chance) for faults, chance in frontier[:count])


def unexplained(
    plan: Plan, network: Network, evidence: Mapping[str, bool], findings: Sequence[str]
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
    rows = [evidence, {**evidence, **dict.fromkeys(findings, False)}]
    rows += [{**evidence, finding: False} for finding in findings]
    likelihood = plan.likelihood(plan.evidence(rows))
    odds = [_odds(network.by_id[finding].leak) for finding in findings]
    ratios = likelihood[1:] / likelihood[0]
    together = float(ratios[0] * math.prod(odds))
    return together, {f: float(r * o) for f, r, o in zip(findings, ratios[1:], odds, strict=True)}


def _odds(leak: float) -> float:
    return leak / (1.0 - leak) if leak < 1.0 else math.inf
