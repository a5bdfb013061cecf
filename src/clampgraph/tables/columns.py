"""What a table is, whatever it is written down as: columns that say what they hold, rows, sources and an edition."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

__all__ = ["Cell", "Column", "Kind", "Row", "Table", "cell_text"]

Cell = str | int | float | bool | tuple[str, ...] | None
"""A text, a number, yes or no, several texts, or nothing known."""

Kind = Literal["text", "number", "integer", "boolean", "list"]

UNKNOWN = "–"  # noqa: RUF001  # an en dash stands for an empty cell where people read


@dataclass(frozen=True, slots=True)
class Column:
    """One column; `unit` is written as in trade, and a `key` column helps to tell a row from all others.

    `digits` is how many significant ones a number shows where people read; data formats carry all of them.
    """

    name: str
    title: str
    description: str
    kind: Kind = "text"
    unit: str = ""
    key: bool = False
    digits: int = 4

    def text(self, cell: Cell, joint: str = "; ") -> str:
        """Write a cell of this column for people."""
        return cell_text(cell, joint, digits=self.digits)

    @property
    def heading(self) -> str:
        """Title with its unit in brackets."""
        return f"{self.title} [{self.unit}]" if self.unit else self.title


@dataclass(frozen=True, slots=True)
class Row:
    """One row: its cells, the sources it rests on, and what it speaks of.

    `facts` are the IRIs of the things and claims behind the row;
    `nodes` are nodes of the network of `assembly`, so that a change can be traced to the claims between them.
    `change` is set only where two editions are compared.
    """

    cells: tuple[Cell, ...]
    sources: tuple[str, ...] = ()
    facts: tuple[str, ...] = ()
    assembly: tuple[str, str] | None = None
    nodes: tuple[str, ...] = ()
    change: str = ""


@dataclass(frozen=True, slots=True)
class Table:
    """A described table.

    Parameters
    ----------
    name, title, question
        What it is called, and the question that it answers.
    scope
        The assembly and generation it is about; empty where it is about all of them.
    edition
        One line for each pack: its title and dated version.
    caveats
        What a reader must know to use the table rightly.
    """

    name: str
    title: str
    question: str
    columns: tuple[Column, ...]
    rows: tuple[Row, ...]
    scope: str = ""
    edition: tuple[str, ...] = ()
    caveats: tuple[str, ...] = ()

    @property
    def caption(self) -> str:
        """Title and scope in one line."""
        return f"{self.title}: {self.scope}" if self.scope else self.title

    @property
    def footnotes(self) -> Mapping[str, int]:
        """The sources of the rows, numbered in the order in which they first appear."""
        found = dict.fromkeys(source for row in self.rows for source in row.sources)
        return {source: number for number, source in enumerate(found, 1)}

    def without(self, *names: str) -> "Table":
        """Return the table without some of its columns."""
        kept = [i for i, column in enumerate(self.columns) if column.name not in names]
        return replace(
            self,
            columns=tuple(self.columns[i] for i in kept),
            rows=tuple(replace(row, cells=tuple(row.cells[i] for i in kept)) for row in self.rows),
        )

    def key_of(self, row: Row) -> tuple[Cell, ...]:
        """Return the cells that tell a row from all others: all of them where no column is a key."""
        keys = [i for i, column in enumerate(self.columns) if column.key] or range(len(self.columns))
        return tuple(row.cells[i] for i in keys)


def cell_text(cell: Cell, joint: str = "; ", unknown: str = UNKNOWN, digits: int = 4) -> str:
    """Write a cell for people: some significant digits, yes or no, and a dash for what is not known."""
    if cell is None:
        return unknown
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if isinstance(cell, float):
        return _number(cell, digits)
    if isinstance(cell, str | int):
        return str(cell)
    return joint.join(cell) if cell else unknown


def _number(value: float, digits: int) -> str:
    text = f"{value:.{digits}g}"
    if "e" not in text:
        return text
    figures, _, exponent = text.partition("e")
    return f"{figures}e{int(exponent)}"


def marks(row: Row, footnotes: Mapping[str, int]) -> Sequence[int]:
    """Return the numbers of a row's footnotes, in order."""
    return sorted({footnotes[source] for source in row.sources})
