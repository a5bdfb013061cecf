"""Write a table down, in the format that a publication needs; the same table gives the same bytes.

Every format carries the same cells.
Beside them stand a column of notes, which numbers the sources of each row, and, where two editions are compared,
a column that says what changed.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from difflib import get_close_matches

from clampgraph.errors import UnknownNameError
from clampgraph.tables.columns import Table
from clampgraph.tables.formats import delimited, dita, latex, markdown, spreadsheet, structured, webpage

__all__ = ["FORMATS", "Format", "render"]


@dataclass(frozen=True, slots=True)
class Format:
    """A format: its name, suffix and media type, and what writes it."""

    name: str
    suffix: str
    media_type: str
    write: Callable[[Table], bytes]


_FORMATS = (
    Format("md", ".md", "text/markdown; charset=utf-8", markdown.write),
    Format("html", ".html", "text/html; charset=utf-8", webpage.write),
    Format("csv", ".csv", "text/csv; charset=utf-8; header=present", delimited.write),
    Format("tex", ".tex", "application/x-tex", latex.write),
    Format("xlsx", ".xlsx", "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet", spreadsheet.write),
    Format("json", ".json", "application/json", structured.write),
    Format("dita", ".dita", "application/dita+xml", dita.write),
)

FORMATS: Mapping[str, Format] = {found.name: found for found in _FORMATS}


def render(table: Table, name: str) -> tuple[bytes, str]:
    """Write a table down.

    Parameters
    ----------
    table
        What to write.
    name
        One of `FORMATS`.

    Returns
    -------
    tuple
        The bytes and their media type.

    Raises
    ------
    UnknownNameError
        If there is no such format; names the nearest.
    WrongCallError
        If the format cannot hold the table; says why, and what can.
    """
    found = FORMATS.get(name.lower())
    if found is None:
        raise UnknownNameError("format", name, get_close_matches(name, FORMATS, 3, 0.2) or list(FORMATS))
    return found.write(table), found.media_type
