"""All pages of a book, gathered from the answers."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from pydantic import Field

from clampgraph.answers.book.front import caution_list, circuit_page, disassembly_page, identification_page
from clampgraph.answers.book.indexes import parts_page, symptom_index
from clampgraph.answers.book.markup import Page, Part, paragraph
from clampgraph.answers.book.symptom_pages import symptom_page
from clampgraph.answers.library import Library, nearest
from clampgraph.answers.models import Request
from clampgraph.answers.symptoms import SymptomOut, search
from clampgraph.answers.table import facts_of
from clampgraph.assembly import Assembly
from clampgraph.errors import UnknownNameError
from clampgraph.tables import TABLES, Facts, Scope, Table, build, changes, with_change_bars
from clampgraph.tables.differences import as_table
from clampgraph.tables.formats.webpage import fragment

__all__ = ["Book", "BookRequest", "Counted", "book"]

Counted = Callable[[str, int, int], None]
"""Told of each page: its title, how many are done, and how many there are."""

_ALWAYS = ("cautions", "standards-used")
"""Tables that stand in every book: what can hurt, and what it all rests on."""
_PAGES = {"cautions": "cautions", "standards-used": "sources"}
_COMPARING = frozenset({"variants-side-by-side"})
"""Tables that show all generations, whichever one the book is about."""


class BookRequest(Request):
    """Which assembly, and which tables."""

    assembly: str = Field(examples=["brannoch-40t"])
    generation: str | None = Field(None, description="The newest one if left out.")
    tables: tuple[str, ...] = Field((), description="All of them if left out; cautions and sources stand there always.")


@dataclass(frozen=True)
class Book:
    """A book: its title, its edition, the cautions that stand up front, and its parts."""

    title: str
    subtitle: str
    assembly: str
    edition: tuple[str, ...]
    since: tuple[str, ...]
    cautions: str
    parts: tuple[Part, ...]

    @property
    def pages(self) -> tuple[Page, ...]:
        """Every page, in order."""
        return tuple(page for part in self.parts for page in part.pages)


def book(library: Library, request: BookRequest, since: Library | None = None, counted: Counted | None = None) -> Book:
    """Gather everything about one assembly.

    Parameters
    ----------
    library
        What is loaded.
    request
        Which assembly, and which tables.
    since
        The edition before; its tables are compared, and what differs carries bars.
    counted
        Told of each page when it is done.

    Raises
    ------
    UnknownNameError
        If there is no such assembly, generation or table; names the nearest.
    """
    for name in request.tables:
        if name not in TABLES:
            raise UnknownNameError("table", name, nearest(name, TABLES))
    assembly = library.assembly(request.assembly, request.generation)
    shown = {node.symptom for node in library.network(assembly).of_kind("symptom")}
    symptoms = [symptom for symptom in search(library, "") if symptom.id in shown]
    symptoms.sort(key=lambda s: (s.label.casefold(), s.id))
    wanted = [n for n in TABLES if not request.tables or n in (*request.tables, *_ALWAYS)]
    tally = _Tally(counted, len(symptoms) + len(wanted) + 4 + (since is not None))
    return _gathered(_Making(library, request, assembly, since, tally), symptoms, wanted)


@dataclass
class _Tally:
    """Counts the pages that are done."""

    counted: Counted | None
    total: int
    done: int = 0

    def of(self, page: Page) -> Page:
        """Count a page, and hand it on."""
        self.done += 1
        if self.counted is not None:
            self.counted(page.title, self.done, self.total)
        return page


@dataclass(frozen=True)
class _Making:
    """What a book is made from."""

    library: Library
    request: BookRequest
    assembly: Assembly
    since: Library | None
    tally: _Tally

    @property
    def facts(self) -> Facts:
        """What tables draw on."""
        return facts_of(self.library)

    def table(self, name: str) -> Table:
        """Build a table, with bars where an edition before is known."""
        generation = None if name in _COMPARING else self.request.generation
        scope = Scope(self.assembly.id, generation)
        if self.since is None:
            return build(self.facts, name, scope)
        return with_change_bars(facts_of(self.since), self.facts, name, scope)


def _gathered(making: _Making, symptoms: list[SymptomOut], wanted: list[str]) -> Book:
    library, assembly, tally = making.library, making.assembly, making.tally
    tables = {name: making.table(name) for name in wanted}
    pages = {name: tally.of(_table_page(table)) for name, table in tables.items()}
    limits = build(making.facts, "checks-with-limits", Scope(assembly.id, making.request.generation))
    about: list[Page] = []
    named: dict[str, frozenset[str]] = {}
    for symptom in symptoms:
        page, named[f"symptom-{symptom.id}"] = symptom_page(library, assembly, symptom, limits)
        about.append(tally.of(page))
    titles = {page.name: page.title for page in (*about, *pages.values())}
    held: Mapping[str, Table] = {pages[name].name: table for name, table in tables.items() if name not in _ALWAYS}
    circuit, joints = tally.of(circuit_page(library, assembly)), tally.of(disassembly_page(library, assembly))
    index, identification = parts_page(assembly, named, titles, held), identification_page(library, assembly)
    changed = () if making.since is None else (tally.of(_changes_page(making, making.since, wanted)),)
    parts = (
        Part("Safety", (pages["cautions"],)),
        Part("The unit", (tally.of(identification), circuit)),
        Part("Symptoms", tuple(about)),
        Part("Work", (joints,)),
        Part("Tables", tuple(page for name, page in pages.items() if name not in _ALWAYS)),
        Part("Indexes", (tally.of(index), symptom_index(symptoms))),
        Part("Sources and edition", (pages["standards-used"], *changed)),
    )
    edition = making.facts.edition
    before = () if making.since is None else facts_of(making.since).edition
    unit = f"{assembly.label}, {assembly.generation.label}"
    return Book(assembly.label, unit, assembly.id, edition, before, caution_list(library, assembly), parts)


def _table_page(table: Table) -> Page:
    name = _PAGES.get(table.name, f"table-{table.name}")
    return Page(name, table.title, fragment(table), wide=len(table.columns) > 4)


def _changes_page(making: _Making, since: Library, names: Sequence[str]) -> Page:
    """Tell what changed in the tables since the edition before, cell by cell, with the facts behind it."""
    found = changes(facts_of(since), making.facts, names, Scope(making.assembly.id))
    if not found:
        return Page("changes", "What changed", paragraph("Nothing about this unit differs from the edition before."))
    return Page("changes", "What changed", fragment(as_table(found, making.facts.edition)), wide=True)
