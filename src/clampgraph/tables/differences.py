"""What changed between two editions: rows added and removed, cells changed, and the facts behind each.

Rows are matched by their key columns.
A row states what it rests on: its own things and claims, and for what was reasoned, nodes of the network of its
assembly, which rest on the claims of every link up- and downstream of them.
The facts of both editions are compared statement by statement;
the reason of a change is whichever of those statements differ.
"""

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property

import networkx as nx

from clampgraph.assembly import InfluenceGraph
from clampgraph.assembly.knowledge import Condition
from clampgraph.tables.catalogue import TABLES, build
from clampgraph.tables.columns import Cell, Column, Row, Table, cell_text
from clampgraph.tables.facts import Facts, Scope

__all__ = ["Change", "as_table", "changes", "with_change_bars"]

Statement = tuple[str, str, str]
"""Subject, predicate and value, as text."""

_REASONS = 12
"""How many statements are told as reasons of one change; the rest is counted."""


@dataclass(frozen=True, slots=True)
class Change:
    """One row added or removed, or one cell changed, and the statements that differ behind it."""

    kind: str
    table: str
    key: tuple[tuple[str, Cell], ...]
    column: Column | None
    before: Cell
    after: Cell
    reasons: tuple[str, ...]


@dataclass(frozen=True)
class _Editions:
    """Two editions with what differs between them."""

    old: Facts
    new: Facts
    trails: dict[tuple[bool, str, str], "_Trail"] = field(default_factory=dict)
    walked: dict[tuple[tuple[bool, str, str], tuple[str, ...]], tuple[str, ...]] = field(default_factory=dict)

    @cached_property
    def differing(self) -> Mapping[str, tuple[str, ...]]:
        """The sentences that tell which statements differ, by subject."""
        before, after = _statements(self.old), _statements(self.new)
        gone, come = before.keys() - after.keys(), after.keys() - before.keys()
        found: dict[str, list[str]] = {}
        for subject, predicate in sorted({(s, p) for s, p, _ in gone | come}):
            was = sorted(v for s, p, v in gone if (s, p) == (subject, predicate))
            now = sorted(v for s, p, v in come if (s, p) == (subject, predicate))
            found.setdefault(subject, []).append(_sentence(subject, predicate, was, now))
        return {subject: tuple(told) for subject, told in found.items()}

    def reasons(self, *rows: tuple[Facts, Row]) -> tuple[str, ...]:
        """Tell which statements behind some rows differ: those of their own things first."""
        own = [iri for _, row in rows for iri in row.facts]
        told = self._told(own)
        if not told:
            told = self._told(claim for facts, row in rows for claim in self._behind(facts, row))
        rest = len(told) - _REASONS
        return (*told[:_REASONS], f"and {rest} more") if rest > 0 else tuple(told)

    def _behind(self, facts: Facts, row: Row) -> Iterable[str]:
        """Give the claims that the nodes of a row rest on; walked once for each set of nodes."""
        if row.assembly is None or not row.nodes:
            return ()
        place = facts is self.new, *row.assembly
        if place not in self.trails:
            influence = facts.loaded.influence(facts.loaded.assembly(*row.assembly))
            self.trails[place] = _Trail(influence, facts.knowledge.conditions)
        if (place, row.nodes) not in self.walked:
            told = (claim for claim in self.trails[place].claims(row.nodes) if claim in self.differing)
            self.walked[place, row.nodes] = tuple(dict.fromkeys(told))
        return self.walked[place, row.nodes]

    def _told(self, subjects: Iterable[str]) -> list[str]:
        return [text for s in dict.fromkeys(subjects) if s in self.differing for text in self.differing[s]]


def _statements(facts: Facts) -> Mapping[Statement, None]:
    found: dict[Statement, None] = {}
    for row in facts.ask("tables/list-facts"):
        value = str(row["value"])
        if row["number"] is not None:
            value = f"{row['number']:g} {_short(str(row['unit']))}"
        found[str(row["subject"]), str(row["predicate"]), value] = None
    return found


