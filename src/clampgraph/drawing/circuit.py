"""The circuit of an assembly as one picture, for one phase or at rest."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from clampgraph.assembly import Assembly, Knowledge
from clampgraph.assembly.deviations import Joints
from clampgraph.assembly.topology import Connection, Position
from clampgraph.drawing.layout import REACH, Layout, Mark, lay_out
from clampgraph.drawing.svg import Point, circle, document, group, polyline, rect, text
from clampgraph.drawing.symbols import body, draw, edge

__all__ = ["CircuitStyle", "circuit"]

_STUB = 12.0
_LINES: Mapping[str, dict[str, str | float]] = {
    "pressure": {"stroke_width": 2.8},
    "vent": {"stroke_width": 1.6, "stroke_dasharray": "6 4"},
    "fluid": {"stroke_width": 1.2},
    "force": {"stroke_width": 3.4, "stroke": "#888888"},
    "signal": {"stroke_width": 1.0, "stroke_dasharray": "1.5 3"},
}
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
    layout = lay_out(assembly, {p: edge(style.symbols[p]) for p in assembly.positions})
    joints = Joints(assembly, knowledge)
    kinds = {c.iri: _kind(assembly, knowledge, joints, style.phase, c) for c in assembly.connections}
    width, height = layout.size
    parts = [
        text(
            (14, layout.bands[0].top + 8),
            f"{assembly.label}, {assembly.generation.id}",
            font_size=13,
            font_weight="bold",
        ),
        group(_bands(layout, width), class_="bands"),
        group(_lines(layout, kinds), class_="connections"),
        *(group(_position(p, layout, style), id=f"position-{p.id}") for p in assembly.positions.values()),
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


def _bands(layout: Layout, width: float) -> Iterator[str]:
    for band in layout.bands:
        yield polyline([(14, band.top + 14), (width - 14, band.top + 14)], stroke="#999999", stroke_width=0.6)
        yield text((14, band.top + 26), band.name, font_size=9, font_style="italic")


def _lines(layout: Layout, kinds: Mapping[str, str]) -> Iterator[str]:
    starts: dict[Point, int] = {}
    for wire in layout.wires:
        yield polyline(wire.points, **_LINES[kinds[wire.connection.iri]])
        for corner in set(wire.points[1:-1]):
            starts[corner] = starts.get(corner, 0) + 1
    for corner, count in sorted(starts.items()):
        if count > 1:
            yield circle(corner, 2.2, fill="black", stroke="none")
    letters: dict[Point, list[str]] = {}
    for mark in layout.marks:
        at_port = letters.setdefault(mark.port, [])
        if mark.letter not in at_port:
            yield from _mark(mark, kinds[mark.connection.iri], len(at_port))
            at_port.append(mark.letter)


def _mark(mark: Mark, kind: str, before: int) -> Iterator[str]:
    """Draw a mark at its port, outside the ones that stand there before it."""
    (x, y), way = mark.port, 1.0 if mark.right else -1.0
    if not before:
        yield polyline([(x, y), (x + way * _STUB, y)], **_LINES[kind])
    centre = (x + way * (_STUB + 6.5 + 14.0 * before), y)
    yield circle(centre, 6.5, fill="white", stroke_width=0.9)
    yield text((centre[0], centre[1] + 3), mark.letter, text_anchor="middle", font_size=9)


def _position(position: Position, layout: Layout, style: CircuitStyle) -> Iterator[str]:
    x, y = layout.centres[position.id]
    if position.id in style.suspects:
        number = list(style.suspects).index(position.id) + 1
        yield rect((x - REACH - 21, y - 34), (2 * REACH + 42, 80), rx=6, stroke_width=2.4, stroke_dasharray="5 3")
        yield circle((x - REACH - 19, y - 34), 8, fill="black", stroke="black")
        yield text((x - REACH - 19, y - 30.5), str(number), text_anchor="middle", fill="white", style="fill: white")
    yield group(draw(style.symbols[position.id]), transform=f"translate({x:.1f} {y:.1f})", fill="white")
    yield text((x, y + 31), position.designation, text_anchor="middle", font_size=8.5, font_weight="bold")
    yield text((x, y + 40), position.id, text_anchor="middle", font_size=8.5)
    inner = body(style.symbols[position.id])
    for (owner, port), (px, py) in layout.ports.items():
        if owner != position.id:
            continue
        end = x + inner if px > x else x - inner
        if end != px and position.type.ports[port].medium not in _KIND_OF_MEDIUM:
            yield polyline([(px, py), (end, py)])
        if port.isalnum() and len(port) <= 2:
            outward = 2.0 if px > x else -2.0
            yield text((px + outward, py - 2.5), port, text_anchor="start" if px > x else "end", font_size=7)


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
