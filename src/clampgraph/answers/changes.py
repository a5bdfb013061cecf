"""What changed between two editions of the data, cell by cell, and because of which facts."""

from pathlib import Path
from typing import Any

from pydantic import Field

from clampgraph.answers.library import Library, nearest
from clampgraph.answers.models import Answer, Request
from clampgraph.answers.table import TableRequest, facts_of, scope_of
from clampgraph.errors import UnknownNameError
from clampgraph.graph.editions import SHIPPED, load_edition
from clampgraph.tables import TABLES, Change, Scope, Table, render, with_change_bars
from clampgraph.tables import changes as compare
from clampgraph.tables.differences import as_table

__all__ = [
    "CellChange",
    "ChangesAnswer",
    "ChangesRequest",
    "RowChange",
    "changes",
    "changes_since",
    "open_edition",
    "render_bars",
    "render_changes",
]


class ChangesRequest(Request):
    """Which two editions, and which tables of them."""

    old: str = Field(
        description="A pack, a folder, an edition on the shelf, or 'shipped'.", examples=["editions/2026-05"]
    )
    new: str = Field(SHIPPED, description="The same for the newer one.")
    tables: tuple[str, ...] = Field((), description="All of them if left out.", examples=[["where-used"]])
    assembly: str | None = Field(None, description="All of them if left out.")


class RowChange(Answer):
    """A row that only one edition has."""

    table: str
    row: dict[str, Any] = Field(description="The cells that tell the row from all others.")
    reasons: tuple[str, ...] = Field(description="Statements behind the row that differ.")


class CellChange(Answer):
    """A cell that reads otherwise."""

    table: str
    row: dict[str, Any] = Field(description="The cells that tell the row from all others.")
    column: str
    title: str
    unit: str | None
    before: Any
    after: Any
    reasons: tuple[str, ...] = Field(description="Statements behind the row that differ.")


class ChangesAnswer(Answer):
    """What changed, in the order of tables and rows."""

    old: tuple[str, ...] = Field(description="Packs of the older edition, with their versions.")
    new: tuple[str, ...] = Field(description="Packs of the newer edition, with their versions.")
    added: tuple[RowChange, ...]
    removed: tuple[RowChange, ...]
    changed: tuple[CellChange, ...]


def open_edition(name: str, shelf: Path | None = None) -> Library:
    """Load a pack, folder or edition as a library.

    Raises
    ------
    UnknownNameError
        If there is no such file, folder or edition.
    DataError
        If a file cannot be parsed, or the folder holds no pack.
    """
    return Library(load_edition(name, shelf))


def changes(request: ChangesRequest, shelf: Path | None = None) -> ChangesAnswer:
    """Answer what changed from one edition to another.

    Raises
    ------
    UnknownNameError
        If there is no such edition, table or assembly; names the nearest.
    DataError
        If an edition cannot be loaded.
    """
    return changes_since(open_edition(request.old, shelf), open_edition(request.new, shelf), request)


def changes_since(old: Library, new: Library, request: ChangesRequest) -> ChangesAnswer:
    """Answer what changed between two loaded editions; the request's editions are not looked at.

    Raises
    ------
    UnknownNameError
        If there is no such table, or neither edition has the assembly; names the nearest.
    """
    return _answer(old, new, _found(old, new, request))


def _found(old: Library, new: Library, request: ChangesRequest) -> tuple[Change, ...]:
    for name in request.tables:
        if name not in TABLES:
            raise UnknownNameError("table", name, nearest(name, TABLES))
    return compare(facts_of(old), facts_of(new), request.tables, Scope(request.assembly))


def _answer(old: Library, new: Library, found: tuple[Change, ...]) -> ChangesAnswer:
    rows = {
        kind: tuple(RowChange(table=c.table, row=dict(c.key), reasons=c.reasons) for c in found if c.kind == kind)
        for kind in ("added", "removed")
    }
    cells = tuple(
        CellChange(
            table=c.table, row=dict(c.key), column=c.column.name, title=c.column.title, unit=c.column.unit or None,
            before=c.before, after=c.after, reasons=c.reasons,
        )
        for c in found
        if c.column is not None
    )  # fmt: skip
    return ChangesAnswer(
        old=facts_of(old).edition, new=facts_of(new).edition,
        added=rows["added"], removed=rows["removed"], changed=cells,
    )  # fmt: skip


def render_changes(old: Library, new: Library, request: ChangesRequest, format_name: str) -> tuple[bytes, str]:
    """Answer the changes as a table of their own, written down in a format, with its media type."""
    table: Table = as_table(_found(old, new, request), facts_of(new).edition)
    return render(table, format_name)


def render_bars(old: Library, new: Library, request: TableRequest, format_name: str) -> tuple[bytes, str]:
    """Answer a table of the newer edition with change bars against the older one, with its media type."""
    scope = scope_of(new, request)
    return render(with_change_bars(facts_of(old), facts_of(new), request.name, scope), format_name)
