"""JSON: the whole table as data, numbers as numbers, described column by column."""

import json
from typing import Any

from clampgraph.tables.columns import Table
from clampgraph.tables.formats.grid import CHANGE, NOTES, grid_of

__all__ = ["as_data", "write"]


def as_data(table: Table) -> dict[str, Any]:
    """Return a table as plain data: rows are objects, keyed by the names of the columns.

    `notes` of a row are the numbers of its notes; `change` stands there where two editions are compared.
    """
    grid = grid_of(table)
    inner = [column for column in grid.columns if column not in (CHANGE, NOTES)]
    return {
        "name": table.name,
        "title": table.title,
        "question": table.question,
        "scope": table.scope or None,
        "edition": list(table.edition),
        "columns": [
            {
                "name": column.name,
                "title": column.title,
                "unit": column.unit or None,
                "kind": column.kind,
                "key": column.key,
                "description": column.description,
            }
            for column in inner
        ],
        "rows": [
            {
                **({"change": line.row.change} if line.row.change else {}),
                **{
                    column.name: list(cell) if isinstance(cell, tuple) else cell
                    for column, cell in zip(inner, line.row.cells, strict=True)
                },
                "notes": list(line.notes),
            }
            for line in grid.lines
        ],
        "notes": [{"number": number, "text": text} for number, text in grid.notes],
        "caveats": list(table.caveats),
    }


def write(table: Table) -> bytes:
    """Write a table as JSON in UTF-8."""
    return json.dumps(as_data(table), ensure_ascii=False, indent=1, allow_nan=False).encode() + b"\n"
