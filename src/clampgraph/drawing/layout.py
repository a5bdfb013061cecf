"""Where everything goes: positions in bands by their designation, lines in channels between the layers.

A band holds the positions whose reference designations share their leading part, for example `=P1`.
Within a band a layered layout (fast-sugiyama) keeps crossings few; lines run square, each in a channel of its own.
A connection between bands is drawn as a pair of marks with the same letter, as circuit diagrams do.
"""

import itertools
import string
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from fast_sugiyama import from_edges

from clampgraph.assembly.topology import Assembly, Connection
from clampgraph.drawing.svg import Point

__all__ = ["Band", "Layout", "Mark", "Wire", "lay_out"]

STEP = 128.0
"""Distance between layers."""
ROW = 90.0
"""Distance between neighbours in a layer."""
MARGIN = 70.0
SPREAD = 14.0
"""Distance between ports on one side of a symbol."""
CHANNEL = 7.0
HEAD = 26.0
"""Height of a band's title."""
REACH = 36.0
"""Half the width that a symbol may take of its layer."""

Cell = tuple[int, float]


@dataclass(frozen=True, slots=True)
class Wire:
    """A connection within a band, as the corners of its line."""

    connection: Connection
    points: tuple[Point, ...]


@dataclass(frozen=True, slots=True)
class Mark:
    """One end of a connection between bands: a letter beside a port, to its right or left."""

    connection: Connection
    letter: str
    port: Point
    right: bool


@dataclass(frozen=True, slots=True)
class Band:
    """A band of the drawing: its name and its upper edge."""

    name: str
    top: float


@dataclass
class Layout:
    """Centres of positions, ports, lines, marks and bands, and the size of it all."""

    centres: dict[str, Point] = field(default_factory=dict)
    ports: dict[tuple[str, str], Point] = field(default_factory=dict)
    wires: list[Wire] = field(default_factory=list)
    marks: list[Mark] = field(default_factory=list)
    bands: list[Band] = field(default_factory=list)
    size: Point = (0.0, 0.0)


def lay_out(assembly: Assembly, reach: Mapping[str, float]) -> Layout:
    """Lay out an assembly.

    Parameters
    ----------
    assembly
        What to draw.
    reach
        How far the symbol of each position reaches from its centre to either side.
    """
    layout, top, width = Layout(), 10.0, 0.0
    home = {p.id: p.designation.partition("-")[0] for p in assembly.positions.values()}
    ways: dict[tuple[str, str], list[Point]] = {}
    for name, members in _bands(assembly, home).items():
        layout.bands.append(Band(name, top))
        cells, chains = _cells(members, _pairs(assembly, members))
        points = {k: (MARGIN + layer * STEP, top + HEAD + ROW / 2 + row * ROW) for k, (layer, row) in cells.items()}
        layout.centres.update({k: at for k, at in points.items() if isinstance(k, str)})
        ways.update({pair: [points[k] for k in passed] for pair, passed in chains.items()})
        top = max(y for _, y in points.values()) + ROW / 2 + 14.0
        width = max(width, *(x for x, _ in points.values()))
    _place_ports(assembly, layout, reach)
    inside = [c for c in assembly.connections if home[c.from_position] == home[c.to_position]]
    _route(layout, inside, ways)
    _mark(layout, [c for c in assembly.connections if home[c.from_position] != home[c.to_position]])
    layout.size = (width + MARGIN, top)
    return layout


def _bands(assembly: Assembly, home: Mapping[str, str]) -> dict[str, list[str]]:
    """Group positions, in the order in which the connections reach their bands."""
    reached = [home[p] for c in assembly.connections for p in (c.from_position, c.to_position)]
    found: dict[str, list[str]] = {name: [] for name in [*reached, *home.values()]}
    for position in assembly.positions:
        found[home[position]].append(position)
    return found


def _pairs(assembly: Assembly, members: Sequence[str]) -> list[tuple[str, str]]:
    known = set(members)
    pairs = ((c.from_position, c.to_position) for c in assembly.connections)
    return list(dict.fromkeys(pair for pair in pairs if known.issuperset(pair)))


def _cells(
    members: Sequence[str], pairs: Sequence[tuple[str, str]]
) -> tuple[dict[str | tuple[int, int], Cell], dict[tuple[str, str], list[tuple[int, int]]]]:
    """Return layer and row of members and waypoints, and the waypoints that each line passes."""
    cells: dict[str | tuple[int, int], Cell] = {}
    chains: dict[tuple[str, str], list[tuple[int, int]]] = {}
    below = 0.0
    laid = (
        from_edges(pairs, vertex_spacing=10, crossing_minimization="barycenter", dummy_vertices=True) if pairs else []
    )
    for part, (nodes, _, _, links) in enumerate(sorted(laid, key=lambda p: (-len(p[0]), str(p[0])))):
        left = min(x for _, (x, _) in nodes)
        last = max(y for _, (_, y) in nodes)
        for node, (x, y) in nodes:
            key = node if isinstance(node, str) else (part, node)
            cells[key] = (round((last - y) / 10), (x - left) / 10 + below)
        for start, end, passed in _chains(links or ()):
            chains[start, end] = [(part, node) for node in passed]
        below += max((x - left) / 10 for _, (x, _) in nodes) + 1.0
    for alone in sorted(set(members) - set(cells)):
        cells[alone] = (0, below)
        below += 1.0
    return cells, chains


