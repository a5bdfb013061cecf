"""CALS: one table after the XML exchange table model of OASIS, which most publishing systems take in.

The model knows a title and entries of plain text, and nothing else.
So several texts in a cell are joined, sources stand in words, and edition and caveats are processing instructions,
which a reader that does not know them passes over.

References
----------
- OASIS Technical Memorandum TR 9901:1999, XML Exchange Table Model (from memory).
"""

from collections.abc import Callable, Iterator
from xml.sax.saxutils import escape, quoteattr

from clampgraph.tables.columns import Cell, Column, Table
from clampgraph.tables.formats.grid import NOTES, Grid, Line, grid_of

__all__ = ["group_of", "write"]

Entry = Callable[[Column, Cell, Line], str]
"""Writes what an entry holds."""


def write(table: Table) -> bytes:
    """Write a table in the exchange model in UTF-8."""
    return "\n".join(_lines(grid_of(table))).encode() + b"\n"


def _lines(grid: Grid) -> Iterator[str]:
    table = grid.table
    texts = dict(grid.notes)

    def entry(column: Column, cell: Cell, line: Line) -> str:
        told = "; ".join(texts[n] for n in line.notes) if column is NOTES else column.text(cell)
        return escape(told)

    yield '<?xml version="1.0" encoding="UTF-8"?>'
    yield from (f"<?edition {_plain(edition)}?>" for edition in table.edition)
    yield from (f"<?caveat {_plain(caveat)}?>" for caveat in table.caveats)
    yield f'<table frame="topbot" colsep="0" rowsep="1" pgwide="1"><title>{escape(table.caption)}</title>'
    yield from group_of(grid, entry)
    yield "</table>"


def _plain(text: str) -> str:
    return text.replace("?>", "? >")


def group_of(grid: Grid, entry: Entry, marked: Callable[[Line], str] = lambda _line: "") -> Iterator[str]:
    """Write the group of a table: columns, head and body.

    Parameters
    ----------
    grid
        What is written.
    entry
        Writes what an entry of the body holds.
    marked
        Gives attributes of a row.
    """
    yield f'<tgroup cols="{len(grid.columns)}">'
    for number, column in enumerate(grid.columns, 1):
        align = ' align="right"' if column.kind in ("number", "integer") else ""
        yield f'<colspec colnum="{number}" colname={quoteattr(f"c{number}")}{align}/>'
    yield "<thead>"
    yield f"<row>{''.join(f'<entry>{escape(column.heading)}</entry>' for column in grid.columns)}</row>"
    yield "</thead>"
    yield "<tbody>"
    for line in grid.lines:
        cells = zip(grid.columns, line.cells, strict=True)
        yield f"<row{marked(line)}>{''.join(f'<entry>{entry(c, cell, line)}</entry>' for c, cell in cells)}</row>"
    yield "</tbody></tgroup>"
