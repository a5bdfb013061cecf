"""DITA: a topic with one CALS table, for structured publishing.

Rows that changed carry the attribute `status` (new, changed or deleted), from which a publisher makes change bars.
"""

from collections.abc import Iterator
from xml.sax.saxutils import escape, quoteattr

from clampgraph.tables.columns import Cell, Column, Table
from clampgraph.tables.formats.grid import NOTES, Grid, Line, grid_of

__all__ = ["write"]

_STATUS = {"added": "new", "changed": "changed", "removed": "deleted"}


def write(table: Table) -> bytes:
    """Write a table as a DITA topic in UTF-8."""
    return "\n".join(_lines(grid_of(table))).encode() + b"\n"


def _lines(grid: Grid) -> Iterator[str]:
    table = grid.table
    yield '<?xml version="1.0" encoding="UTF-8"?>'
    yield '<!DOCTYPE topic PUBLIC "-//OASIS//DTD DITA Topic//EN" "topic.dtd">'
    yield f'<topic id={quoteattr(table.name)} xml:lang="en">'
    yield f"<title>{escape(table.caption)}</title>"
    yield f"<shortdesc>{escape(table.question)}</shortdesc>"
    yield "<body>"
    yield f'<table frame="topbot" id="table"><title>{escape(table.caption)}</title>'
    yield f'<tgroup cols="{len(grid.columns)}">'
    for number, column in enumerate(grid.columns, 1):
        yield f'<colspec colnum="{number}" colname={quoteattr(f"c{number}")}{_align(column.kind)}/>'
    yield "<thead>"
    yield f"<row>{''.join(f'<entry>{escape(column.heading)}</entry>' for column in grid.columns)}</row>"
    yield "</thead>"
    yield "<tbody>"
    for line in grid.lines:
        status = f' status="{_STATUS[line.row.change]}"' if line.row.change else ""
        yield f"<row{status}>{''.join(_entries(grid, line))}</row>"
    yield "</tbody></tgroup></table>"
    yield from _notes(grid)
    yield "</body>"
    yield "</topic>"


def _align(kind: str) -> str:
    return ' align="right"' if kind in ("number", "integer") else ""


def _entries(grid: Grid, line: Line) -> Iterator[str]:
    for column, cell in zip(grid.columns, line.cells, strict=True):
        yield f"<entry>{_marks(line) if column is NOTES else _text(column, cell)}</entry>"


def _marks(line: Line) -> str:
    return ", ".join(str(number) for number in line.notes)


def _text(column: Column, cell: Cell) -> str:
    if isinstance(cell, tuple) and len(cell) > 1:
        return f"<ul>{''.join(f'<li>{escape(text)}</li>' for text in cell)}</ul>"
    return escape(column.text(cell))


def _notes(grid: Grid) -> Iterator[str]:
    table = grid.table
    for caveat in table.caveats:
        yield f'<note type="remember">{escape(caveat)}</note>'
    if grid.notes:
        yield '<section id="notes"><title>Notes</title><ol>'
        for number, text in grid.notes:
            yield f'<li id="note-{number}">{escape(text)}</li>'
        yield "</ol></section>"
    if table.edition:
        yield f"<p>Edition: {escape('; '.join(table.edition))}.</p>"
