"""How lines run between columns: square, each upright run in a channel of its own.

A leg of a line leads from one column to the next: level, upright in a channel, level again.
Legs that begin at the same place are one net and share a channel.
Two nets get channels of their own where their upright runs would touch;
and where one net ends on the level at which another begins, that other turns off before it arrives.
"""

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from clampgraph.assembly.topology import Connection
from clampgraph.drawing.ranking import Name
from clampgraph.drawing.svg import Point

__all__ = ["CHANNEL", "Leg", "Wire", "junctions", "legs_of", "tracks", "wires"]

CHANNEL = 9.0
"""Distance between channels."""
CLEAR = 4.0
"""How far runs in one channel stay apart."""


@dataclass(frozen=True, slots=True)
class Wire:
    """A connection within a band, as the corners of its line."""

    connection: Connection
    points: tuple[Point, ...]


@dataclass(frozen=True, slots=True)
class Leg:
    """A part of a line from one column to the next, between the levels `start` and `end`; `xs` are its ends."""

    connection: Connection
    key: tuple[int, int]
    layer: int
    ends: tuple[Name | tuple[str, str], Name | tuple[str, str]]
    start: float
    end: float
    xs: tuple[float, float] = (0.0, 0.0)

    def between(self, ports: Mapping[tuple[str, str], Point], places: Mapping[Name, Point]) -> "Leg":
        """Return the leg where it is to be drawn: from port or waypoint to waypoint or port."""
        found = [ports[e] if e in ports else places[e] for e in self.ends]  # type: ignore[index]  # one or the other
        (x1, y1), (x2, y2) = found
        return replace(self, start=y1, end=y2, xs=(x1, x2))


def legs_of(
    connections: Sequence[Connection],
    layers: Mapping[Name, int],
    chains: Mapping[tuple[str, str], Sequence[tuple[int, int]]],
    rows: Mapping[Name, float],
    heights: Mapping[tuple[str, str], float],
) -> list[Leg]:
    """Cut every connection into legs.

    Parameters
    ----------
    connections
        Those that are drawn as lines.
    layers
        The column of each position and waypoint.
    chains
        The waypoints that a line between two positions passes.
    rows
        The level of each waypoint.
    heights
        The level of each port.
    """
    found = []
    for number, c in enumerate(connections):
        first, last = (c.from_position, c.from_port), (c.to_position, c.to_port)
        passed = list(chains.get((c.from_position, c.to_position), ()))
        columns = [layers[c.from_position], *(layers[k] for k in passed)]
        stops: list[tuple[Name | tuple[str, str], float]] = [
            (first, heights[first]), *((k, rows[k]) for k in passed), (last, heights[last]),
        ]  # fmt: skip
        for turn, (((a, y1), (b, y2)), layer) in enumerate(zip(pairwise(stops), columns, strict=True)):
            found.append(Leg(c, (number, turn), layer, (a, b), y1, y2))
    return found


def tracks(legs: Sequence[Leg]) -> dict[tuple[int, int], int]:
    """Return the channel of every leg that has an upright run, counted from the left of its gap."""
    gaps: dict[int, list[Leg]] = defaultdict(list)
    for leg in legs:
        gaps[leg.layer].append(leg)
    return {key: track for found in gaps.values() for key, track in _gap(found).items()}


def _gap(legs: Sequence[Leg]) -> dict[tuple[int, int], int]:
    nets: dict[float, list[Leg]] = defaultdict(list)
    for leg in legs:
        if leg.start != leg.end:
            nets[leg.start].append(leg)
    order = _in_order(nets)
    spans: dict[float, tuple[float, float]] = {
        start: (min(start, *(leg.end for leg in nets[start])), max(start, *(leg.end for leg in nets[start])))
        for start in order
    }
    found: dict[float, int] = {}
    for start in order:
        low, high = spans[start]
        track = max((found[o] + 1 for o in found if _turns_before(nets, o, start)), default=0)
        while any(
            found[other] == track and low <= spans[other][1] + CLEAR and high >= spans[other][0] - CLEAR
            for other in found
        ):
            track += 1
        found[start] = track
    return {leg.key: found[start] for start in order for leg in nets[start]}


def _turns_before(nets: Mapping[float, Sequence[Leg]], one: float, other: float) -> bool:
    """Tell whether a net begins on a level on which the other arrives, so that it has to turn off to the left of it."""
    return any(abs(leg.end - one) < CLEAR for leg in nets[other])


def _in_order(nets: Mapping[float, Sequence[Leg]]) -> list[float]:
    """Sort nets: whoever has to turn off before another comes first; else those that lead up from the top first."""
    left = sorted(nets, key=lambda y: (nets[y][0].end > y, y if nets[y][0].end < y else -y))
    order: list[float] = []
    while left:
        free = [n for n in left if not any(_turns_before(nets, other, n) for other in left if other != n)]
        chosen = (free or left)[0]
        order.append(chosen)
        left.remove(chosen)
    return order


def wires(legs: Sequence[Leg], channels: Mapping[tuple[int, int], float]) -> Iterator[Wire]:
    """Give each connection as one line."""
    of: dict[str, list[Leg]] = defaultdict(list)
    for leg in legs:
        of[leg.connection.iri].append(leg)
    for found in of.values():
        points: list[Point] = [(found[0].xs[0], found[0].start)]
        for leg in found:
            if leg.key in channels:
                x = channels[leg.key]
                points += [(x, leg.start), (x, leg.end)]
            points.append((leg.xs[1], leg.end))
        yield Wire(found[0].connection, tuple(points))


def junctions(lines: Sequence[Wire]) -> list[Point]:
    """Return the corners at which lines join: where more than two ways lead off."""
    runs = {(a, b) for wire in lines for a, b in pairwise(wire.points) if a != b}
    found = []
    for corner in sorted({p for wire in lines for p in wire.points[1:-1]}):
        ways = {way for run in runs for way in _ways(corner, run)}
        if len(ways) > 2:
            found.append(corner)
    return found


def _ways(corner: Point, run: tuple[Point, Point]) -> Iterator[tuple[int, int]]:
    """Give the directions in which a run leads away from a corner that lies on it."""
    (x, y), ((x1, y1), (x2, y2)) = corner, run
    level = y1 == y2 == y and min(x1, x2) <= x <= max(x1, x2)
    upright = x1 == x2 == x and min(y1, y2) <= y <= max(y1, y2)
    if level or upright:
        for px, py in run:
            if (px, py) != corner:
                yield (px > x) - (px < x), (py > y) - (py < y)
