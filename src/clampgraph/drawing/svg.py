"""The few SVG elements that the drawings are made of."""

from collections.abc import Iterable, Iterator, Sequence
from xml.sax.saxutils import escape, quoteattr

__all__ = ["Point", "circle", "document", "extent", "group", "polyline", "rect", "text", "told", "wrapped"]

Point = tuple[float, float]

_NARROW = frozenset("fijlrtI.,;:!'|()[]- ")
_WIDE = frozenset("mwMWGOQ%→")


def extent(words: str, size: float, *, bold: bool = False) -> float:
    """Return how wide words are at most, whichever of the usual sans-serif letters stands in.

    Fitted to DejaVu Sans, the widest of them: narrow letters 0.40, common ones 0.63, wide ones 0.97 of the size.
    """
    units = sum(0.40 if sign in _NARROW else 0.97 if sign in _WIDE else 0.63 for sign in words)
    return size * units * (1.12 if bold else 1.0)


def wrapped(words: str, room: float, size: float, *, bold: bool = False) -> Iterator[str]:
    """Break words into lines that fit a room; a word that is longer than the room is broken at its hyphens."""
    line = ""
    for word in _pieces(words, room, size, bold=bold):
        joined = line + word
        if line and extent(joined.rstrip(), size, bold=bold) > room:
            yield line.rstrip()
            line = word
        else:
            line = joined
    if line.strip():
        yield line.rstrip()


def _pieces(words: str, room: float, size: float, *, bold: bool) -> Iterator[str]:
    for word in words.split():
        if extent(word, size, bold=bold) <= room or "-" not in word:
            yield f"{word} "
            continue
        *before, last = word.split("-")
        yield from (f"{part}-" for part in before)
        yield f"{last} "


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


def told(at: Point, head: str, words: str) -> str:
    """Write a head in bold letters and words behind it, on one line."""
    where = _attributes({"x": at[0], "y": at[1]})
    return f'<text{where}><tspan font-weight="bold">{escape(head)}</tspan> <tspan dx="3">{escape(words)}</tspan></text>'


def group(parts: Iterable[str], **given: str | float) -> str:
    """Keep parts together."""
    return f"<g{_attributes(given)}>\n" + "\n".join(parts) + "\n</g>"


def document(size: Point, title: str, description: str, parts: Iterable[str], name: str = "") -> str:
    """Write a picture with its title and description for screen readers.

    Parameters
    ----------
    size
        Width and height, which are also its natural size on a screen.
    title, description
        What a screen reader says instead of it.
    parts
        What it is made of.
    name
        Stem of its identifiers, for a page that holds several pictures.
    """
    width, height = _number(size[0]), _number(size[1])
    stem = f"{name}-" if name else ""
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" width="{width}" height="{height}" '
        f'role="img" aria-labelledby="{stem}title {stem}desc" font-family="Helvetica, Arial, sans-serif" '
        f'font-size="10" fill="none" stroke="black" stroke-width="1.2">\n'
        f'<title id="{stem}title">{escape(title)}</title>\n<desc id="{stem}desc">{escape(description)}</desc>\n'
        f'<style>text {{ fill: black; stroke: none }}</style>\n<rect width="{width}" height="{height}" '
        f'fill="white" stroke="none"/>\n' + "\n".join(parts) + "\n</svg>\n"
    )
