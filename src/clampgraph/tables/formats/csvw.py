"""What a file of comma-separated values cannot say of itself: metadata after CSV on the Web.

A reader of RFC 4180 knows lines and fields only; a stamp among them would become a row of data.
So title, edition, caveats, and the meaning, unit and kind of every column stand in a file beside it,
where a reader that knows the recommendation looks for them: `F.csv-metadata.json` for `F.csv`.

References
----------
- W3C Recommendation, Metadata Vocabulary for Tabular Data, 2015, sections 5.3 and 6.4 (from memory).
"""

import json
import re
from typing import Any

from clampgraph.tables.columns import Column, Table
from clampgraph.tables.formats.grid import grid_of

__all__ = ["write"]

_TYPES: dict[str, Any] = {
    "text": "string", "number": "number", "integer": "integer", "list": "string",
    "boolean": {"base": "boolean", "format": "yes|no"},
}  # fmt: skip


def write(table: Table) -> bytes:
    """Describe the comma-separated values of a table as JSON in UTF-8."""
    grid = grid_of(table)
    keys = [_name(column) for column in table.columns if column.key]
    described: dict[str, Any] = {
        "@context": ["http://www.w3.org/ns/csvw", {"@language": "en"}],
        "url": f"{table.name}.csv",
        "dc:title": table.caption,
        "dc:description": table.question,
        "schema:version": list(table.edition),
        "rdfs:comment": list(table.caveats),
        "dialect": {"header": True, "lineTerminators": ["\r\n"], "encoding": "utf-8"},
        "tableSchema": {
            "columns": [_column(column) for column in grid.columns],
            **({"primaryKey": keys} if keys and _tell_apart(table) else {}),
        },
    }
    return json.dumps(described, ensure_ascii=False, indent=1).encode() + b"\n"


def _column(column: Column) -> dict[str, Any]:
    return {
        "name": _name(column),
        "titles": column.heading,
        "dc:description": column.description,
        "datatype": _TYPES[column.kind],
        **({"separator": "; "} if column.kind == "list" else {}),
        **({"schema:unitText": column.unit} if column.unit else {}),
    }


def _name(column: Column) -> str:
    """Write a name as the recommendation allows: letters, figures and underscores, all else in percent."""
    return re.sub(r"[^A-Za-z0-9_]", lambda m: "".join(f"%{b:02X}" for b in m[0].encode()), column.name)


def _tell_apart(table: Table) -> bool:
    """Tell whether the keys are all there and tell every row from all others."""
    keys = [table.key_of(row) for row in table.rows]
    return len(set(keys)) == len(keys) and all(cell not in (None, ()) for key in keys for cell in key)
