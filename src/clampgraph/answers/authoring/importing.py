"""Bring tables in: CSV files in, one Turtle pack out, with every refused row told by row, column and reason.

Nothing comes out unless every row of every file is sound, or a partial pack is asked for.
IRIs are made from the base and the key of a row alone, so that the same row gets the same IRI every time.
"""

import re
from collections import Counter
from collections.abc import Collection, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from pydantic import Field

from clampgraph.answers.authoring.columns import TABLES, Table
from clampgraph.answers.authoring.names import Names
from clampgraph.answers.authoring.rows import Draft, Refused, RowReader
from clampgraph.answers.authoring.sheets import Sheet, read_sheet
from clampgraph.answers.library import Library, nearest
from clampgraph.answers.models import Answer
from clampgraph.errors import UnknownNameError, WrongCallError
from clampgraph.graph.statements import Section, statements, turtle

__all__ = ["BASE", "FileOut", "ImportAnswer", "ImportOptions", "RefusedOut", "import_parts"]

BASE = "https://example.org/packs/"
"""Where IRIs begin when nobody says; example.org belongs to no one, so put your own address in its place."""


@dataclass(frozen=True, slots=True)
class ImportOptions:
    """How to import.

    `kind` names the table where the header does not tell; `assembly` stands in where a row names none.
    """

    base: str = ""
    kind: str | None = None
    assembly: str = ""
    partial: bool = False


class RefusedOut(Answer):
    """A cell that kept its row out."""

    file: str
    row: int = Field(description="Line of the file on which the row starts.")
    column: str
    value: str
    why: str


class FileOut(Answer):
    """One file and what became of its rows."""

    file: str
    kind: str
    rows_read: int
    rows_accepted: int


class ImportAnswer(Answer):
    """What was read, what was refused and why, and the pack."""

    files: tuple[FileOut, ...]
    rows_read: int
    rows_accepted: int
    refused: tuple[RefusedOut, ...]
    notes: tuple[str, ...]
    pack: str | None = Field(description="Turtle; absent when rows were refused and no partial pack was asked for.")


@dataclass
class _Round:
    """What one pass over all rows found."""

    drafts: dict[str, list[Draft]] = field(default_factory=dict)
    refused: list[Refused] = field(default_factory=list)
    notes: dict[str, None] = field(default_factory=dict)


def import_parts(library: Library, files: Sequence[Path], options: ImportOptions | None = None) -> ImportAnswer:
    """Answer which pack the given tables describe.

    Raises
    ------
    UnknownNameError
        If a file or a column is not known, or a table is not.
    WrongCallError
        If a file cannot be read as CSV, lacks a column, or the base is no address.
    """
    asked = options or ImportOptions()
    sheets = [(_table(sheet, asked), sheet) for sheet in map(read_sheet, files)]
    base = _checked(asked.base or next((sheet.base for _, sheet in sheets if sheet.base), BASE))
    described = statements(library.graph)
    reader = RowReader(library.knowledge, described, base, asked.assembly)
    known = Names.of(described)
    kept_out: dict[tuple[str, int], list[Refused]] = {}
    while True:
        found = _one_round(reader, sheets, known.copy(), kept_out)
        if not found.refused:
            break
        for cell in found.refused:
            kept_out.setdefault((cell.file, cell.line), []).append(cell)
    return _answer(sheets, found, [cell for key in sorted(kept_out) for cell in kept_out[key]], asked, base)


def _table(sheet: Sheet, asked: ImportOptions) -> Table:
    if asked.kind is not None and asked.kind not in TABLES:
        raise UnknownNameError("table", asked.kind, nearest(asked.kind, TABLES))
    columns = set(sheet.columns)
    table = TABLES[asked.kind] if asked.kind else _best_table(columns)
    strange = [c for c in sheet.columns if c not in {*table.by_name, "iri"}]
    if strange:
        near = nearest(strange[0], table.by_name)
        raise UnknownNameError("column", strange[0], near, f"in the table {table.name} ({sheet.file})")
    defaulted = {"assembly"} if asked.assembly else set()
    missing = [c.name for c in table.columns if c.required and c.name not in columns | defaulted]
    if missing:
        raise WrongCallError(f"{sheet.file} lacks the column '{missing[0]}', which the table {table.name} needs.")
    return table


def _best_table(columns: Collection[str]) -> Table:
    """Choose the table whose columns the header matches best: fewest strange ones, then fewest missing ones."""

    def distance(table: Table) -> tuple[int, int]:
        needed = {c.name for c in table.columns if c.required}
        return len(set(columns) - set(table.by_name)), len(needed - set(columns))

    return min(TABLES.values(), key=distance)


def _checked(base: str) -> str:
    if not re.fullmatch(r'https?://[^\s<>"{}|^`\\]+[/#]', base):
        raise WrongCallError(f"The base '{base}' is no address; write one such as {BASE} that ends with a stroke.")
    return base


def _one_round(
    reader: RowReader, sheets: Sequence[tuple[Table, Sheet]], names: Names, kept_out: Collection[tuple[str, int]]
) -> _Round:
    found = _Round()
    rows = [(t, s.file, row) for t, s in sheets for row in s.rows if (s.file, row.line) not in kept_out]
    keyed = reader.name_rows(rows, names, found.refused)
    if found.refused:
        return found
    for table, file, row, iri in keyed:
        draft, refusals = reader.read(table, (file, row), iri, names)
        found.refused += refusals
        if draft is not None:
            found.drafts.setdefault(table.name, []).append(draft)
            found.notes |= dict.fromkeys(draft.notes)
    if not found.refused:
        found.refused += reader.check_ports(found.drafts.get("connections", ()), found.drafts.get("positions", ()))
    return found


def _answer(
    sheets: Sequence[tuple[Table, Sheet]], found: _Round, refused: Sequence[Refused], asked: ImportOptions, base: str
) -> ImportAnswer:
    lost = Counter(file for file, _ in {(r.file, r.line) for r in refused})
    rows = sum(len(sheet.rows) for _, sheet in sheets)
    whole = found.drafts and (asked.partial or not refused)
    return ImportAnswer(
        files=tuple(
            FileOut(file=s.file, kind=t.name, rows_read=len(s.rows), rows_accepted=len(s.rows) - lost[s.file])
            for t, s in sheets
        ),
        rows_read=rows,
        rows_accepted=rows - lost.total(),
        refused=tuple(RefusedOut(file=r.file, row=r.line, column=r.column, value=r.value, why=r.why) for r in refused),
        notes=tuple(found.notes),
        pack=_pack(found, [sheet.file for _, sheet in sheets], base) if whole else None,
    )


def _pack(found: _Round, files: Sequence[str], base: str) -> str:
    sections = [
        Section(f"{table.name.capitalize()}.", [s for draft in found.drafts[table.name] for s in draft.statements])
        for table in TABLES.values()
        if table.name in found.drafts
    ]
    prefixes = {"p": base, "i": f"{base}item/"}
    assemblies = {s.assembly for drafts in found.drafts.values() for s in drafts if s.assembly}
    prefixes |= {"b" if len(assemblies) == 1 else f"b{n}": f"{base}{a}/" for n, a in enumerate(sorted(assemblies), 1)}
    return turtle(sections, f"Imported from {', '.join(dict.fromkeys(files))}.", prefixes)
