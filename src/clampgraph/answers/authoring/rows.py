"""One row: its IRI, its statements, and every reason why it cannot be taken."""

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from urllib.parse import quote

from clampgraph.answers.authoring.cells import CLASSES, read_cell
from clampgraph.answers.authoring.columns import IRI_COLUMN, SEPARATOR, Column, Table
from clampgraph.answers.authoring.names import CellError, Names, slug
from clampgraph.answers.authoring.sheets import SheetRow
from clampgraph.assembly import Knowledge
from clampgraph.graph.statements import PREFIXES, TYPE, Iri, Statement, Text, expand

__all__ = ["Draft", "Refused", "RowReader", "minted"]

_CG = PREFIXES["cg"]
_LABEL = PREFIXES["skos"] + "prefLabel"
_FROM_UNTIL = (("built from", "built until"), ("first serial", "last serial"))
_OWN_RECORDS = "own records"
_NEW = {"builder": ("Builder", ""), "maker": ("Supplier", ""), "source": ("Source", "source/")}
"""What a name that nobody described yet becomes: its class, and where its IRI lies below the base."""

Keyed = tuple[Table, str, SheetRow, str]


@dataclass(frozen=True, slots=True)
class Refused:
    """A cell that keeps its row out."""

    file: str
    line: int
    column: str
    value: str
    why: str


@dataclass(frozen=True, slots=True)
class Draft:
    """A row that can be taken: where it stands, its IRI, and what it says."""

    file: str
    line: int
    iri: str
    assembly: str
    cells: Mapping[str, str]
    statements: tuple[Statement, ...]
    notes: tuple[str, ...]


def minted(table: Table, cells: Mapping[str, str], base: str) -> str:
    """Return the IRI that the key of a row makes; a generation that is not told stands for its assembly."""
    key = [cells.get(name) or (cells["assembly"] if name == "generation" else "") for name in table.key]
    return base + table.iri.format(*(quote(part, safe="-._~") for part in key))


