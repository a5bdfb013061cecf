"""What every format writes: the cells, a column of changes before them and a column of notes behind them."""

from collections.abc import Iterator
from dataclasses import dataclass

from clampgraph.tables.columns import Cell, Column, Row, Table, marks

__all__ = ["Grid", "Line", "grid_of"]

CHANGE = Column("change", "Change", "added, removed or changed since the edition compared with.")
NOTES = Column("notes", "Notes", "Numbers of the notes that name the sources of the row.", "list")


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a grid: the row, its cells with what stands around them, and the numbers of its notes."""

    row: Row
    cells: tuple[Cell, ...]
    notes: tuple[int, ...]


@dataclass(frozen=True)
class Grid:
    """All columns and lines as they are written."""

    table: Table
    columns: tuple[Column, ...]
    notes: tuple[tuple[int, str], ...]

    @property
    def lines(self) -> Iterator[Line]:
        """Give the lines in order; the cell of notes comes last, where there are notes."""
        numbers = {text: number for number, text in self.notes}
        bars = self.columns[0] is CHANGE
        for row in self.table.rows:
            cited = tuple(marks(row, numbers))
            cells = row.cells if not bars else (row.change or None, *row.cells)
            yield Line(row, (*cells, tuple(str(n) for n in cited)) if self.notes else cells, cited)


def grid_of(table: Table) -> Grid:
    """Lay out a table: changes first where there are any, notes last where there are any."""
    notes = tuple((number, source) for source, number in table.footnotes.items())
    before = (CHANGE,) if any(row.change for row in table.rows) else ()
    return Grid(table, (*before, *table.columns, *((NOTES,) if notes else ())), notes)
