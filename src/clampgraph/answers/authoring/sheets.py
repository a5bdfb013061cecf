"""Read CSV files as they come out of spreadsheets.

Comma, semicolon or tab between cells; quotes; any line end; a byte-order mark; lines that start with # above the
header. UTF-8 only: a file in another encoding is refused, because guessing turns Ø into something else in silence.
"""

import csv
import io
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from clampgraph.errors import UnknownNameError, WrongCallError

__all__ = ["Sheet", "SheetRow", "read_sheet"]

_DELIMITERS = (",", ";", "\t")


@dataclass(frozen=True, slots=True)
class SheetRow:
    """One row: the line on which it starts, and its cells by column."""

    line: int
    cells: dict[str, str]
    surplus: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Sheet:
    """One file: its header, its rows, and the base that a comment above the header may state."""

    file: str
    columns: tuple[str, ...]
    rows: tuple[SheetRow, ...]
    base: str


def read_sheet(path: Path) -> Sheet:
    """Read a CSV file.

    Raises
    ------
    UnknownNameError
        If there is no such file.
    WrongCallError
        If it is not UTF-8, is no CSV, has no header, or a column twice.
    """
    try:
        raw = path.read_bytes()
    except OSError as error:
        raise UnknownNameError("readable file", str(path)) from error
    text = _decoded(raw, path.name)
    try:
        return _sheet(list(_records(text)), path.name, text)
    except csv.Error as error:
        raise WrongCallError(f"{path.name} is no CSV: {error}; look for a quote that is not closed.") from error


def _decoded(raw: bytes, file: str) -> str:
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        raise WrongCallError(f"{file} is not UTF-8 (line {line}); save it as 'CSV UTF-8' and try again.") from error
    if "\0" in text:
        raise WrongCallError(f"{file} holds zero bytes, as UTF-16 or a spreadsheet file does; save it as 'CSV UTF-8'.")
    return text


def _records(text: str) -> Iterator[tuple[int, list[str]]]:
    lines = [line for line in text.splitlines() if line.strip() and not line.lstrip(' "').startswith("#")]
    head = re.sub(r'"[^"]*"', "", lines[0]) if lines else ""
    delimiter = max(_DELIMITERS, key=head.count)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    before = 0
    for record in reader:
        yield before + 1, [cell.strip() for cell in record]
        before = reader.line_num


def _sheet(records: list[tuple[int, list[str]]], file: str, text: str) -> Sheet:
    filled = [(line, cells) for line, cells in records if any(cells)]
    start = next((i for i, (_, cells) in enumerate(filled) if not cells[0].startswith("#")), None)
    if start is None:
        raise WrongCallError(f"{file} has no header: the first line that is no comment must name the columns.")
    columns = [" ".join(name.casefold().split()) for name in filled[start][1]]
    while columns and not columns[-1]:
        columns.pop()
    twice = next((name for name in columns if columns.count(name) > 1), None)
    if twice is not None:
        raise WrongCallError(f"The header of {file} names the column '{twice}' twice; name each column once.")
    if "" in columns:
        raise WrongCallError(
            f"Column {columns.index('') + 1} of {file} has no name in the header; name it or delete it."
        )
    width = len(columns)
    rows = tuple(
        SheetRow(line, dict(zip(columns, [*cells, *[""] * width], strict=False)), tuple(filter(None, cells[width:])))
        for line, cells in filled[start + 1 :]
    )
    base = re.search(r'^"?# base: (\S+?)[",;]*$', text, re.MULTILINE)
    return Sheet(file, tuple(columns), rows, base[1] if base else "")
