"""Where everything goes: positions in bands by their designation, each in a column as wide as it needs to be.

A band holds the positions whose reference designations share their leading part, for example `=P1`.
Within a band everything follows from left to right, in layers and rows (see `ranking`).
A connection between bands, or against the flow within one, is drawn as a pair of marks with the same letter,
as circuit diagrams do: a line that runs back would cross all that it passes.
Columns stand as far apart as the marks, captions and lines between them ask for (see `routing`).
"""

import string
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

import networkx as nx

from clampgraph.assembly.topology import Assembly, Connection
from clampgraph.drawing.ranking import ranked
from clampgraph.drawing.routing import CHANNEL, Leg, Wire, legs_of, tracks, wires
from clampgraph.drawing.svg import Point, extent
from clampgraph.drawing.symbols import Geometry

__all__ = ["CAPTION", "Band", "Layout", "Mark", "lay_out"]

ROW = 90.0
"""Distance between neighbours in a column."""
MARGIN = 16.0
SPREAD = 12.0
"""Distance between ports on one side of a symbol."""
HEAD = 26.0
"""Height of a band's title."""
STUB = 12.0
"""From a port to the first mark beside it, which leaves room for the port's number."""
DISC = 13.0
"""Width of a mark."""
CAPTION = 8.5
"""Size of the letters of a caption."""


@dataclass(frozen=True, slots=True)
class Mark:
    """One end of a connection that is drawn as a pair: a letter beside a port, `reach` away from it."""

    connection: Connection
    letter: str
    port: Point
    right: bool
    reach: float


@dataclass(frozen=True, slots=True)
class Band:
    """A band of the drawing: its name, its upper left corner and its width; narrow ones stand side by side."""

    name: str
    left: float
    top: float
    width: float


@dataclass
class Layout:
    """Centres of positions, ports, lines, marks and bands, and the size of it all."""

    centres: dict[str, Point] = field(default_factory=dict)
    ports: dict[tuple[str, str], Point] = field(default_factory=dict)
    wires: list[Wire] = field(default_factory=list)
    marks: list[Mark] = field(default_factory=list)
    bands: list[Band] = field(default_factory=list)
    size: Point = (0.0, 0.0)


def lay_out(assembly: Assembly, shapes: Mapping[str, Geometry]) -> Layout:
    """Lay out an assembly.

    Parameters
    ----------
    assembly
        What to draw.
    shapes
        The geometry of the symbol at each position.
    """
    layout, top = Layout(), 10.0
    home = {p.id: p.designation.partition("-")[0] for p in assembly.positions.values()}
    bands = [_Part(assembly, shapes, name, members) for name, members in _bands(assembly, home).items()]
    drawn = {c.iri for band in bands for c in band.lines}
    rest = [c for c in assembly.connections if c.iri not in drawn]
    letters = _letters(rest)
    widest = max(band.width(rest) for band in bands)
    left, bottom = 0.0, top
    for band in bands:
        width = band.width(rest)
        if left and left + width > widest:
            left, top = 0.0, bottom
        band.place(rest, (left, top))
        layout.bands.append(Band(band.name, left, top, width))
        layout.centres.update(band.centres)
        layout.ports.update(band.ports)
        layout.wires += wires(band.legs, band.channels)
        layout.marks += band.marks(rest, letters)
        left, bottom = left + width, max(bottom, band.bottom)
    _stretch(layout.bands, widest)
    layout.size = (widest, bottom)
    return layout


def _stretch(bands: list[Band], width: float) -> None:
    """Let the last band of each row reach to the right edge."""
    for index, band in enumerate(bands):
        if index + 1 == len(bands) or bands[index + 1].left <= band.left:
            bands[index] = replace(band, width=width - band.left)


def _bands(assembly: Assembly, home: Mapping[str, str]) -> dict[str, list[str]]:
    """Group positions, in the order in which the connections reach their bands."""
    reached = [home[p] for c in assembly.connections for p in (c.from_position, c.to_position)]
    found: dict[str, list[str]] = {name: [] for name in [*reached, *home.values()]}
    for position in assembly.positions:
        found[home[position]].append(position)
    return found


