"""Layers and rows for what follows from left to right: few crossings, long lines straight, the same every time.

After Sugiyama, Tagawa and Toda (1981, from memory): every position stands in the layer behind the last one that leads
to it; a line that skips layers passes a waypoint in each; sweeps to and fro sort each layer by the mean place of its
neighbours, and the order with the fewest crossings is kept.
Rows then follow the neighbours as closely as the order allows, by least squares with one row between neighbours.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from itertools import combinations, pairwise

import networkx as nx

__all__ = ["Name", "ranked"]

Name = str | tuple[int, int]
"""A position, or a waypoint of a long line."""

Chains = dict[tuple[str, str], list[tuple[int, int]]]
Cells = dict[Name, tuple[int, float]]

_SWEEPS = 12
_STIFF = 8.0
"""How much more a waypoint weighs than a position, so that long lines run straight."""


def ranked(members: Sequence[str], pairs: Sequence[tuple[str, str]]) -> tuple[Cells, Chains]:
    """Return layer and row of members and waypoints, and the waypoints that each line passes.

    Parameters
    ----------
    members
        What is to be placed.
    pairs
        Who leads to whom; there is no ring among them.
    """
    place = {name: index for index, name in enumerate(members)}
    flow: nx.DiGraph[str] = nx.DiGraph()
    flow.add_nodes_from(members)
    flow.add_edges_from(pairs)
    parts = [sorted(part, key=place.__getitem__) for part in nx.weakly_connected_components(flow)]
    cells: Cells = {}
    chains: Chains = {}
    below = 0.0
    for number, part in enumerate(sorted(parts, key=lambda p: (-len(p), place[p[0]]))):
        own = [pair for pair in pairs if pair[0] in part]
        layers, links, passed = _layers(number, part, own, flow)
        rows = _rows(_sorted(layers, links), links)
        top = min(rows.values())
        cells.update({name: (layer, below + rows[name] - top) for layer, names in enumerate(layers) for name in names})
        chains |= passed
        below += max(rows.values()) - top + 1.0
    return cells, chains


Links = list[tuple[Name, Name]]


def _layers(
    number: int, part: Sequence[str], pairs: Sequence[tuple[str, str]], flow: "nx.DiGraph[str]"
) -> tuple[list[list[Name]], Links, Chains]:
    """Return the members of each layer with the waypoints, the links from layer to layer, and the chains."""
    depth: dict[str, int] = {}
    for name in nx.lexicographical_topological_sort(flow.subgraph(part)):
        depth[name] = 1 + max((depth[before] for before in flow.predecessors(name)), default=-1)
    for name in part:
        if not flow.in_degree(name) and flow.out_degree(name):
            depth[name] = min(depth[after] for after in flow.successors(name)) - 1
    layers: list[list[Name]] = [[] for _ in range(1 + max(depth.values()))]
    for name in part:
        layers[depth[name]].append(name)
    links: Links = []
    chains: Chains = {}
    count = 0
    for start, end in pairs:
        passed = [(number, count + n) for n in range(depth[end] - depth[start] - 1)]
        count += len(passed)
        for step, waypoint in enumerate(passed, 1):
            layers[depth[start] + step].append(waypoint)
        links += pairwise([start, *passed, end])
        chains[start, end] = passed
    return layers, links, chains


def _around(links: Iterable[tuple[Name, Name]]) -> tuple[Mapping[Name, list[Name]], Mapping[Name, list[Name]]]:
    before: dict[Name, list[Name]] = defaultdict(list)
    after: dict[Name, list[Name]] = defaultdict(list)
    for start, end in links:
        before[end].append(start)
        after[start].append(end)
    return before, after


def _sorted(layers: list[list[Name]], links: Links) -> list[list[Name]]:
    """Sweep to and fro, and return the order with the fewest crossings."""
    before, after = _around(links)
    order = [list(layer) for layer in layers]
    best, fewest = order, _crossings(order, links)
    for sweep in range(_SWEEPS):
        forth = sweep % 2 == 0
        near = before if forth else after
        for layer in range(1, len(order)) if forth else range(len(order) - 2, -1, -1):
            beside = {name: at for at, name in enumerate(order[layer - 1 if forth else layer + 1])}
            own = {name: at for at, name in enumerate(order[layer])}
            mean = {n: _mean([beside[o] for o in near[n]], own[n]) for n in order[layer]}
            order[layer].sort(key=lambda n, mean=mean, own=own: (mean[n], own[n]))  # type: ignore[misc]  # bound here
        found = _crossings(order, links)
        if found < fewest:
            best, fewest = [list(layer) for layer in order], found
    return best


def _mean(values: Sequence[float], default: float) -> float:
    return sum(values) / len(values) if values else default


def _crossings(order: Sequence[Sequence[Name]], links: Links) -> int:
    at = {name: (layer, index) for layer, names in enumerate(order) for index, name in enumerate(names)}
    gaps: dict[int, list[tuple[int, int]]] = defaultdict(list)
    for start, end in links:
        gaps[at[start][0]].append((at[start][1], at[end][1]))
    return sum((a - c) * (b - d) < 0 for found in gaps.values() for (a, b), (c, d) in combinations(found, 2))


def _rows(order: Sequence[Sequence[Name]], links: Links) -> dict[Name, float]:
    """Follow the neighbours as closely as the order allows, to half a row."""
    before, after = _around(links)
    rows: dict[Name, float] = {n: i - (len(names) - 1) / 2 for names in order for i, n in enumerate(names)}
    for sweep in range(_SWEEPS):
        forth = sweep % 2 == 0
        for names in order if forth else reversed(order):
            near = [before[n] if forth and before[n] else after[n] or before[n] for n in names]
            aims = [_mean([rows[o] for o in those], rows[n]) for n, those in zip(names, near, strict=True)]
            rows.update(zip(names, _spread(aims, [_weight(n) for n in names]), strict=True))
    for names in order:
        last = -1e9
        for name in names:
            rows[name] = last = max(round(2 * rows[name]) / 2, last + 1.0)
    return rows


def _weight(name: Name) -> float:
    return 1.0 if isinstance(name, str) else _STIFF


def _spread(aims: Sequence[float], weights: Sequence[float]) -> list[float]:
    """Return rows at least one apart that are nearest to the aims: pool adjacent violators."""
    pools: list[tuple[float, float, int]] = []
    for index, (aim, weight) in enumerate(zip(aims, weights, strict=True)):
        mean, mass, count = aim - index, weight, 1
        while pools and pools[-1][0] > mean:
            other, more, length = pools.pop()
            mean, mass, count = (mean * mass + other * more) / (mass + more), mass + more, count + length
        pools.append((mean, mass, count))
    level = [mean for mean, _, count in pools for _ in range(count)]
    return [value + index for index, value in enumerate(level)]
