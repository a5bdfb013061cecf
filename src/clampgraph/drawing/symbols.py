"""Symbols after ISO 1219-1 (fluid power) and plain ones for what that standard does not cover.

Each is drawn around the origin within 56 by 40 units.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from clampgraph.drawing.svg import Point, circle, polyline, rect, text

__all__ = ["SYMBOLS", "Geometry", "draw", "geometry"]

Shape = tuple[float, list[str]]
"""How far the body reaches from the centre to either side, and its parts."""

SIGNAL, STEP = -9.0, 10.0
"""On a side with a wing: the level of a signal, and how far apart the fluid ports stand, the first at the centre."""

WINGS: Mapping[str, tuple[float, float]] = {"valve-3-2": (11.0, 10.0), "valve-4-3": (8.0, 8.0)}
"""Room to the left and right of the body for solenoids and springs, past which the lines lead on to the body."""

FLANKS: Mapping[str, float] = {
    "annular-piston": 16.0, "box": 12.0, "controller": 14.0, "cylinder": 12.0, "piston": 14.0, "switch": 12.0,
    "intensifier": 7.0, "regulator": 15.0, "quick-exhaust-valve": 16.0, "valve-3-2": 12.0, "valve-4-3": 12.0,
    "pressure-switch": 12.0, "gripper": 12.0, "accumulator": 8.0, "reservoir": 8.0,
}  # fmt: skip
"""Half the height at which lines can end at the body; elsewhere they meet a bar that leads to its middle."""


@dataclass(frozen=True, slots=True)
class Geometry:
    """What a layout must know of a symbol: body and wings to either side, and half the height of its flanks."""

    body: float
    wings: tuple[float, float] = (0.0, 0.0)
    flank: float = 0.0

    @property
    def edge(self) -> float:
        """How far it reaches from its centre to either side, wings included."""
        return self.body + max(self.wings)

    def heights(self, signals: Sequence[bool], spread: float, *, right: bool) -> list[float]:
        """Return the level of each port on one side, from the centre, signals first."""
        if not self.wings[right]:
            return [(index - (len(signals) - 1) / 2) * spread for index in range(len(signals))]
        above = [SIGNAL - spread * n for n in reversed(range(signals.count(True)))]
        return above + [STEP * n for n in range(signals.count(False))]


def _zigzag(start: Point, width: float, height: float, turns: int) -> str:
    x, y = start
    step = width / (2 * turns)
    points = [(x + i * step, y + (height if i % 2 else 0.0)) for i in range(2 * turns + 1)]
    return polyline(points)


def _arrow(start: Point, end: Point) -> list[str]:
    (x1, y1), (x2, y2) = start, end
    length = max(((x2 - x1) ** 2 + (y2 - y1) ** 2) ** 0.5, 1e-9)
    ux, uy = (x2 - x1) / length, (y2 - y1) / length
    head = [
        (x2, y2),
        (x2 - 5 * ux + 2.5 * uy, y2 - 5 * uy - 2.5 * ux),
        (x2 - 5 * ux - 2.5 * uy, y2 - 5 * uy + 2.5 * ux),
    ]
    return [polyline([start, end]), polyline([*head, head[0]], fill="black")]


def _diamond() -> list[str]:
    return [polyline([(-18, 0), (0, -18), (18, 0), (0, 18), (-18, 0)])]


def _source() -> Shape:
    return 12, [circle((0, 0), 12), polyline([(-4, -5), (5, 0), (-4, 5), (-4, -5)])]


def _shut_off() -> Shape:
    return 20, [
        rect((-20, -10), (20, 20)), rect((0, -10), (20, 20)), *_arrow((-20, 0), (0, 0)),
        polyline([(10, -10), (10, -4)]), polyline([(6, -4), (14, -4)]),
        polyline([(-10, -10), (-10, -16)]), polyline([(-16, -16), (-4, -16)], stroke_width=2.4),
    ]  # fmt: skip


def _filter() -> Shape:
    return 18, [*_diamond(), polyline([(0, -18), (0, 18)], stroke_dasharray="3 2"), polyline([(-5, 13), (5, 13)])]


def _lubricator() -> Shape:
    return 18, [*_diamond(), polyline([(0, -18), (0, -6)])]


def _regulator() -> Shape:
    return 15, [
        rect((-15, -15), (30, 30)), *_arrow((-15, 0), (15, 0)), _zigzag((-7, -20), 14, 5, 3),
        polyline([(18, 0), (18, 19), (0, 19), (0, 15)], stroke_dasharray="3 2", stroke_width=0.8),
        *_arrow((-9, -14), (9, -24)),
    ]  # fmt: skip


def _valve_3_2() -> Shape:
    return 20, [
        rect((-20, -12), (20, 24)), rect((0, -12), (20, 24)),
        *_arrow((-16, 12), (-10, -12)), polyline([(-4, 12), (-4, 7)]), polyline([(-7, 7), (-1, 7)]),
        *_arrow((10, -12), (16, 12)), polyline([(4, 12), (4, 7)]), polyline([(1, 7), (7, 7)]),
        rect((-31, -14), (11, 10)), polyline([(-31, -4), (-20, -14)]), _zigzag((20, -12), 10, 6, 3),
    ]  # fmt: skip


def _valve_4_3() -> Shape:
    squares = [rect((x, -12), (18, 24)) for x in (-27, -9, 9)]
    return 27, [
        *squares, *_arrow((-22, 12), (-22, -12)), *_arrow((-14, -12), (-14, 12)),
        *_arrow((14, 12), (22, -12)), *_arrow((14, -12), (22, 12)),
        *(polyline([(x, y), (x, 0.5 * y), (x - 2.5, 0.5 * y), (x + 2.5, 0.5 * y)]) for x in (-4, 4) for y in (-12, 12)),
        _zigzag((27, -12), 8, 6, 3), _zigzag((-35, -12), 8, 6, 3),
    ]  # fmt: skip


def _check() -> Shape:
    return 12, [circle((-1, 0), 6), polyline([(12, -9), (3, 0), (12, 9)]), polyline([(-12, 0), (-7, 0)])]


def _quick_exhaust() -> Shape:
    return 18, [
        rect((-18, -16), (36, 32), stroke_dasharray="8 2 1 2"), circle((0, -5), 4),
        polyline([(-18, -5), (-8, -5), (-4, -10)]), polyline([(-8, -5), (-4, 0)]),
        polyline([(8, -5), (18, -5)]), polyline([(4, -10), (8, -5), (4, 0)]), polyline([(0, -1), (0, 16)]),
    ]  # fmt: skip


def _silencer() -> Shape:
    return 14, [rect((-14, -8), (22, 16)), *(polyline([(x, -8), (x, 8)]) for x in (-7, -1)), *_arrow((8, 0), (18, 0))]


def _cylinder() -> Shape:
    return 26, [
        rect((-26, -12), (52, 24)),
        polyline([(-10, -12), (-10, 12)], stroke_width=3),
        polyline([(-10, -2), (26, -2)]),
        polyline([(-10, 2), (26, 2)]),
    ]


def _piston() -> Shape:
    return 16, [
        polyline([(-14, -14), (-14, 14)], stroke_width=4),
        polyline([(-12, -3), (16, -3)]),
        polyline([(-12, 3), (16, 3)]),
        polyline([(16, -8), (16, 8)], stroke_width=2),
    ]


def _annular_piston() -> Shape:
    return 16, [
        rect((-16, -16), (12, 10), fill="#bbb"),
        rect((-16, 6), (12, 10), fill="#bbb"),
        polyline([(-4, -11), (16, -11), (16, 11), (-4, 11)]),
        polyline([(-16, 0), (16, 0)], stroke_dasharray="8 2 1 2", stroke_width=0.8),
    ]


def _seal() -> Shape:
    return 10, [circle((0, 0), 10), circle((0, 0), 5)]


def _rod() -> Shape:
    return 24, [rect((-24, -4), (48, 8)), polyline([(14, -4), (14, 4)])]


def _spring() -> Shape:
    return 20, [_zigzag((-20, -8), 40, 16, 5)]


def _disc_springs() -> Shape:
    return 24, [
        polyline([(-24 + 8 * i, -10 if i % 2 else 10), (-16 + 8 * i, 10 if i % 2 else -10)], stroke_width=2)
        for i in range(6)
    ]


def _ring() -> Shape:
    return 12, [circle((0, 0), 12), circle((0, 0), 8), polyline([(0, 8), (0, 12)], stroke="white", stroke_width=4)]


def _push_bolt() -> Shape:
    return 18, [rect((-18, -4), (22, 8)), rect((4, -9), (10, 18)), polyline([(14, -6), (18, -3), (18, 3), (14, 6)])]


def _gripper() -> Shape:
    return 16, [
        polyline([(-16, 0), (-4, 0)]),
        polyline([(-4, -12), (-4, 12)]),
        polyline([(-4, -12), (16, -12), (16, -6)]),
        polyline([(-4, 12), (16, 12), (16, 6)]),
    ]


def _pull_stud() -> Shape:
    return 14, [
        polyline(
            [
                (-14, -8),
                (-8, -8),
                (-8, -3),
                (2, -3),
                (2, -8),
                (14, -8),
                (14, 8),
                (2, 8),
                (2, 3),
                (-8, 3),
                (-8, 8),
                (-14, 8),
                (-14, -8),
            ]
        )
    ]


def _taper() -> Shape:
    return 16, [polyline([(-16, -6), (16, -16), (16, 16), (-16, 6), (-16, -6)])]


def _switch() -> Shape:
    return 14, [rect((-14, -12), (28, 24)), polyline([(-6, 0), (0, -6), (6, 0), (0, 6), (-6, 0)])]


def _controller() -> Shape:
    return 18, [rect((-18, -14), (36, 28)), text((0, 4), "PLC", text_anchor="middle")]


def _pump() -> Shape:
    return 14, [circle((0, 0), 14), polyline([(4, -6), (14, 0), (4, 6), (4, -6)], fill="black")]


def _accumulator() -> Shape:
    return 12, [
        rect((-12, -16), (24, 32), rx=12),
        polyline([(-12, 0), (12, 0)]),
        polyline([(-4, -8), (4, -8), (0, -2), (-4, -8)]),
    ]


def _reservoir() -> Shape:
    return 16, [polyline([(-16, -8), (-16, 10), (16, 10), (16, -8)]), polyline([(0, -12), (0, 4)])]


def _intensifier() -> Shape:
    return 26, [
        rect((-26, -14), (26, 28)),
        rect((0, -7), (26, 14)),
        polyline([(-14, -14), (-14, 14)], stroke_width=3),
        polyline([(-14, 0), (10, 0)]),
        polyline([(10, -7), (10, 7)], stroke_width=3),
    ]


def _pressure_switch() -> Shape:
    return 14, [
        rect((-14, -12), (28, 24)),
        text((0, 4), "p", text_anchor="middle"),
        polyline([(-14, 12), (14, -12)], stroke_width=0.6),
    ]


def _rotary_union() -> Shape:
    return 14, [
        circle((0, 0), 14),
        polyline([(-14, 0), (14, 0)]),
        polyline([(0, -14), (0, 14)], stroke_dasharray="3 2"),
    ]


def _box() -> Shape:
    return 18, [rect((-18, -12), (36, 24), rx=3)]


SYMBOLS: Mapping[str, Callable[[], Shape]] = {
    "accumulator": _accumulator,
    "annular-piston": _annular_piston,
    "box": _box,
    "check-valve": _check,
    "controller": _controller,
    "cylinder": _cylinder,
    "disc-springs": _disc_springs,
    "filter": _filter,
    "gripper": _gripper,
    "intensifier": _intensifier,
    "lubricator": _lubricator,
    "piston": _piston,
    "pressure-switch": _pressure_switch,
    "pull-stud": _pull_stud,
    "pump": _pump,
    "push-bolt": _push_bolt,
    "quick-exhaust-valve": _quick_exhaust,
    "regulator": _regulator,
    "reservoir": _reservoir,
    "ring": _ring,
    "rod": _rod,
    "rotary-union": _rotary_union,
    "seal": _seal,
    "shut-off-valve": _shut_off,
    "silencer": _silencer,
    "source": _source,
    "spring": _spring,
    "switch": _switch,
    "taper": _taper,
    "valve-3-2": _valve_3_2,
    "valve-4-3": _valve_4_3,
}
"""Every symbol by the name that the data uses."""


def geometry(name: str) -> Geometry:
    """Return what a layout must know of a symbol."""
    reach = SYMBOLS.get(name, _box)()[0]
    return Geometry(reach, WINGS.get(name, (0.0, 0.0)), FLANKS.get(name, 12.0 if name not in SYMBOLS else 0.0))


def draw(name: str) -> list[str]:
    """Return the parts of a symbol around the origin; a plain box for an unknown name."""
    return SYMBOLS.get(name, _box)()[1]