def _short(iri: str) -> str:
    return iri.rpartition("#")[2].rpartition("/")[2] if "://" in iri else iri


def _sentence(subject: str, predicate: str, was: list[str], now: list[str]) -> str:
    values = [", ".join(_short(v) for v in these) or "nothing" for these in (was, now)]
    return f"{_short(subject)} {_short(predicate)}: {values[0]} → {values[1]}"


@dataclass
class _Trail:
    """The influence graph of one assembly in one edition, to be walked from many nodes."""

    influence: InfluenceGraph
    conditions: Mapping[str, Condition]

    @cached_property
    def graph(self) -> "nx.DiGraph[str]":
        """What leads to what."""
        found: nx.DiGraph[str] = nx.DiGraph()
        found.add_edges_from((link.cause, link.effect) for link in self.influence.influences)
        return found

    def claims(self, nodes: Iterable[str]) -> Iterator[str]:
        """Give the failure modes, the conditions and the claims of every link up- or downstream of some nodes."""
        near: set[str] = set()
        for start in nodes:
            if start in self.graph:
                near |= {start} | nx.ancestors(self.graph, start) | nx.descendants(self.graph, start)
        for name in sorted(near):
            node = self.influence.nodes[name]
            if node.kind == "failure-mode" and node.position is not None:
                yield self.influence.assembly.positions[node.position].type.modes[node.name].iri
            elif node.kind == "condition":
                yield self.conditions[node.name].iri
        for link in self.influence.influences:
            if link.claim and link.cause in near and link.effect in near:
                yield link.claim


def changes(old: Facts, new: Facts, names: Iterable[str] = (), scope: Scope | None = None) -> tuple[Change, ...]:
    """Return what changed in some tables, or in all of them: added, then removed, then changed, table by table.

    Raises
    ------
    UnknownNameError
        If there is no table of one of the names.
    """
    editions = _Editions(old, new)
    found: list[Change] = []
    for name in names or TABLES:
        tables = _built(editions, name, scope or Scope())
        found += _between(editions, *tables)
    return tuple(found)


def _built(editions: _Editions, name: str, scope: Scope) -> tuple[Table, Table]:
    """Build a table in both editions; an assembly that one of them lacks gives an empty table there."""
    old, new = editions.old, editions.new
    if scope.assembly is None or _both_or_none(editions, scope.assembly):
        return build(old, name, scope), build(new, name, scope)
    if scope.assembly in new.loaded.assemblies:
        there = build(new, name, scope)
        return replace(there, rows=()), there
    there = build(old, name, scope)
    return there, replace(there, rows=())


def _both_or_none(editions: _Editions, assembly: str) -> bool:
    return (assembly in editions.old.loaded.assemblies) == (assembly in editions.new.loaded.assemblies)


def _keyed(table: Table) -> dict[tuple[object, ...], Row]:
    """Match rows by key; rows that share one are told apart by their order."""
    seen: Counter[tuple[Cell, ...]] = Counter()
    found: dict[tuple[object, ...], Row] = {}
    for row in table.rows:
        key = table.key_of(row)
        found[(*key, seen[key])] = row
        seen[key] += 1
    return found


def _named_key(table: Table, row: Row) -> tuple[tuple[str, Cell], ...]:
    keys = [column.name for column in table.columns if column.key] or [column.name for column in table.columns]
    return tuple(zip(keys, table.key_of(row), strict=True))


def _between(editions: _Editions, old: Table, new: Table) -> Iterator[Change]:
    before, after = _keyed(old), _keyed(new)
    for key, row in after.items():
        if key not in before:
            yield Change(
                "added", new.name, _named_key(new, row), None, None, None, editions.reasons((editions.new, row))
            )
    for key, row in before.items():
        if key not in after:
            yield Change(
                "removed", old.name, _named_key(old, row), None, None, None, editions.reasons((editions.old, row))
            )
    for key in (k for k in after if k in before):
        yield from _cells(editions, (old, before[key]), (new, after[key]))


