"""The few pieces of HTML that the pages are made of, and what a page is."""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from html import escape

__all__ = ["Page", "Part", "bullets", "figure", "grid", "is_wide", "link", "paragraph", "section"]


@dataclass(frozen=True, slots=True)
class Page:
    """One page: the stem of its file, its title, and its body below the title; a `wide` one is printed across."""

    name: str
    title: str
    body: str
    wide: bool = False


@dataclass(frozen=True, slots=True)
class Part:
    """A part of the book: its title and its pages."""

    title: str
    pages: tuple[Page, ...]


def link(page: str, words: str, anchor: str = "") -> str:
    """Link to a page, or to a place in it."""
    return f'<a href="{page}.html{f"#{anchor}" if anchor else ""}">{escape(words)}</a>'


def paragraph(words: str, kind: str = "") -> str:
    """Write a paragraph of plain text."""
    return f"<p{f' class={chr(34)}{kind}{chr(34)}' if kind else ''}>{escape(words)}</p>"


def bullets(items: Iterable[str]) -> str:
    """List items of HTML."""
    return f"<ul>{''.join(f'<li>{item}</li>' for item in items)}</ul>"


def section(anchor: str, title: str, *parts: str) -> str:
    """Write a section under a heading of the second order."""
    return f'<section id="{anchor}"><h2>{escape(title)}</h2>\n' + "\n".join(parts) + "\n</section>"


def figure(svg: str, caption: str, *, wide: bool = False) -> str:
    """Put a picture under its caption; a wide one scrolls in a box of its own where the page is narrow."""
    scroll = f' class="scroll" role="region" tabindex="0" aria-label="{escape(caption)}"' if wide else ""
    kind = "drawing wide" if wide else "drawing"
    return f'<figure class="{kind}"><div{scroll}>{svg}</div><figcaption>{escape(caption)}</figcaption></figure>'


def is_wide(svg: str) -> bool:
    """Tell whether a picture is so wide that it is best printed across the page."""
    size = re.search(r'viewBox="0 0 ([\d.]+) ([\d.]+)"', svg)
    return size is not None and float(size[1]) > float(size[2])


def grid(anchor: str, caption: str, head: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """Write a small table whose cells are HTML; the first cell of a row names it, figures carry a class of theirs."""
    top = "".join(f'<th scope="col">{escape(title)}</th>' for title in head)
    body = "\n".join(
        f'<tr><th scope="row">{cells[0]}</th>{"".join(f"<td>{cell}</td>" for cell in cells[1:])}</tr>' for cells in rows
    )
    return (
        f'<div class="scroll" role="region" tabindex="0" aria-labelledby="{anchor}-title">'
        f'<table class="plain"><caption id="{anchor}-title">{escape(caption)}</caption>'
        f"<thead><tr>{top}</tr></thead>\n<tbody>\n{body}\n</tbody></table></div>"
    )
