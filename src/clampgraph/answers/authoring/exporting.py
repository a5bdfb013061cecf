"""Write an assembly out as tables that import to the same statements.

A cell is filled only with what reads back as the very same term; whatever no table holds goes into `facts`.
"""

import csv
import io
from collections import defaultdict
from collections.abc import Mapping, Sequence

from clampgraph.answers.authoring.cells import CLASSES, write_cell
from clampgraph.answers.authoring.columns import IRI_COLUMN, SEPARATOR, TABLES, Column, Table
from clampgraph.answers.authoring.importing import BASE
from clampgraph.answers.authoring.names import Names, local_name
from clampgraph.answers.authoring.rows import minted
from clampgraph.answers.library import Library, nearest
from clampgraph.errors import UnknownNameError
from clampgraph.graph.statements import PREFIXES, TYPE, Iri, Statement, statements, told

__all__ = ["export_pack", "members_of"]

_CG = PREFIXES["cg"]
_CLASS_TABLE = {_CG + t.rdf_class.removeprefix("cg:"): t for t in TABLES.values() if t.rdf_class} | dict.fromkeys(
    (_CG + name for name in CLASSES.values()), TABLES["parts"]
)

About = Mapping[str, Sequence[Statement]]


def export_pack(library: Library, assembly: str) -> dict[str, str]:
    """Return an assembly with its parts as CSV texts by file name; importing them all gives the same statements.

    Raises
    ------
    UnknownNameError
        If there is no such assembly.
    """
    if assembly not in library.assemblies:
        raise UnknownNameError("assembly", assembly, nearest(assembly, library.assemblies))
    described = statements(library.graph)
    about: dict[str, list[Statement]] = defaultdict(list)
    for statement in described:
        about[statement.subject].append(statement)
    iri = str(library.assemblies[assembly]["iri"])
    base = iri.removesuffix(f"{assembly}/{assembly}")
    writer = _Writer(Names.of(described), assembly, base if base != iri else BASE)
    for member in members_of(about, iri):
        writer.take(member, about[member])
    return {f"{name}.csv": writer.text(TABLES[name]) for name in TABLES if writer.rows[name]}


def members_of(about: About, assembly: str) -> list[str]:
    """List what belongs to an assembly.

    Whatever leads to it (generations, positions, connections, fitments, joints and so on), the parts fitted there,
    the kits and groups that hold one of them, what these hold, and the features of all those parts.
    """
    pointing: dict[str, set[str]] = defaultdict(set)
    links: dict[str, dict[str, set[str]]] = {name: defaultdict(set) for name in ("featureOf", "contentOf", "item")}
    for said in about.values():
        for s in said:
            if isinstance(s.value, Iri):
                pointing[s.value.text].add(s.subject)
                if (name := s.predicate.removeprefix(_CG)) in links:
                    links[name][s.subject].add(s.value.text)
    core, queue = {assembly}, [assembly]
    while queue:
        fresh = pointing[queue.pop()] - core
        core |= fresh
        queue += fresh
    parts = {part for member in core for part in links["item"].get(member, ())}
    contents = set(links["contentOf"])
    kits = {kit for c in contents if links["item"][c] & parts for kit in links["contentOf"][c]}
    held = {c for c in contents if links["contentOf"][c] & (parts | kits)}
    parts |= kits | {part for c in held for part in links["item"][c]}
    features = {s for s, of in links["featureOf"].items() if of & parts}
    return sorted(m for m in core | parts | held | features if m in about)


class _Writer:
    """Sorts members into tables, cell by cell."""

    def __init__(self, names: Names, assembly: str, base: str) -> None:
        self.names, self.assembly, self.base = names, assembly, base
        self.rows: dict[str, list[dict[str, str]]] = defaultdict(list)

    def take(self, member: str, said: Sequence[Statement]) -> None:
        """Write one member as a row of its table, and as facts where a cell cannot hold what is said."""
        classes = [s.value.text for s in said if s.predicate == TYPE and isinstance(s.value, Iri)]
        table = next((_CLASS_TABLE[c] for c in classes if c in _CLASS_TABLE), None)
        left = list(said)
        row = self._row(table, member, left) if table else None
        if table and row is not None:
            self.rows[table.name].append(row)
        else:
            left = list(said)
        self.rows["facts"] += [
            {"subject": told(Iri(s.subject)), "property": told(Iri(s.predicate)), "value": told(s.value)} for s in left
        ]

    def _row(self, table: Table, member: str, left: list[Statement]) -> dict[str, str] | None:
        """Fill a row and take out of `left` what it says; None if a cell that must be filled cannot be."""
        row = {"assembly": self.assembly} if "assembly" in table.key else {}
        if table.name == "joints":
            row["joint"] = local_name(member)
        for column in table.columns:
            if column.predicate:
                cell = self._cell(column, left)
                if cell:
                    row[column.name] = cell
                elif column.required:
                    return None
        left[:] = [s for s in left if not self._implied(table, row, s)]
        if any(s.predicate == PREFIXES["prov"] + "hadPrimarySource" for s in left) or (
            "source" in table.by_name and not row.get("source")
        ):
            return None
        if minted(table, row, self.base) != member:
            row[IRI_COLUMN] = member
        return row

    def _cell(self, column: Column, left: list[Statement]) -> str:
        prefix, _, local = column.predicate.partition(":")
        entries = list[str]()
        for s in [s for s in left if s.predicate == PREFIXES[prefix] + local]:
            text = write_cell(column, s.value, self.assembly, self.names)
            if text and (not column.many or SEPARATOR not in text) and (column.many or not entries):
                entries.append(text)
                left.remove(s)
        return f" {SEPARATOR} ".join(sorted(entries))

    def _implied(self, table: Table, row: Mapping[str, str], said: Statement) -> bool:
        """Tell whether a row says this without a cell of its own: its class, or whose mark it is."""
        if said.predicate == TYPE:
            return said.value == Iri(_CG + table.rdf_class.removeprefix("cg:"))
        whole = table.name == "marks" and not row.get("generation")
        return whole and said == Statement(
            said.subject, _CG + "markOf", Iri(self.names.find("assembly", self.assembly))
        )

    def text(self, table: Table) -> str:
        """Return one table as CSV, with the base in a comment above the header."""
        rows = self.rows[table.name]
        columns = [c.name for c in table.columns if any(row.get(c.name) for row in rows)]
        columns += [IRI_COLUMN] if any(IRI_COLUMN in row for row in rows) else []
        out = io.StringIO(newline="")
        out.write(f"# base: {self.base}\n")
        writer = csv.DictWriter(out, columns, restval="", lineterminator="\n")
        writer.writeheader()
        writer.writerows(sorted(rows, key=lambda row: [row.get(c, "") for c in columns]))
        return out.getvalue()
