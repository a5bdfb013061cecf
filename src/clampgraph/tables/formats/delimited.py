"""Comma-separated values after RFC 4180: one header line with units, quotes where needed, CRLF.

Numbers keep all their digits, several texts in one cell are joined with a semicolon,
and the sources stand in words, because the file has no place for notes; the edition stands in a file beside it
(see `csvw`).
"""

import csv
import io

from clampgraph.tables.columns import Cell, Table, cell_text
from clampgraph.tables.formats.grid import NOTES, grid_of

__all__ = ["write"]


def write(table: Table) -> bytes:
    """Write a table as comma-separated values in UTF-8."""
    grid = grid_of(table)
    out = io.StringIO(newline="")
    lines = csv.writer(out, lineterminator="\r\n")
    lines.writerow(column.heading for column in grid.columns)
    texts = dict(grid.notes)
    for line in grid.lines:
        cells = [_text(cell) for cell in line.cells]
        if grid.columns[-1] is NOTES:
            cells[-1] = "; ".join(texts[number] for number in line.notes)
        lines.writerow(cells)
    return out.getvalue().encode()


def _text(cell: Cell) -> str:
    return repr(cell) if isinstance(cell, float) else cell_text(cell, unknown="")
