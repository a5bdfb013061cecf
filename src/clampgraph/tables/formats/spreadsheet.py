"""XLSX: typed cells under a frozen header with filters; a second sheet tells what the columns mean.

The file carries no time of writing, so that the same table gives the same bytes.
"""

import io
from datetime import UTC, datetime
from typing import Any

from clampgraph.errors import WrongCallError
from clampgraph.tables.columns import Cell, Column, Table, cell_text
from clampgraph.tables.formats.grid import Grid, grid_of

__all__ = ["write"]

_ROWS, _COLUMNS, _CHARACTERS, _NAME = 1_048_576, 16_384, 32_767, 31
"""What a sheet of the format can hold (ECMA-376 implementations, from memory)."""

_MADE = datetime(2000, 1, 1, tzinfo=UTC)
_NARROWEST, _WIDEST = 8, 48


def write(table: Table) -> bytes:
    """Write a table as a workbook.

    Raises
    ------
    WrongCallError
        If the table has more rows or columns than a sheet, or a text longer than a cell.
    """
    import xlsxwriter  # type: ignore[import-untyped]  # noqa: PLC0415  # it ships no types; only needed here

    grid = grid_of(table)
    _check(grid)
    out = io.BytesIO()
    with xlsxwriter.Workbook(out, {"in_memory": True, "strings_to_formulas": False, "strings_to_urls": False}) as book:
        book.set_properties({"title": table.caption, "comments": "; ".join(table.edition), "created": _MADE})
        _fill(book, book.add_worksheet(table.name[:_NAME]), grid)
        _explain(book, book.add_worksheet("About"), grid)
    return out.getvalue()


def _check(grid: Grid) -> None:
    rows, columns = len(grid.table.rows) + 1, len(grid.columns)
    reason = ""
    if rows > _ROWS:
        reason = f"its {rows} rows are more than the {_ROWS} of a sheet"
    elif columns > _COLUMNS:
        reason = f"its {columns} columns are more than the {_COLUMNS} of a sheet"
    elif any(len(cell_text(cell)) > _CHARACTERS for line in grid.lines for cell in line.cells):
        reason = f"a cell has more than the {_CHARACTERS} characters that the format allows"
    if reason:
        raise WrongCallError(f"XLSX cannot hold {grid.table.name}: {reason}; ask for csv or json, or for one assembly.")


def _fill(book: Any, sheet: Any, grid: Grid) -> None:
    head = book.add_format({"bold": True, "text_wrap": True, "valign": "top", "bottom": 1})
    plain = book.add_format({"text_wrap": True, "valign": "top"})
    number = book.add_format({"valign": "top", "num_format": "General"})
    for at, column in enumerate(grid.columns):
        sheet.write_string(0, at, column.heading, head)
        sheet.set_column(at, at, _width(grid, at, column))
    for row, line in enumerate(grid.lines, 1):
        for at, cell in enumerate(line.cells):
            _put(sheet, (row, at), cell, (plain, number))
    sheet.freeze_panes(1, 0)
    sheet.autofilter(0, 0, max(1, len(grid.table.rows)), len(grid.columns) - 1)
    sheet.set_landscape()
    sheet.set_paper(9)  # A4
    sheet.repeat_rows(0)
    sheet.fit_to_pages(1, 0)


def _put(sheet: Any, place: tuple[int, int], cell: Cell, formats: tuple[Any, Any]) -> None:
    plain, number = formats
    if cell is None or cell == ():
        sheet.write_blank(*place, None, plain)
    elif isinstance(cell, bool):
        sheet.write_boolean(*place, cell, number)
    elif isinstance(cell, int | float):
        sheet.write_number(*place, cell, number)
    else:
        sheet.write_string(*place, cell_text(cell), plain)


def _width(grid: Grid, at: int, column: Column) -> int:
    longest = max((len(column.text(line.cells[at])) for line in grid.lines), default=0)
    words = max(len(word) for word in column.heading.split())
    return min(_WIDEST, max(_NARROWEST, longest, words) + 2)


def _explain(book: Any, sheet: Any, grid: Grid) -> None:
    table = grid.table
    bold, wrapped = (
        book.add_format({"bold": True, "valign": "top"}),
        book.add_format({"text_wrap": True, "valign": "top"}),
    )
    sheet.set_column(0, 0, 28)
    sheet.set_column(1, 1, 100)
    about = [("Table", table.caption), ("Question", table.question), *(("Edition", line) for line in table.edition)]
    about += [("Caveat", caveat) for caveat in table.caveats]
    about += [(column.heading, column.description) for column in grid.columns]
    about += [(f"Note {number}", text) for number, text in grid.notes]
    for row, (name, text) in enumerate(about):
        sheet.write_string(row, 0, name, bold)
        sheet.write_string(row, 1, text, wrapped)
