"""The circuit of an assembly as one picture, for one phase or at rest."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from clampgraph.assembly import Assembly, Knowledge
from clampgraph.assembly.deviations import Joints
from clampgraph.assembly.topology import Connection, Position
from clampgraph.drawing.layout import CAPTION, DISC, Layout, Mark, lay_out
from clampgraph.drawing.routing import junctions
from clampgraph.drawing.svg import Point, circle, document, extent, group, polyline, rect, text
from clampgraph.drawing.symbols import Geometry, draw, geometry

__all__ = ["CircuitStyle", "circuit"]

_LINES: Mapping[str, dict[str, str | float]] = {
    "signal": {"stroke_width": 1.0, "stroke_dasharray": "1.5 3"},
    "force": {"stroke_width": 3.4, "stroke": "#888888"},
    "fluid": {"stroke_width": 1.2},
    "vent": {"stroke_width": 1.6, "stroke_dasharray": "6 4"},
    "pressure": {"stroke_width": 2.8},
}
"""How each kind of line looks; a later one is drawn over an earlier one where they share a pipe."""
_KIND_OF_MEDIUM = {"mechanical-force": "force", "seal-contact": "force", "electric-signal": "signal"}
_LEGEND = (
    ("pressure", "carries pressure"),
    ("vent", "vents"),
    ("fluid", "neither in this phase"),
    ("force", "force or contact"),
    ("signal", "electric signal"),
)


@dataclass(frozen=True, slots=True)
class CircuitStyle:
    """What to show: the phase, the symbol of each position, and suspects with their captions, in order.

    `name` is the stem of the picture's identifiers in a page.
    """

    phase: str
    symbols: Mapping[str, str]
    suspects: Mapping[str, str] = field(default_factory=dict)
    name: str = ""


def circuit(assembly: Assembly, knowledge: Knowledge, style: CircuitStyle) -> str:
    """Draw the circuit of an assembly as SVG.

    Fluid lines show which carry pressure and which vent in the phase, when nothing has failed.
    Suspects stand in dashed frames with numbers, explained in the legend.
    Everything can be told apart in black and white.
    """
    layout = lay_out(assembly, {p: geometry(style.symbols[p]) for p in assembly.positions})
    joints = Joints(assembly, knowledge)
    kinds = {c.iri: _kind(assembly, knowledge, joints, style.phase, c) for c in assembly.connections}
    width, height = layout.size
    stem = f"{style.name}-" if style.name else ""
    parts = [
        text(
            (14, layout.bands[0].top + 8),
            f"{assembly.label}, {assembly.generation.id}",
            font_size=13,
            font_weight="bold",
        ),
        group(_bands(layout), class_="bands"),
        group(_lines(layout, kinds), class_="connections"),
        *(group(_position(p, layout, style), id=f"{stem}position-{p.id}") for p in assembly.positions.values()),
        group(_legend(style, knowledge, height), class_="legend"),
    ]
    title = f"Circuit of {assembly.id} {assembly.generation.id}, phase {style.phase}"
    rows = max(len(_LEGEND), len(style.suspects)) + 1
    size = (max(width, 520.0), height + 18.0 * rows)
    return document(size, title, _description(assembly, style, kinds), parts, style.name)


def _kind(assembly: Assembly, knowledge: Knowledge, joints: Joints, phase: str, c: Connection) -> str:
    medium = assembly.positions[c.from_position].type.ports[c.from_port].medium
    if medium in _KIND_OF_MEDIUM:
        return _KIND_OF_MEDIUM[medium]
    start, end = (c.from_position, c.from_port), (c.to_position, c.to_port)
    found = {
        "vent" if quantity.free_when_open else "pressure"
        for quantity in knowledge.quantities.values()
        if quantity.redundant
        and (joints.supplies(phase, start, end, quantity.id) or joints.supplies(phase, end, start, quantity.id))
    }
    return "pressure" if "pressure" in found else "vent" if found else "fluid"


def _description(assembly: Assembly, style: CircuitStyle, kinds: Mapping[str, str]) -> str:
    told = {"pressure": "under pressure", "vent": "venting", "force": "to", "signal": "signal to", "fluid": "at rest"}
    steps = [f"{c.from_position} {told[kinds[c.iri]]} {c.to_position}" for c in assembly.connections]
    suspects = [f"suspect {n}: {p}, {caption}" for n, (p, caption) in enumerate(style.suspects.items(), 1)]
    return "; ".join([*suspects, *steps]) + "."


def _bands(layout: Layout) -> Iterator[str]:
    for band in layout.bands:
        left, right = band.left + 14, band.left + band.width - 14
        yield polyline([(left, band.top + 14), (right, band.top + 14)], stroke="#767676", stroke_width=0.6)
        yield text((left, band.top + 26), band.name, font_size=9, font_style="italic")


def _lines(layout: Layout, kinds: Mapping[str, str]) -> Iterator[str]:
    """Draw lines, the ones that matter most in the phase on top; then where they join, then the marks."""
    stubs = [(_stub(mark), mark.connection) for mark in layout.marks]
    runs = [*((wire.points, wire.connection) for wire in layout.wires), *stubs]
    for kind, look in _LINES.items():
        found = dict.fromkeys(points for points, connection in runs if kinds[connection.iri] == kind)
        for points in found:
            if kind == "vent":
                yield polyline(points, stroke_width=3, stroke="white")
            yield polyline(points, **look)
    for corner in junctions(layout.wires):
        yield circle(corner, 2.6, fill="black", stroke="none")
    for x, y, letter in dict.fromkeys((*_stub(mark)[1], mark.letter) for mark in layout.marks):
        yield circle((x, y), DISC / 2, fill="white", stroke_width=0.9)
        yield text((x, y + 3), letter, text_anchor="middle", font_size=9)


def _stub(mark: Mark) -> tuple[Point, Point]:
    """Return the line from a port to the middle of its mark."""
    x, y = mark.port
    return (x, y), (x + (mark.reach if mark.right else -mark.reach), y)


def _position(position: Position, layout: Layout, style: CircuitStyle) -> Iterator[str]:
    x, y = layout.centres[position.id]
    shape = geometry(style.symbols[position.id])
    ports = {port: at for (owner, port), at in layout.ports.items() if owner == position.id}
    below = max((py - y for _, py in ports.values()), default=0.0)
    caption = y + max(31.0, below + 16.0)
    if position.id in style.suspects:
        number = list(style.suspects).index(position.id) + 1
        half = max(shape.edge + 6.0, extent(position.id, CAPTION) / 2 + 2.0)
        corner = (x - half, y - 28)
        yield rect(corner, (2 * half, caption + 14 - y + 28), rx=6, stroke_width=2.4, stroke_dasharray="5 3")
        yield circle(corner, 8, fill="black", stroke="black")
        yield text((corner[0], corner[1] + 3.5), str(number), text_anchor="middle", style="fill: white")
    yield from _led(position, (x, y), shape, ports)
    yield group(draw(style.symbols[position.id]), transform=f"translate({x:.1f} {y:.1f})", fill="white")
    yield text((x, caption), position.designation, text_anchor="middle", font_size=CAPTION, font_weight="bold")
    yield text((x, caption + 9.5), position.id, text_anchor="middle", font_size=CAPTION)
    for port, (px, py) in ports.items():
        if port.isalnum() and len(port) <= 2:
            outward = 2.0 if px > x else -2.0
            yield text((px + outward, py - 2.5), port, text_anchor="start" if px > x else "end", font_size=7)


def _led(position: Position, centre: Point, shape: Geometry, ports: Mapping[str, Point]) -> Iterator[str]:
    """Lead ports on to the body: past its wings, or over a bar where they stand beside it."""
    x, y = centre
    for right in (False, True):
        side = {port: at for port, at in ports.items() if (at[0] > x) == right}
        edge = x + (shape.edge if right else -shape.edge)
        inner = x + (shape.body if right else -shape.body)
        beside = [py for _, py in side.values() if abs(py - y) > shape.flank]
        if beside and not shape.wings[right]:
            yield polyline([(edge, min(y, *beside)), (edge, max(y, *beside))], stroke_width=2)
        if not shape.wings[right] and edge == inner:
            continue
        for port, (px, py) in side.items():
            if position.type.ports[port].medium not in _KIND_OF_MEDIUM:
                yield polyline([(px, py), (inner, py)])


def _legend(style: CircuitStyle, knowledge: Knowledge, top: float) -> Iterator[str]:
    yield text(
        (14, top + 8), f"Phase: {knowledge.words.get(style.phase, style.phase)}", font_size=10, font_weight="bold"
    )
    for row, (kind, words) in enumerate(_LEGEND, 1):
        y = top + 8 + 16 * row
        yield polyline([(14, y - 3), (54, y - 3)], **_LINES[kind])
        yield text((62, y), words)
    for number, (position, caption) in enumerate(style.suspects.items(), 1):
        y = top + 8 + 16 * number
        yield circle((212, y - 3.5), 7, fill="black")
        yield text((212, y), str(number), text_anchor="middle", style="fill: white")
        yield text((226, y), f"{position}: {caption}" if caption else position)
