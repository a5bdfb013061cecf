"""Tables for a service manual, each a described object: a question, columns with units, rows, sources, an edition.

A builder turns the facts of the loaded packs, and what is reasoned from them, into a `Table` (see `columns`);
`catalogue` lists the builders by name; `formats` writes a table down; `differences` compares two editions.
Nothing in a table is typed by hand, and building or writing one twice gives the same bytes.
"""

from clampgraph.tables.catalogue import TABLES, TableSpec, build
from clampgraph.tables.columns import Cell, Column, Row, Table
from clampgraph.tables.differences import Change, changes, with_change_bars
from clampgraph.tables.facts import Facts, Scope
from clampgraph.tables.formats import COMPANIONS, FORMATS, Format, render

__all__ = [
    "COMPANIONS",
    "FORMATS",
    "TABLES",
    "Cell",
    "Change",
    "Column",
    "Facts",
    "Format",
    "Row",
    "Scope",
    "Table",
    "TableSpec",
    "build",
    "changes",
    "render",
    "with_change_bars",
]
