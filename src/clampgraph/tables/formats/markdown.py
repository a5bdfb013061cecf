"""GitHub-flavoured Markdown: a pipe table with its notes as footnotes."""

import re
from collections.abc import Iterator

from clampgraph.tables.columns import Cell, Column, Table
from clampgraph.tables.formats.grid import NOTES, Grid, Line, grid_of

__all__ = ["write"]

_RIGHT = ("number", "integer")
_SPECIAL = re.compile(r"([\\`*_{}\[\]<>|~])")


def write(table: Table) -> bytes:
    """Write a table as Markdown in UTF-8."""
    return "\n".join(_lines(grid_of(table))).encode() + b"\n"


def _lines(grid: Grid) -> Iterator[str]:
    table = grid.table
    yield f"## {_safe(table.caption)}"
    yield ""
    yield f"*{_safe(table.question)}*"
    yield ""
    yield _row(_safe(column.heading) for column in grid.columns)
    yield _row("---:" if column.kind in _RIGHT else "---" for column in grid.columns)
    for line in grid.lines:
        yield _row(_cells(grid, line))
    yield ""
    for caveat in table.caveats:
        yield f"- {_safe(caveat)}"
    if table.edition:
        yield f"- Edition: {_safe('; '.join(table.edition))}."
    if grid.notes:
        yield ""
    for number, text in grid.notes:
        yield f"[^{table.name}-{number}]: {_safe(text)}"


def _cells(grid: Grid, line: Line) -> Iterator[str]:
    for column, cell in zip(grid.columns, line.cells, strict=True):
        if column is NOTES:
            yield "".join(f"[^{grid.table.name}-{number}]" for number in line.notes)
        else:
            yield _text(column, cell)


def _row(cells: Iterator[str]) -> str:
    return f"| {' | '.join(cells)} |"


def _text(column: Column, cell: Cell) -> str:
    return "<br>".join(_safe(text) for text in cell) if isinstance(cell, tuple) and cell else _safe(column.text(cell))


def _safe(text: str) -> str:
    return _SPECIAL.sub(r"\\\1", " ".join(text.split()))