def _cells(editions: _Editions, old: tuple[Table, Row], new: tuple[Table, Row]) -> Iterator[Change]:
    (old_table, was), (new_table, now) = old, new
    differing = list(_differing(old_table, was, new_table, now))
    if not differing:
        return
    reasons = editions.reasons((editions.old, was), (editions.new, now))
    for column, before, after in differing:
        yield Change("changed", new_table.name, _named_key(new_table, now), column, before, after, reasons)


def _differing(old: Table, was: Row, new: Table, now: Row) -> Iterator[tuple[Column, Cell, Cell]]:
    """Give the cells that read otherwise; a column that one table lacks is empty there."""
    before = {column.name: cell for column, cell in zip(old.columns, was.cells, strict=True)}
    after = {column.name: cell for column, cell in zip(new.columns, now.cells, strict=True)}
    columns = {column.name: column for column in (*new.columns, *old.columns)}
    for name, column in columns.items():
        if not _same(before.get(name), after.get(name)):
            yield column, before.get(name), after.get(name)


def _same(before: Cell, after: Cell) -> bool:
    """Two numbers are the same when only rounding tells them apart."""
    if isinstance(before, float) and isinstance(after, float):
        return abs(before - after) <= 1e-12 * max(abs(before), abs(after))
    return before == after


def with_change_bars(old: Facts, new: Facts, name: str, scope: Scope | None = None) -> Table:
    """Return the table of the new edition with every row marked that was added or changed, and removed rows kept.

    A removed row stands behind the row that it followed.
    """
    editions = _Editions(old, new)
    was, now = _built(editions, name, scope or Scope())
    before, after = _keyed(was), _keyed(now)
    follows: dict[tuple[object, ...] | None, list[Row]] = {}
    last: tuple[object, ...] | None = None
    for key, row in before.items():
        if key in after:
            last = key
        else:
            follows.setdefault(last, []).append(replace(_aligned(was, row, now), change="removed"))
    rows: list[Row] = list(follows.get(None, ()))
    for key, row in after.items():
        kind = "added" if key not in before else "changed" if any(_differing(was, before[key], now, row)) else ""
        rows += [replace(row, change=kind), *follows.get(key, ())]
    return replace(now, rows=tuple(rows))


def _aligned(old: Table, row: Row, new: Table) -> Row:
    """Give a row of the old table the columns of the new one."""
    cells = {column.name: cell for column, cell in zip(old.columns, row.cells, strict=True)}
    return replace(row, cells=tuple(cells.get(column.name) for column in new.columns))


def as_table(found: Iterable[Change], editions: tuple[str, ...] = ()) -> Table:
    """Return changes as a table, to be written in any format."""
    columns = (
        Column("table", "Table", "Name of the table.", key=True),
        Column("kind", "Kind", "Whether the row was added or removed, or a cell of it changed."),
        Column("row", "Row", "The cells that tell the row from all others.", "list", key=True),
        Column("column", "Column", "The column of a changed cell."),
        Column("before", "Before", "The cell in the old edition."),
        Column("after", "After", "The cell in the new edition."),
        Column("reasons", "Facts that changed", "Statements behind the row that differ.", "list"),
    )
    rows = tuple(
        Row(
            (
                change.table, change.kind, tuple(f"{name}: {cell_text(cell)}" for name, cell in change.key),
                change.column.heading if change.column else None,
                cell_text(change.before) if change.column else None,
                cell_text(change.after) if change.column else None,
                change.reasons,
            )
        )
        for change in found
    )  # fmt: skip
    question = "Which rows and cells differ from the other edition, and because of which facts?"
    return Table("changes", "Changes between editions", question, columns, rows, edition=editions)
