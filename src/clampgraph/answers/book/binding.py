"""A book as files: each page with its way back and on, the sheet, a manifest, and one PDF of it all.

The PDF holds the same pages one after the other; links between files become links within it.
Its date is that of the newest pack and its identifier is drawn from its own text, so that the same data give the same
bytes on one machine; another machine may lack a font.
"""

import hashlib
import json
import re
from collections.abc import Iterator
from html import escape
from typing import Any

from clampgraph.answers.book.contents import Book
from clampgraph.answers.book.markup import Page, link
from clampgraph.answers.book.style import PRINT, SHEET
from clampgraph.errors import WrongCallError

__all__ = ["MANIFEST", "PDF", "as_files", "as_pdf"]

MANIFEST, PDF = "book.json", "book.pdf"
_DATE = re.compile(r"\d{4}-\d{2}-\d{2}")


def as_files(book: Book) -> dict[str, bytes]:
    """Return the pages, the sheet and the manifest by name of file."""
    pages = (_index(book), *book.pages)
    files = {"book.css": SHEET.encode()}
    for number, page in enumerate(pages):
        before = pages[number - 1] if number else None
        after = pages[number + 1] if number + 1 < len(pages) else None
        files[f"{page.name}.html"] = "\n".join(_file(book, page, before, after)).encode() + b"\n"
    listed = [{"file": f"{page.name}.html", "title": page.title} for page in pages]
    told = {
        "made_by": "clampgraph", "title": book.subtitle, "assembly": book.assembly, "edition": list(book.edition),
        "since": list(book.since), "pages": listed,
    }  # fmt: skip
    files[MANIFEST] = json.dumps(told, ensure_ascii=False, indent=1).encode() + b"\n"
    return files


def _index(book: Book) -> Page:
    body = f"<h2>Before anything else</h2>\n{book.cautions}\n<h2>Contents</h2>\n{_contents(book)}"
    return Page("index", book.subtitle, body)


def _contents(book: Book) -> str:
    lists = (
        f"<li>{escape(part.title)}<ol>{''.join(f'<li>{link(p.name, p.title)}</li>' for p in part.pages)}</ol></li>"
        for part in book.parts
    )
    return f'<nav class="contents" aria-label="Contents"><ol class="parts">{"".join(lists)}</ol></nav>'


def _file(book: Book, page: Page, before: Page | None, after: Page | None) -> Iterator[str]:
    way = [link("index", "Contents")] if page.name != "index" else []
    way += [link(before.name, f"Before: {before.title}")] if before is not None and before.name != "index" else []
    way += [link(after.name, f"Next: {after.title}")] if after is not None else []
    yield "<!DOCTYPE html>"
    yield '<html lang="en">'
    yield "<head>"
    yield '<meta charset="utf-8">'
    yield '<meta name="viewport" content="width=device-width, initial-scale=1">'
    yield f'<meta name="version" content="{escape("; ".join(book.edition))}">'
    yield f"<title>{escape(page.title)}{'' if page.name == 'index' else f' – {escape(book.title)}'}</title>"  # noqa: RUF001  # an en dash
    yield '<link rel="stylesheet" href="book.css">'
    yield "</head>"
    yield "<body>"
    yield '<a class="skip" href="#text">Skip to the text</a>'
    yield f'<nav class="way" aria-label="Pages">{"".join(way)}</nav>'
    yield f'<main id="text">\n<h1>{escape(page.title)}</h1>'
    yield page.body
    yield "</main>"
    yield f"<footer>{_stamp(book)}</footer>"
    yield "</body>"
    yield "</html>"


def _stamp(book: Book) -> str:
    since = f" Compared with: {escape('; '.join(book.since))}." if book.since else ""
    return f"<p>{escape(book.subtitle)}. Edition: {escape('; '.join(book.edition))}.{since}</p>"


def as_pdf(book: Book) -> bytes:
    """Set the whole book as one PDF.

    Raises
    ------
    WrongCallError
        If WeasyPrint, or a library of the machine that it needs, is not installed; says what to install.
    """
    try:
        import weasyprint  # noqa: PLC0415  # an extra, and slow to load
    except (ImportError, OSError) as error:
        raise WrongCallError(
            "A PDF needs WeasyPrint, which is not installed or lacks a library of the machine: "
            "pip install 'clampgraph[book]' (on Debian also: apt-get install libpango-1.0-0 libpangoft2-1.0-0 "
            "libharfbuzz-subset0), or write the pages alone with --no-pdf."
        ) from error
    text = "\n".join(_printed(book))
    mark = hashlib.sha256(text.encode()).digest()[:16]
    made: bytes = weasyprint.HTML(string=text, url_fetcher=_nothing).write_pdf(pdf_identifier=mark, pdf_tags=True)
    return made


def _nothing(url: str, *_: Any, **__: Any) -> dict[str, Any]:
    """Refuse to fetch: a book stands by itself."""
    raise ValueError(f"A book fetches nothing, and not {url} either.")


def _printed(book: Book) -> Iterator[str]:
    date = max(_DATE.findall(" ".join(book.edition)), default="")
    yield "<!DOCTYPE html>"
    yield '<html lang="en">'
    yield "<head>"
    yield '<meta charset="utf-8">'
    yield f"<title>{escape(book.subtitle)}</title>"
    yield f'<meta name="description" content="{escape("; ".join(book.edition))}">'
    yield '<meta name="generator" content="clampgraph">'
    if date:
        yield f'<meta name="dcterms.created" content="{date}"><meta name="dcterms.modified" content="{date}">'
    yield f"<style>{SHEET}\n@media print {{ {PRINT} }}</style>"
    yield "</head>"
    yield "<body>"
    yield f'<article class="cover" id="index--"><h1>{escape(book.subtitle)}</h1>'
    yield f'<div class="edition-stamp">{_stamp(book)}</div>\n<h2>Before anything else</h2>{book.cautions}</article>'
    yield f'<article class="contents"><h1>Contents</h1>{_inside("index", _contents(book))}</article>'
    for part in book.parts:
        for number, page in enumerate(part.pages):
            kind = ' class="across"' if page.wide else ""
            first = ' class="part first"' if number == 0 else ' class="part"'
            yield f'<article id="{page.name}--"{kind}><p{first}>{escape(part.title)}</p><h1>{escape(page.title)}</h1>'
            yield _inside(page.name, page.body)
            yield "</article>"
    yield "</body>"
    yield "</html>"


def _inside(page: str, body: str) -> str:
    """Give the identifiers of a page its name, and turn links between files into links between places."""
    body = re.sub(r'(\sid|\saria-labelledby)="([^"]+)"', lambda m: f'{m[1]}="{_named(page, m[2])}"', body)
    body = re.sub(r'href="#([^"]+)"', rf'href="#{page}--\1"', body)
    return re.sub(r'href="([\w-]+)\.html(?:#([^"]+))?"', lambda m: f'href="#{m[1]}--{m[2] or ""}"', body)


def _named(page: str, names: str) -> str:
    return " ".join(f"{page}--{name}" for name in names.split())