def _letters(connections: Sequence[Connection]) -> dict[tuple[str, str], str]:
    """Letter each port that a pair of marks begins at; connections from one port share a letter."""
    letters: dict[tuple[str, str], str] = {}
    for c in connections:
        index = len(letters)
        letters.setdefault((c.from_position, c.from_port), string.ascii_lowercase[index % 26] * (1 + index // 26))
    return letters


Offsets = Mapping[tuple[str, str], tuple[bool, float]]
"""Whether a port is on the right of its position, and its level from the centre."""


class _Part:
    """One band while it is laid out: first levels, from them marks and channels, from those the columns."""

    def __init__(self, assembly: Assembly, shapes: Mapping[str, Geometry], name: str, members: Sequence[str]) -> None:
        self.assembly, self.shapes, self.name = assembly, shapes, name
        known = set(members)
        self.lines = _with_the_flow([c for c in assembly.connections if {c.from_position, c.to_position} <= known])
        pairs = list(dict.fromkeys((c.from_position, c.to_position) for c in self.lines))
        self.cells, self.chains = ranked(members, pairs)
        self.levels = {k: HEAD + ROW / 2 + row * ROW for k, (_, row) in self.cells.items()}
        self.centres: dict[str, Point] = {}
        self.ports: dict[tuple[str, str], Point] = {}
        self.legs: list[Leg] = []
        self.channels: dict[tuple[int, int], float] = {}
        self.bottom = 0.0

    def width(self, rest: Sequence[Connection]) -> float:
        """Return how wide the band is, its marks included."""
        offsets = self._offsets(rest)
        return self._columns(offsets, rest, tracks(self._cut(offsets)))[1]

    def place(self, rest: Sequence[Connection], corner: Point) -> None:
        """Fix where everything of the band stands, from its upper left corner on."""
        left, top = corner
        offsets = self._offsets(rest)
        legs = self._cut(offsets)
        running = tracks(legs)
        columns, _ = self._columns(offsets, rest, running)
        places = {k: (left + columns[layer][0], top + self.levels[k]) for k, (layer, _) in self.cells.items()}
        self.centres = {k: at for k, at in places.items() if isinstance(k, str)}
        for (position, port), (right, y) in offsets.items():
            x, reach = self.centres[position][0], self.shapes[position].edge
            self.ports[position, port] = (x + (reach if right else -reach), self.centres[position][1] + y)
        gaps = {layer: left + start for layer, (_, start) in columns.items()}
        self.channels = {
            leg.key: gaps[leg.layer] + CHANNEL * (running[leg.key] + 1) for leg in legs if leg.key in running
        }
        self.legs = [leg.between(self.ports, places) for leg in legs]
        self.bottom = max(y for _, y in self.centres.values()) + ROW / 2 + 14.0

    def _cut(self, offsets: Offsets) -> list[Leg]:
        heights = {(position, port): self.levels[position] + y for (position, port), (_, y) in offsets.items()}
        layers = {k: layer for k, (layer, _) in self.cells.items()}
        return legs_of(self.lines, layers, self.chains, self.levels, heights)

    def _offsets(self, rest: Sequence[Connection]) -> Offsets:
        """Put ports that give on the right and ports that take on the left, signals first, then by where they lead."""
        sides: dict[tuple[str, bool], dict[str, float]] = defaultdict(dict)
        connections = [*self.lines, *rest]
        for c in connections:
            if c.from_position in self.levels:
                aim = self.levels.get(c.to_position, self.levels[c.from_position])
                sides[c.from_position, True].setdefault(c.from_port, aim)
        for c in connections:
            if c.to_position in self.levels and c.to_port not in sides[c.to_position, True]:
                aim = self.levels.get(c.from_position, self.levels[c.to_position])
                sides[c.to_position, False].setdefault(c.to_port, aim)
        found = {}
        for (position, right), leading in sides.items():
            signal = {port: self._medium(position, port) == "electric-signal" for port in leading}
            order = sorted(leading, key=lambda p: (not signal[p], leading[p], p))
            levels = self.shapes[position].heights([signal[p] for p in order], SPREAD, right=right)
            found.update({(position, port): (right, y) for port, y in zip(order, levels, strict=True)})
        return found

    def _medium(self, position: str, port: str) -> str:
        return self.assembly.positions[position].type.ports[port].medium

    def _columns(
        self, offsets: Offsets, rest: Sequence[Connection], running: Mapping[tuple[int, int], int]
    ) -> tuple[dict[int, tuple[float, float]], float]:
        """Return the centre of each column and where the channels behind it begin, and the width of the band."""
        need: dict[tuple[int, bool], float] = defaultdict(lambda: 8.0)
        for position, right, reach in self._needs(offsets, rest):
            layer = self.cells[position][0]
            need[layer, right] = max(need[layer, right], reach)
        used: dict[int, int] = defaultdict(int)
        for leg in self._cut(offsets):
            if leg.key in running:
                used[leg.layer] = max(used[leg.layer], running[leg.key] + 1)
        columns, edge = {}, MARGIN
        for layer in range(1 + max(layer for layer, _ in self.cells.values())):
            centre = edge + need[layer, False]
            columns[layer] = (centre, centre + need[layer, True] - CHANNEL / 2)
            edge = centre + need[layer, True] + CHANNEL * (used[layer] + bool(used[layer]))
        return columns, edge + MARGIN

    def _needs(self, offsets: Offsets, rest: Sequence[Connection]) -> Iterator[tuple[str, bool, float]]:
        """Give the room that each position needs to either side: for its caption, its lines and its marks."""
        for position in (k for k in self.cells if isinstance(k, str)):
            designation = self.assembly.positions[position].designation
            caption = max(extent(designation, CAPTION, bold=True), extent(position, CAPTION)) / 2 + 3.0
            for right in (False, True):
                yield position, right, max(caption, self.shapes[position].edge + STUB + 4.0)
        for (position, port), marks in self._marked(offsets, rest).items():
            yield position, offsets[position, port][0], self.shapes[position].edge + marks[-1][1] + DISC / 2 + 3.0

    def _marked(
        self, offsets: Offsets, rest: Sequence[Connection]
    ) -> dict[tuple[str, str], list[tuple[tuple[str, str], float]]]:
        """Return, for each port with marks, the ports that they begin at and how far away each mark stands.

        A mark that would touch one at a neighbouring port stands further out.
        """
        at: dict[tuple[str, str], list[tuple[str, str]]] = {}
        for c in rest:
            start = (c.from_position, c.from_port)
            for end in (start, (c.to_position, c.to_port)):
                if end in offsets and start not in at.setdefault(end, []):
                    at[end].append(start)
        found: dict[tuple[str, str], list[tuple[tuple[str, str], float]]] = {}
        for end in sorted(at, key=lambda e: (e[0], offsets[e])):
            near = [
                reach
                for other, marks in found.items()
                if other[0] == end[0] and offsets[other][0] == offsets[end][0]
                and abs(offsets[other][1] - offsets[end][1]) < DISC + 0.5
                for _, reach in marks
            ]  # fmt: skip
            first = STUB + DISC / 2
            while any(abs(first - reach) < DISC + 0.5 for reach in near):
                first += DISC + 1.0
            found[end] = [(start, first + (DISC + 1.0) * n) for n, start in enumerate(at[end])]
        return found

    def marks(self, rest: Sequence[Connection], letters: Mapping[tuple[str, str], str]) -> Iterator[Mark]:
        """Give the marks of this band."""
        offsets = self._offsets(rest)
        placed = self._marked(offsets, rest)
        for c in rest:
            start = (c.from_position, c.from_port)
            for end in (start, (c.to_position, c.to_port)):
                if end in placed:
                    yield Mark(c, letters[start], self.ports[end], offsets[end][0], dict(placed[end])[start])


def _with_the_flow(connections: Sequence[Connection]) -> list[Connection]:
    """Return the connections that can all be drawn from left to right; what closes a ring is left out."""
    flow: nx.DiGraph[str] = nx.DiGraph()
    found = []
    for c in connections:
        if c.from_position in flow and c.to_position in flow and nx.has_path(flow, c.to_position, c.from_position):
            continue
        flow.add_edge(c.from_position, c.to_position)
        found.append(c)
    return found