class RowReader:
    """Reads rows against what is described already."""

    def __init__(self, knowledge: Knowledge, described: Iterable[Statement], base: str, assembly: str) -> None:
        self._base, self._assembly = base, assembly
        self._ports = {t.iri: sorted(t.ports) for t in knowledge.types.values()}
        self._types = {
            s.subject: s.value.text for s in described if s.predicate == _CG + "ofType" and isinstance(s.value, Iri)
        }

    def _cells(self, row: SheetRow) -> dict[str, str]:
        cells = dict(row.cells)
        if self._assembly and not cells.get("assembly"):
            cells["assembly"] = self._assembly
        return cells

    def name_rows(
        self, rows: Iterable[tuple[Table, str, SheetRow]], names: Names, refused: list[Refused]
    ) -> list[Keyed]:
        """Give every row its IRI and make what it describes known by name; a key that comes twice is refused."""
        first: dict[tuple[str, str], tuple[str, int]] = {}
        keyed = []
        for table, file, row in rows:
            cells = self._cells(row)
            if table.key and (empty := next((k for k in table.key if not _has(table, k, cells)), None)):
                refused.append(Refused(file, row.line, empty, "", f"is empty; {table.by_name[empty].hint}"))
                continue
            given = cells.get(IRI_COLUMN, "")
            iri = (expand(f"<{given}>", {}) if given else minted(table, cells, self._base)) if table.key else ""
            if iri is None:
                refused.append(Refused(file, row.line, IRI_COLUMN, given, f"'{given}' is no IRI"))
                continue
            if table.key and (table.name, iri) in first:
                where = first[table.name, iri]
                why = f"repeats row {where[1]} of {where[0]}; say each only once"
                refused.append(Refused(file, row.line, table.key[-1], cells[table.key[-1]], why))
                continue
            first[table.name, iri] = file, row.line
            keyed.append((table, file, row, iri))
            self._make_known(table, cells, iri, names)
        return keyed

    def _make_known(self, table: Table, cells: Mapping[str, str], iri: str, names: Names) -> None:
        singular = {
            "assemblies": "assembly", "generations": "generation", "joints": "joint", "parts": "part",
            "positions": "position",
        }  # fmt: skip
        if (kind := singular.get(table.name)) is not None:
            scope = cells["assembly"] if kind in ("generation", "joint", "position") else ""
            names.replace(kind, cells[table.key[-1]], iri, scope)

    def read(
        self, table: Table, place: tuple[str, SheetRow], iri: str, names: Names
    ) -> tuple[Draft | None, list[Refused]]:
        """Return what a row says, or every reason why it cannot be taken."""
        (file, row), refused = place, list[Refused]()
        cells, notes, said = self._cells(row), list[str](), list[Statement]()

        def refuse(column: str, why: str) -> None:
            refused.append(Refused(file, row.line, column, cells.get(column, ""), why))

        if row.surplus:
            refuse(table.columns[-1].name, f"has '{row.surplus[0]}' behind the last column; look for a missing quote")
        if table.name == "facts":
            said += self._fact(table, cells, names, refuse)
        elif table.name != "parts":
            said.append(Statement(iri, TYPE, Iri(_CG + table.rdf_class.removeprefix("cg:"))))
        for column in table.columns if table.name != "facts" else ():
            self._told(column, cells, names, (iri, said, notes), refuse)
        for name, why in _contradictions(table, cells):
            refuse(name, why)
        if refused:
            return None, refused
        said += self._extras(table, cells, iri, names)
        return Draft(file, row.line, iri, cells.get("assembly", ""), cells, tuple(said), tuple(notes)), []

    def _told(
        self, column: Column, cells: Mapping[str, str], names: Names,
        found: tuple[str, list[Statement], list[str]], refuse: Callable[[str, str], None],
    ) -> None:  # fmt: skip
        iri, said, notes = found
        whole = cells.get(column.name, "") or (_OWN_RECORDS if column.kind == "source" else "")
        entries = [e.strip() for e in whole.split(SEPARATOR)] if column.many else [whole]
        if column.required and not whole:
            refuse(column.name, f"is empty; {column.hint}")
        if column.predicate == "rdf:type" and not whole:
            said.append(Statement(iri, TYPE, Iri(_CG + CLASSES[""])))
        for entry in filter(None, entries):
            if column.kind in _NEW and entry not in names.known(column.kind):
                said += self._newcomer(column.kind, entry, names, notes)
            try:
                value = read_cell(column, entry, cells.get("assembly", ""), names)
            except CellError as error:
                refuse(column.name, str(error))
                continue
            if column.predicate:
                prefix, _, local = column.predicate.partition(":")
                said.append(Statement(iri, PREFIXES[prefix] + local, value))

    def _newcomer(self, kind: str, text: str, names: Names, notes: list[str]) -> list[Statement]:
        """Describe a builder, maker or source that nobody described yet, by its name."""
        name, folder = _NEW[kind]
        iri = self._base + folder + quote(slug(text), safe="-._~")
        for known_as in ("builder", "maker") if kind == "builder" else (kind,):
            names.add(known_as, text, iri)
        if text != _OWN_RECORDS:
            notes.append(f"'{text}' is a {kind} that nobody described yet; the pack describes it by this name.")
        return [Statement(iri, TYPE, Iri(_CG + name)), Statement(iri, _LABEL, Text(text, "", "en"))]

    def _fact(
        self, table: Table, cells: Mapping[str, str], names: Names, refuse: Callable[[str, str], None]
    ) -> list[Statement]:
        read = []
        for column in table.columns:
            try:
                read.append(read_cell(column, cells.get(column.name, ""), "", names))
            except CellError as error:
                refuse(column.name, str(error))
        if len(read) == len(table.columns) and isinstance(read[0], Iri) and isinstance(read[1], Iri):
            return [Statement(read[0].text, read[1].text, read[2])]
        return []

    def _extras(self, table: Table, cells: Mapping[str, str], iri: str, names: Names) -> list[Statement]:
        """Say what a row means beyond its cells: a mark of the whole assembly, or where a part is fitted."""
        scope = cells.get("assembly", "")
        if table.name == "marks" and not cells.get("generation"):
            return [Statement(iri, _CG + "markOf", Iri(names.find("assembly", scope)))]
        if table.name != "parts" or not cells.get("positions"):
            return []
        said = []
        for position in filter(None, (e.strip() for e in cells["positions"].split(SEPARATOR))):
            fit = f"{self._base}{scope}/{quote(position)}.fitted-{quote(cells['part number'], safe='-._~')}"
            said += [
                Statement(fit, TYPE, Iri(_CG + "Fitment")),
                Statement(fit, _CG + "fitmentAt", Iri(names.find("position", position, scope))),
                Statement(fit, _CG + "item", Iri(iri)),
            ]
            for generation in filter(None, (e.strip() for e in cells.get("only in generation", "").split(SEPARATOR))):
                said.append(Statement(fit, _CG + "inGeneration", Iri(names.find("generation", generation, scope))))
        return said

    def check_ports(self, connections: Sequence[Draft], positions: Sequence[Draft]) -> list[Refused]:
        """Refuse a connection to a port that the component type at its position does not have."""
        types = dict(self._types)
        for draft in positions:
            types |= {s.subject: s.value.text for s in draft.statements
                      if s.predicate == _CG + "ofType" and isinstance(s.value, Iri)}  # fmt: skip
        refused = []
        for draft in connections:
            told = {s.predicate.removeprefix(_CG): s.value for s in draft.statements}
            for end in ("from", "to"):
                at, port = told[f"{end}Position"], draft.cells[f"{end} port"]
                ports = self._ports.get(types.get(at.text, ""), []) if isinstance(at, Iri) else []
                if port not in ports:
                    why = f"{draft.cells[end]} has no port '{port}'; it has {', '.join(ports) or 'none'}"
                    refused.append(Refused(draft.file, draft.line, f"{end} port", port, why))
        return refused


def _has(table: Table, key: str, cells: Mapping[str, str]) -> bool:
    return bool(cells.get(key)) or not table.by_name[key].required


def _contradictions(table: Table, cells: Mapping[str, str]) -> list[tuple[str, str]]:
    """List what single cells cannot show."""
    found = []
    for first, last in _FROM_UNTIL:
        a, b = cells.get(first, ""), cells.get(last, "")
        if a and b and (int(a) > int(b) if a.isdigit() and b.isdigit() else a > b):
            found.append((last, f"'{b}' lies before {first}, which is {a}"))
    if cells.get("price") and not re.fullmatch(r"[A-Z]{3}", cells.get("currency", "")):
        found.append(("currency", "a price needs its currency as three capital letters such as EUR"))
    if table.name == "parts" and cells.get("positions") and not cells.get("assembly"):
        found.append(("assembly", "is empty; say which assembly the positions belong to"))
    if table.name == "requirements" and bool(cells.get("value")) == bool(cells.get("like")):
        found.append(("value", "give either a value or the neighbour that sets it"))
    designation = cells.get("designation", "")
    if designation and not re.fullmatch(r"(=[A-Z]+[0-9]+)*-?[A-Z]{1,2}[0-9]+", designation):
        found.append(("designation", f"'{designation}' is no reference designation such as =P1-QM2 (IEC 81346-2)"))
    return found
