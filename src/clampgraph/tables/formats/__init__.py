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
from clampgraph.tables.formats import cals, csvw, delimited, dita, latex, markdown, spreadsheet, structured, webpage

__all__ = ["COMPANIONS", "FORMATS", "Format", "render"]


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
    Format("cals", ".xml", "application/xml", cals.write),
)

FORMATS: Mapping[str, Format] = {found.name: found for found in _FORMATS}

COMPANIONS: Mapping[str, Format] = {
    "csv": Format("csvm", "-metadata.json", "application/csvm+json", csvw.write),
}
"""What stands beside a file of a format that has no place for the edition; its suffix follows the whole name."""


def render(table: Table, name: str) -> tuple[bytes, str]:
    """Write a table down.

    Parameters
    ----------
    table
        What to write.
    name
        One of `FORMATS`, or the name of a companion.

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
    companions = {companion.name: companion for companion in COMPANIONS.values()}
    found = FORMATS.get(name.lower(), companions.get(name.lower()))
    if found is None:
        raise UnknownNameError("format", name, get_close_matches(name, FORMATS, 3, 0.2) or list(FORMATS))
    return found.write(table), found.media_type