def _chains(links: Iterable[tuple[str | int, str | int]]) -> Iterator[tuple[str, str, list[int]]]:
    """Follow each line from position to position over its numbered waypoints."""
    onward: dict[str | int, list[str | int]] = defaultdict(list)
    for start, end in links:
        onward[start].append(end)
    for start in [node for node in onward if isinstance(node, str)]:
        for step in onward[start]:
            passed: list[int] = []
            here = step
            while not isinstance(here, str):
                passed.append(here)
                here = onward[here][0]
            yield start, here, passed


def _place_ports(assembly: Assembly, layout: Layout, reach: Mapping[str, float]) -> None:
    """Put ports that give flow on the right and ports that take it on the left, ordered by where they lead."""
    sides: dict[tuple[str, bool], dict[str, float]] = defaultdict(dict)
    for c in assembly.connections:
        sides[c.from_position, True].setdefault(c.from_port, layout.centres[c.to_position][1])
        if c.to_port not in sides[c.to_position, True]:
            sides[c.to_position, False].setdefault(c.to_port, layout.centres[c.from_position][1])
    for (position, right), leading in sides.items():
        x, y = layout.centres[position]
        media = {port: assembly.positions[position].type.ports[port].medium for port in leading}
        for index, port in enumerate(sorted(leading, key=lambda p: (media[p] != "electric-signal", leading[p], p))):
            offset = (index - (len(leading) - 1) / 2) * SPREAD
            layout.ports[position, port] = (x + (reach[position] if right else -reach[position]), y + offset)


def _route(layout: Layout, connections: Sequence[Connection], ways: Mapping[tuple[str, str], list[Point]]) -> None:
    legs: dict[float, list[tuple[int, int, float, float]]] = defaultdict(list)
    stations: list[list[Point]] = []
    for number, c in enumerate(connections):
        start, end = layout.ports[c.from_position, c.from_port], layout.ports[c.to_position, c.to_port]
        stops = [start, *ways.get((c.from_position, c.to_position), []), end]
        stations.append(stops)
        for leg, ((x1, y1), (_, y2)) in enumerate(itertools.pairwise(stops)):
            legs[_layer(x1)].append((number, leg, y1, y2))
    channel = {(n, leg): x for gap, found in legs.items() for (n, leg), x in _channels(gap, found).items()}
    for number, c in enumerate(connections):
        stops = stations[number]
        points = [stops[0]]
        for leg, ((_, y1), (x2, y2)) in enumerate(itertools.pairwise(stops)):
            if y1 != y2:
                x = channel[number, leg]
                points += [(x, y1), (x, y2)]
            points.append((x2, y2))
        layout.wires.append(Wire(c, tuple(points)))


def _layer(x: float) -> float:
    return MARGIN + round((x - MARGIN) / STEP) * STEP


def _channels(layer: float, legs: Sequence[tuple[int, int, float, float]]) -> dict[tuple[int, int], float]:
    """Give vertical runs that would touch channels of their own; runs from one port share theirs."""
    nets: dict[float, list[tuple[int, int, float, float]]] = defaultdict(list)
    for leg in legs:
        if leg[2] != leg[3]:
            nets[leg[2]].append(leg)
    spans: list[list[tuple[float, float]]] = []
    found: dict[tuple[int, int], float] = {}
    for start in sorted(nets, key=lambda y: (nets[y][0][3] > y, y if nets[y][0][3] < y else -y)):
        ends = [leg[3] for leg in nets[start]]
        low, high = min(start, *ends), max(start, *ends)
        track = next(
            (i for i, used in enumerate(spans) if all(high < a - 4 or low > b + 4 for a, b in used)), len(spans)
        )
        if track == len(spans):
            spans.append([])
        spans[track].append((low, high))
        for number, turn, *_ in nets[start]:
            found[number, turn] = layer + REACH + CHANNEL * (track + 1)
    return found


def _mark(layout: Layout, connections: Sequence[Connection]) -> None:
    """Letter each port that leads to another band; connections from one port share a letter."""
    letters: dict[tuple[str, str], str] = {}
    for c in connections:
        start, end = (c.from_position, c.from_port), (c.to_position, c.to_port)
        index = len(letters)
        letter = letters.setdefault(start, string.ascii_lowercase[index % 26] * (1 + index // 26))
        layout.marks.append(Mark(c, letter, layout.ports[start], right=True))
        layout.marks.append(Mark(c, letter, layout.ports[end], right=False))
