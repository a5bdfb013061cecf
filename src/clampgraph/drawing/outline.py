"""A tree told from top to bottom: one row for each thing, joined by lines that branch, in bands where it has phases.

It is narrow on purpose: it stays readable on a telephone and on a page of A4, and no line ever crosses words,
because a row's words stand to the right of every line that passes it.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from clampgraph.drawing.svg import Point, circle, document, extent, group, polyline, rect, text, told, wrapped

__all__ = ["Entry", "Key", "Picture", "outline"]

WIDTH = 460.0
EDGE = 14.0
STEP = 16.0
"""How far a branch stands to the right of its trunk."""
TRUNK = 22.0
GAP = 12.0
"""From a marker to its words."""
FIGURES = 52.0
"""Room for the figures at the right."""
LINE, SMALL = 13.0, 11.5
BAND = 20.0


@dataclass(frozen=True, slots=True)
class Entry:
    """One row: where it hangs, how it is marked, and its words; `parent` is the index of an earlier row.

    `mark` is start, step, end or caution; a `loose` line to the parent is dashed: one way of several.
    """

    parent: int | None
    head: str
    words: str = ""
    lines: tuple[str, ...] = ()
    figure: str = ""
    mark: str = "step"
    band: str = ""
    loose: bool = False


@dataclass(frozen=True, slots=True)
class Key:
    """One line of the legend: a marker or a short sign, and what it means."""

    sign: str
    words: str


@dataclass(frozen=True, slots=True)
class Picture:
    """Everything that an outline shows; `name` is the stem of its identifiers in a page."""

    title: str
    subtitle: str
    description: str
    entries: tuple[Entry, ...]
    legend: tuple[Key, ...]
    name: str = ""


@dataclass
class _Page:
    """What is drawn so far, and how far down the page it reaches."""

    y: float = 0.0
    lines: list[str] = field(default_factory=list)
    words: list[str] = field(default_factory=list)
    places: list[Point] = field(default_factory=list)


def outline(picture: Picture) -> str:
    """Draw an outline as SVG; words stay words, and everything can be told apart in black and white."""
    page = _Page(y=EDGE)
    for line in wrapped(picture.title, WIDTH - 2 * EDGE, 13, bold=True):
        page.y += 16
        page.words.append(text((EDGE, page.y - 3), line, font_size=13, font_weight="bold"))
    for line in wrapped(picture.subtitle, WIDTH - 2 * EDGE, 10):
        page.y += LINE
        page.words.append(text((EDGE, page.y - 2), line))
    page.y += 4
    branching = _branching(picture.entries)
    band = None
    for entry in picture.entries:
        if entry.band != band:
            band = entry.band
            page.words += _band(page, band)
        _row(page, entry, branching)
    page.y += 10
    page.words.append(polyline([(EDGE, page.y), (WIDTH - EDGE, page.y)], stroke="#767676", stroke_width=0.6))
    page.words.append(group(_legend(page, picture.legend), class_="legend"))
    parts = [group(page.lines, class_="connections"), *page.words]
    return document((WIDTH, page.y + EDGE), picture.title, picture.description, parts, picture.name)


def _branching(entries: Sequence[Entry]) -> frozenset[int]:
    """Return the rows from which several others hang; these are set to the right, a single one hangs straight."""
    parents = [entry.parent for entry in entries if entry.parent is not None]
    return frozenset(p for p in parents if parents.count(p) > 1)


def _band(page: _Page, name: str) -> Iterator[str]:
    page.y += BAND
    y = page.y - BAND + 7
    yield polyline([(EDGE, y), (WIDTH - EDGE, y)], stroke="#767676", stroke_width=0.6)
    yield text((WIDTH - EDGE, y + 11), name, font_size=9, font_style="italic", text_anchor="end")


def _row(page: _Page, entry: Entry, branching: frozenset[int]) -> None:
    above = TRUNK if entry.parent is None else page.places[entry.parent][0]
    x = above + (STEP if entry.parent in branching else 0.0)
    y = page.y + LINE - 4
    page.places.append((x, y))
    if entry.parent is not None:
        page.lines += _joined(page.places[entry.parent], (x, y), loose=entry.loose)
    page.words += _marker(entry.mark, (x, y))
    page.words += _told(page, entry, x + GAP)
    page.y += 4


def _joined(start: Point, end: Point, *, loose: bool) -> Iterator[str]:
    (x1, y1), (x2, y2) = start, end
    style: dict[str, str | float] = {"stroke_width": 1.2} | ({"stroke_dasharray": "4 3"} if loose else {})
    if x1 == x2:
        yield polyline([(x1, y1 + 5), (x2, y2 - 8)], **style)
        yield polyline([(x2, y2 - 5), (x2 - 2.5, y2 - 10), (x2 + 2.5, y2 - 10), (x2, y2 - 5)], fill="black")
        return
    yield polyline([(x1, y1 + 5), (x1, y2), (x2 - 9, y2)], **style)
    yield polyline([(x2 - 5, y2), (x2 - 10, y2 - 2.5), (x2 - 10, y2 + 2.5), (x2 - 5, y2)], fill="black")


def _marker(mark: str, at: Point) -> Iterator[str]:
    x, y = at
    if mark == "start":
        yield rect((x - 4.5, y - 4.5), (9, 9), fill="black")
    elif mark == "end":
        yield polyline([(x, y - 5.5), (x + 5.5, y), (x, y + 5.5), (x - 5.5, y), (x, y - 5.5)], fill="black")
    elif mark == "caution":
        yield polyline([(x, y - 5.5), (x + 6, y + 4.5), (x - 6, y + 4.5), (x, y - 5.5)], fill="white")
        yield polyline([(x, y - 2), (x, y + 1.5)], stroke_width=1.4)
        yield circle((x, y + 3), 0.5, fill="black", stroke_width=0.5)
    else:
        yield circle((x, y), 3.5, fill="white")


def _told(page: _Page, entry: Entry, x: float) -> Iterator[str]:
    """Write the words of a row: head and words on one line where they fit, else one below the other."""
    room = WIDTH - EDGE - FIGURES - x
    if entry.figure:
        yield text((WIDTH - EDGE, page.y + LINE - 1), entry.figure, text_anchor="end")
    head = extent(entry.head, 10, bold=True)
    if entry.words and head + 6 + extent(entry.words, 10) <= room:
        page.y += LINE
        yield told((x, page.y - 1), entry.head, entry.words)
    else:
        for line in wrapped(entry.head, room, 10, bold=True):
            page.y += LINE
            yield text((x, page.y - 1), line, font_weight="bold")
        for line in wrapped(entry.words, room, 10):
            page.y += LINE
            yield text((x, page.y - 1), line)
    for further in entry.lines:
        for line in wrapped(further, WIDTH - EDGE - x, 9):
            page.y += SMALL
            yield text((x, page.y - 1), line, font_size=9)


def _legend(page: _Page, keys: Sequence[Key]) -> Iterator[str]:
    page.y += 4
    for key in keys:
        y = page.y + LINE - 4
        if key.sign in ("start", "step", "end", "caution"):
            yield from _marker(key.sign, (TRUNK, y))
        elif key.sign in ("joined", "loose"):
            dash: dict[str, str | float] = {"stroke_dasharray": "4 3"} if key.sign == "loose" else {}
            yield polyline([(EDGE, y), (EDGE + 18, y)], **dash)
        else:
            yield text((EDGE, y + 3), key.sign, font_size=9, font_weight="bold")
        for line in wrapped(key.words, WIDTH - 2 * EDGE - 32, 9):
            page.y += SMALL
            yield text((EDGE + 32, page.y), line, font_size=9)
        page.y += 3
