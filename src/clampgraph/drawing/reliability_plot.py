"""The reliability of past predictions as a picture: how often they came true, against how probable they were called.

Points on the diagonal are calibrated; bars show how far chance alone may carry a point. Text stays text.
"""

from collections.abc import Iterator
from html import escape
from typing import Final

from clampgraph.answers.recording.calibrating import BinOut, CalibrationAnswer
from clampgraph.errors import WrongCallError

__all__ = ["reliability_svg"]

SIDE: Final = 360
LEFT: Final = 72
TOP: Final = 56
WIDTH: Final = LEFT + SIDE + 40
HEIGHT: Final = TOP + SIDE + 62
TICKS: Final = 5
_STYLE: Final = (
    "text{font:12px 'DejaVu Sans',Arial,sans-serif;fill:#000}.head{font-size:15px;font-weight:bold}"
    ".small{font-size:11px}.frame{fill:none;stroke:#000;stroke-width:1}.grid{stroke:#bbb;stroke-width:.6}"
    ".ideal{stroke:#000;stroke-width:1;stroke-dasharray:5 4}.bar{stroke:#000;stroke-width:1.3}.point{fill:#000}"
)


def reliability_svg(answer: CalibrationAnswer) -> str:
    """Return the picture of a calibration.

    Raises
    ------
    WrongCallError
        If no case was predicted.
    """
    if not answer.bins:
        raise WrongCallError("There is no past case to draw; record cases first.")
    title = f"Predicted against found, {answer.cases} cases"
    return "\n".join(
        [
            (
                f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}" width="{WIDTH}" '
                f'height="{HEIGHT}" role="img" aria-labelledby="title desc">'
            ),
            f'<title id="title">{escape(title)}</title>',
            f'<desc id="desc">{escape(_description(answer))}</desc>',
            f"<style>{_STYLE}</style>",
            f'<rect width="{WIDTH}" height="{HEIGHT}" fill="#fff"/>',
            f'<text class="head" x="{LEFT}" y="24">{escape(title)}</text>',
            f'<text class="small" x="{LEFT}" y="42">{escape(_scores(answer))}</text>',
            *_axes(),
            *(part for bin_ in answer.bins for part in _point(bin_)),
            "</svg>",
            "",
        ]
    )


def _description(answer: CalibrationAnswer) -> str:
    told = "; ".join(f"{b.predicted:.2f} predicted, {b.found:.2f} found ({b.count})" for b in answer.bins)
    return f"Share of predictions that came true against their mean size, in bins. {told}."


def _scores(answer: CalibrationAnswer) -> str:
    return f"Brier score {answer.brier:.4f}, with the pack's figures {answer.brier_pack:.4f}; {answer.basis}"


def _x(chance: float) -> float:
    return LEFT + SIDE * chance


def _y(chance: float) -> float:
    return TOP + SIDE * (1.0 - chance)


def _axes() -> Iterator[str]:
    for number in range(TICKS + 1):
        at = number / TICKS
        yield f'<line class="grid" x1="{LEFT}" x2="{LEFT + SIDE}" y1="{_y(at):.1f}" y2="{_y(at):.1f}"/>'
        yield f'<line class="grid" y1="{TOP}" y2="{TOP + SIDE}" x1="{_x(at):.1f}" x2="{_x(at):.1f}"/>'
        yield f'<text class="small" text-anchor="end" x="{LEFT - 6}" y="{_y(at) + 4:.1f}">{at:.1f}</text>'
        yield f'<text class="small" text-anchor="middle" x="{_x(at):.1f}" y="{TOP + SIDE + 16}">{at:.1f}</text>'
    yield f'<rect class="frame" x="{LEFT}" y="{TOP}" width="{SIDE}" height="{SIDE}"/>'
    yield f'<line class="ideal" x1="{_x(0)}" y1="{_y(0)}" x2="{_x(1)}" y2="{_y(1)}"/>'
    middle_x, middle_y = LEFT + SIDE / 2, TOP + SIDE / 2
    yield f'<text text-anchor="middle" x="{middle_x}" y="{TOP + SIDE + 38}">predicted probability</text>'
    yield (
        f'<text text-anchor="middle" transform="rotate(-90 24 {middle_y})" x="24" y="{middle_y}">'
        "share that was found</text>"
    )


def _point(bin_: BinOut) -> Iterator[str]:
    x, (low, high) = _x(bin_.predicted), bin_.bounds
    yield f'<line class="bar" x1="{x:.1f}" x2="{x:.1f}" y1="{_y(low):.1f}" y2="{_y(high):.1f}"/>'
    yield f'<circle class="point" cx="{x:.1f}" cy="{_y(bin_.found):.1f}" r="4"/>'
    yield f'<text class="small" x="{x + 6:.1f}" y="{_y(bin_.found) - 6:.1f}">{bin_.count}</text>'
