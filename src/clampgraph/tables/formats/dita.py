"""DITA: a topic with one CALS table, for structured publishing.

Rows that changed carry the attribute `status` (new, changed or deleted), from which a publisher makes change bars.
"""

from collections.abc import Iterator
from xml.sax.saxutils import escape, quoteattr

from clampgraph.tables.columns import Cell, Column, Table
from clampgraph.tables.formats.cals import group_of
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
    yield from group_of(grid, _entry, _status)
    yield "</table>"
    yield from _notes(grid)
    yield "</body>"
    yield "</topic>"


def _status(line: Line) -> str:
    return f' status="{_STATUS[line.row.change]}"' if line.row.change else ""


def _entry(column: Column, cell: Cell, line: Line) -> str:
    if column is NOTES:
        return ", ".join(str(number) for number in line.notes)
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
