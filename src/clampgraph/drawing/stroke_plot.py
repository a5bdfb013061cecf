"""The course of a simulated stroke as a picture: pressure, travel, speed and force over time, phases marked.

Lines differ by dash, not by colour, so that the picture survives a black-and-white printer. Text stays text.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from html import escape
from typing import Final

from clampgraph.answers.stroke.simulate import SimulationAnswer, TraceOut
from clampgraph.errors import WrongCallError

__all__ = ["stroke_svg"]

WIDTH: Final = 860
LEFT: Final = 78
RIGHT: Final = 24
TOP: Final = 74
PANEL: Final = 128
GAP: Final = 26
FOOT: Final = 46
_STYLE: Final = (
    "text{font:12px 'DejaVu Sans',Arial,sans-serif;fill:#000}.head{font-size:15px;font-weight:bold}"
    ".small{font-size:11px}.line{fill:none;stroke:#000;stroke-width:1.6}.dash{stroke-dasharray:6 3}"
    ".dot{stroke-dasharray:1.5 3}.frame{fill:none;stroke:#000;stroke-width:1}"
    ".grid{stroke:#bbb;stroke-width:.6}.phase{stroke:#555;stroke-width:.9;stroke-dasharray:3 3}"
)


@dataclass(frozen=True, slots=True)
class _Curve:
    values: tuple[float, ...]
    label: str
    dash: str = ""


@dataclass(frozen=True, slots=True)
class _Panel:
    title: str
    curves: tuple[_Curve, ...]


def stroke_svg(answer: SimulationAnswer) -> str:
    """Return the picture of a simulated stroke.

    Raises
    ------
    WrongCallError
        If the answer carries no course over time.
    """
    if answer.trace is None:
        raise WrongCallError("This simulation carries no course over time; ask for it with its trace.")
    panels = _panels(answer, answer.trace)
    height = TOP + len(panels) * (PANEL + GAP) + FOOT
    faults = ", ".join(f"{f.position}:{f.failure_mode}" for f in answer.faults) or "healthy"
    title = f"Simulated stroke of {answer.assembly}, {faults}"
    return "\n".join(
        [
            (
                f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {height}" width="{WIDTH}" '
                f'height="{height}" role="img" aria-labelledby="title desc">'
            ),
            f'<title id="title">{escape(title)}</title>',
            f'<desc id="desc">{escape(_description(answer))}</desc>',
            f"<style>{_STYLE}</style>",
            f'<rect width="{WIDTH}" height="{height}" fill="#fff"/>',
            f'<text class="head" x="{LEFT}" y="24">{escape(title)}</text>',
            *_phases(answer, height),
            *(line for row, panel in enumerate(panels) for line in _draw(answer.trace, panel, row)),
            *_time_axis(answer.trace, height),
            "</svg>",
            "",
        ]
    )


def _panels(answer: SimulationAnswer, trace: TraceOut) -> tuple[_Panel, ...]:
    count = len(trace.time)
    pressure = [_Curve(trace.pressure, "on the piston")]
    if any(abs(a - b) > 0.02 for a, b in zip(trace.pressure, trace.line_pressure, strict=True)):
        pressure.append(_Curve(trace.line_pressure, "in the line", "dash"))
    needed = answer.results["needed-force"].value
    gap = answer.results["gap-at-rest"].value
    travel = [_Curve(trace.travel, "rod"), *([_Curve((gap,) * count, "gap at rest", "dot")] if gap > 0.0 else [])]
    return (
        _Panel("pressure [bar(g)]", tuple(pressure)),
        _Panel("travel [mm]", tuple(travel)),
        _Panel("speed [m/s]", (_Curve(trace.speed, "rod, outwards positive"),)),
        _Panel("force [kN]", (_Curve(trace.force, "drive"), _Curve((needed,) * count, "needed to open", "dot"))),
    )


def _description(answer: SimulationAnswer) -> str:
    spans = "; ".join(f"{p.phase} from {p.start.value:.0f} to {p.end.value:.0f} ms" for p in answer.phases)
    shown = ", ".join(
        f"{name} {answer.results[name].value:.3g} {answer.results[name].unit}"
        for name in ("release-time", "return-time", "contact-speed", "force-margin")
        if name in answer.results
    )
    return f"Pressure, travel, speed and force over time. Phases: {spans}. {shown}."


def _scale(low: float, high: float, start: float, length: float) -> tuple[float, float]:
    """Return factor and offset that map low to start and high to start + length."""
    factor = length / (high - low)
    return factor, start - low * factor


def _x(trace: TraceOut) -> tuple[float, float]:
    return _scale(0.0, max(trace.time[-1], 1.0), LEFT, WIDTH - LEFT - RIGHT)


def _step(span: float, count: int) -> float:
    """Return a round step that divides a span into about so many parts."""
    rough = span / count
    power = 10.0 ** math.floor(math.log10(rough))
    return next(m * power for m in (1, 2, 5, 10) if m * power >= rough)


def _phases(answer: SimulationAnswer, height: int) -> Iterator[str]:
    if answer.trace is None:
        return
    factor, offset = _x(answer.trace)
    free, row = 0.0, 0
    for phase in answer.phases:
        if phase.end.value <= phase.start.value:
            continue
        x = phase.start.value * factor + offset
        row = 1 - row if x < free else 0
        free = x + 7.5 * len(phase.phase) + 8
        yield f'<line class="phase" x1="{x:.1f}" x2="{x:.1f}" y1="{TOP - 34}" y2="{height - FOOT - GAP + 4}"/>'
        yield f'<text x="{x + 3:.1f}" y="{TOP - 36 + 14 * row}">{escape(phase.phase)}</text>'


def _draw(trace: TraceOut, panel: _Panel, row: int) -> Iterator[str]:
    top = TOP + row * (PANEL + GAP)
    low = min(0.0, *(min(c.values) for c in panel.curves))
    high = max(*(max(c.values) for c in panel.curves), low + 1e-6)
    step = _step(high - low, 4)
    low, high = math.floor(low / step + 0.02) * step, math.ceil(high / step - 1e-6) * step
    factor, offset = _scale(low, high, top + PANEL, -PANEL)
    for tick in range(round((high - low) / step) + 1):
        value = low + tick * step
        y = value * factor + offset
        yield f'<line class="grid" x1="{LEFT}" x2="{WIDTH - RIGHT}" y1="{y:.1f}" y2="{y:.1f}"/>'
        yield f'<text class="small" text-anchor="end" x="{LEFT - 6}" y="{y + 4:.1f}">{value:.4g}</text>'
    middle = top + PANEL / 2
    yield f'<rect class="frame" x="{LEFT}" y="{top}" width="{WIDTH - LEFT - RIGHT}" height="{PANEL}"/>'
    yield (
        f'<text text-anchor="middle" transform="rotate(-90 20 {middle:.0f})" x="20" y="{middle:.0f}">'
        f"{escape(panel.title)}</text>"
    )
    for number, curve in enumerate(panel.curves):
        yield f'<polyline class="line {curve.dash}" points="{_points(trace, curve.values, factor, offset)}"/>'
        x, y = LEFT + 10 + 190 * number, top - 8
        yield f'<line class="line {curve.dash}" x1="{x}" x2="{x + 26}" y1="{y}" y2="{y}"/>'
        yield f'<text class="small" x="{x + 32}" y="{y + 4}">{escape(curve.label)}</text>'


def _points(trace: TraceOut, values: Sequence[float], factor: float, offset: float) -> str:
    """Return the points of a curve, leaving out those that lie within a third of a pixel of the last."""
    scale, shift = _x(trace)
    found: list[tuple[float, float]] = []
    for time, value in zip(trace.time, values, strict=True):
        point = (time * scale + shift, value * factor + offset)
        if not found or abs(point[0] - found[-1][0]) + abs(point[1] - found[-1][1]) > 0.3:
            found.append(point)
    found.append((trace.time[-1] * scale + shift, values[-1] * factor + offset))
    return " ".join(f"{x:.1f},{y:.1f}" for x, y in found)


def _time_axis(trace: TraceOut, height: int) -> Iterator[str]:
    factor, offset = _x(trace)
    y = height - FOOT - GAP
    step = _step(max(trace.time[-1], 1.0), 10)
    for tick in range(int(trace.time[-1] / step) + 1):
        x = tick * step * factor + offset
        yield f'<line class="frame" x1="{x:.1f}" x2="{x:.1f}" y1="{y}" y2="{y + 5}"/>'
        yield f'<text class="small" text-anchor="middle" x="{x:.1f}" y="{y + 18}">{tick * step:.4g}</text>'
    yield f'<text text-anchor="middle" x="{(LEFT + WIDTH - RIGHT) / 2:.0f}" y="{y + 38}">time [ms]</text>'
