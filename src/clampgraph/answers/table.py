"""Cross-reference: every table of a service manual, as data or written down in a format."""

from collections.abc import Callable
from typing import Any, Literal

from pydantic import Field

from clampgraph.answers.library import Library, nearest
from clampgraph.answers.models import Answer, Request
from clampgraph.answers.symptoms import search
from clampgraph.errors import UnknownNameError, WrongCallError
from clampgraph.tables import FORMATS, TABLES, Facts, Scope, Table, build
from clampgraph.tables import render as write_down
from clampgraph.tables.formats.structured import as_data

__all__ = [
    "ColumnOut",
    "NoteOut",
    "TableAnswer",
    "TableOut",
    "TableRequest",
    "TablesAnswer",
    "built",
    "facts_of",
    "render",
    "scope_of",
    "table",
    "tables",
]


class TableOut(Answer):
    """A table in the list."""

    name: str
    title: str
    question: str
    options: tuple[str, ...] = Field(description="Fields of the request that it heeds beside the assembly.")


class TablesAnswer(Answer):
    """All tables, and the formats in which they can be had."""

    tables: tuple[TableOut, ...]
    formats: tuple[str, ...]


class TableRequest(Request):
    """Which table, about what."""

    name: str = Field(examples=["failure-modes-and-effects"])
    assembly: str | None = Field(None, description="All of them if left out.", examples=["brannoch-40t"])
    generation: str | None = Field(
        None, description="Needs an assembly; which ones are shown if left out, the table says."
    )
    symptom: str | None = Field(None, description="One top event only.", examples=["no-release"])
    order: int = Field(2, ge=1, le=6, description="The largest number of causes in a cut set.")
    compact: bool = Field(default=False, description="A list where the table is a wide matrix.")
    differing: bool = Field(default=False, description="Only the rows in which variants differ.")
    priority: bool = Field(default=False, description="Add the multiplied priority number, with its caveat.")


class ColumnOut(Answer):
    """A column: its name in the rows, its title, unit, kind of cells and meaning."""

    name: str
    title: str
    unit: str | None
    kind: Literal["text", "number", "integer", "boolean", "list"]
    key: bool = Field(description="Whether it helps to tell a row from all others.")
    description: str


class NoteOut(Answer):
    """A numbered note: a source that rows refer to."""

    number: int
    text: str


class TableAnswer(Answer):
    """A table as data; each row is an object keyed by the names of the columns, with the numbers of its notes."""

    name: str
    title: str
    question: str
    scope: str | None = Field(description="What it is about; null for all assemblies.")
    edition: tuple[str, ...] = Field(description="Title and version of every pack.")
    columns: tuple[ColumnOut, ...]
    rows: tuple[dict[str, Any], ...]
    notes: tuple[NoteOut, ...]
    caveats: tuple[str, ...] = Field(description="What a reader must know to use the table rightly.")


def tables(_library: Library | None = None) -> TablesAnswer:
    """Answer which tables there are."""
    listed = tuple(
        TableOut(name=s.name, title=s.title, question=s.question, options=s.options) for s in TABLES.values()
    )
    return TablesAnswer(tables=listed, formats=tuple(FORMATS))


def facts_of(library: Library) -> Facts:
    """Return what tables draw on; one for each library, so that fault trees are read once."""
    found: Facts = library.__dict__.setdefault("_table_facts", Facts(library))
    return found


def scope_of(library: Library, request: TableRequest) -> Scope:
    """Check what a request names.

    Raises
    ------
    UnknownNameError
        If there is no such table, assembly, generation or symptom; names the nearest.
    WrongCallError
        If a generation is given without its assembly.
    """
    if request.name not in TABLES:
        raise UnknownNameError("table", request.name, nearest(request.name, TABLES))
    if request.generation is not None and request.assembly is None:
        raise WrongCallError(f"The generation '{request.generation}' needs its assembly; name one beside it.")
    if request.assembly is not None:
        library.assembly(request.assembly, request.generation)
    if request.symptom is not None and request.symptom not in library.knowledge.symptoms:
        raise UnknownNameError("symptom", request.symptom, [found.id for found in search(library, request.symptom)])
    return Scope(
        request.assembly, request.generation, request.symptom, request.order,
        request.compact, request.differing, request.priority,
    )  # fmt: skip


def built(library: Library, request: TableRequest, counted: Callable[[int], None] | None = None) -> Table:
    """Build the table asked for, ready to be written down; `counted` is told of each row.

    Raises
    ------
    UnknownNameError
        If there is no such table, assembly, generation or symptom; names the nearest.
    WrongCallError
        If a generation is given without its assembly.
    """
    return build(facts_of(library), request.name, scope_of(library, request), counted)


def table(library: Library, request: TableRequest) -> TableAnswer:
    """Answer a table as data.

    Raises
    ------
    UnknownNameError
        If there is no such table, assembly, generation or symptom; names the nearest.
    WrongCallError
        If a generation is given without its assembly.
    """
    return TableAnswer.model_validate(as_data(built(library, request)))


def render(
    library: Library, request: TableRequest, format_name: str, counted: Callable[[int], None] | None = None
) -> tuple[bytes, str]:
    """Answer a table written down in a format, with its media type; `json` is the body of `table`.

    `csvm` gives the metadata that go beside `csv`; `counted` is told of each row that is there.

    Raises
    ------
    UnknownNameError
        If there is no such format, table, assembly, generation or symptom; names the nearest.
    WrongCallError
        If the format cannot hold the table, and why.
    """
    if format_name == "json":
        return table(library, request).model_dump_json().encode(), FORMATS["json"].media_type
    return write_down(built(library, request, counted), format_name)
