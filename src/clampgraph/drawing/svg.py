"""The few SVG elements that the drawings are made of."""

from collections.abc import Iterable, Sequence
from xml.sax.saxutils import escape, quoteattr

__all__ = ["Point", "circle", "document", "group", "polyline", "rect", "text"]

Point = tuple[float, float]


def _number(value: float) -> str:
    return f"{value:.1f}".rstrip("0").rstrip(".")


def _attributes(given: dict[str, str | float]) -> str:
    shown = {k.rstrip("_").replace("_", "-"): _number(v) if isinstance(v, float | int) else v for k, v in given.items()}
    return "".join(f" {name}={quoteattr(value)}" for name, value in shown.items())


def polyline(points: Sequence[Point], **given: str | float) -> str:
    """Draw a line through points."""
    path = " ".join(f"{_number(x)},{_number(y)}" for x, y in points)
    return f'<polyline points="{path}"{_attributes(given)}/>'


def rect(corner: Point, size: Point, **given: str | float) -> str:
    """Draw a rectangle from its upper left corner."""
    (x, y), (w, h) = corner, size
    return f"<rect{_attributes({'x': x, 'y': y, 'width': w, 'height': h, **given})}/>"


def circle(centre: Point, radius: float, **given: str | float) -> str:
    """Draw a circle."""
    return f"<circle{_attributes({'cx': centre[0], 'cy': centre[1], 'r': radius, **given})}/>"


def text(at: Point, words: str, **given: str | float) -> str:
    """Write words; they stay text."""
    return f"<text{_attributes({'x': at[0], 'y': at[1], **given})}>{escape(words)}</text>"


def group(parts: Iterable[str], **given: str | float) -> str:
    """Keep parts together."""
    return f"<g{_attributes(given)}>\n" + "\n".join(parts) + "\n</g>"


def document(size: Point, title: str, description: str, parts: Iterable[str]) -> str:
    """Write a picture with its title and description for screen readers."""
    width, height = _number(size[0]), _number(size[1])
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" role="img" '
        f'aria-labelledby="title desc" font-family="Helvetica, Arial, sans-serif" font-size="10" '
        f'fill="none" stroke="black" stroke-width="1.2">\n'
        f'<title id="title">{escape(title)}</title>\n<desc id="desc">{escape(description)}</desc>\n'
        f'<style>text {{ fill: black; stroke: none }}</style>\n<rect width="{width}" height="{height}" '
        f'fill="white" stroke="none"/>\n' + "\n".join(parts) + "\n</svg>\n"
    )
