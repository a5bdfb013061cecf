"""Where to find it: an index of parts and an index of symptoms, both by what people say."""

from collections.abc import Iterable, Mapping, Sequence
from html import escape

from clampgraph.answers.book.markup import Page, bullets, grid, link, paragraph
from clampgraph.answers.symptoms import SymptomOut
from clampgraph.assembly import Assembly
from clampgraph.tables import Table

__all__ = ["parts_page", "symptom_index"]


def parts_page(
    assembly: Assembly, symptoms: Mapping[str, frozenset[str]], titles: Mapping[str, str], tables: Mapping[str, Table]
) -> Page:
    """Index positions and part numbers by the pages on which each of them is named.

    Parameters
    ----------
    assembly
        The generation that the book is about.
    symptoms
        The positions that each page of a symptom names.
    titles
        The title of every page.
    tables
        The table on each page that holds one.
    """
    named = {page: _words(table) for page, table in tables.items()}
    rows = []
    for position in sorted(assembly.positions.values(), key=lambda p: p.designation):
        wanted = {position.id, *(item.mpn for item in position.items)}
        pages = [page for page, positions in symptoms.items() if position.id in positions]
        pages += [page for page, words in named.items() if wanted & words]
        rows.append(
            (
                f'<span id="position-{position.id}">{escape(position.designation)}</span>',
                escape(position.id),
                escape(position.type.label),
                ", ".join(escape(item.mpn) for item in position.items) or "–",  # noqa: RUF001  # an empty cell
                ", ".join(link(page, titles[page]) for page in pages),
            )
        )
    head = ("Designation", "Position", "Component", "Part number", "Named on")
    return Page("parts", "Index of parts", grid("index", "Parts by reference designation (IEC 81346-2)", head, rows))


def _words(table: Table) -> frozenset[str]:
    return frozenset(cell for row in table.rows for cell in row.cells if isinstance(cell, str))


def symptom_index(symptoms: Iterable[SymptomOut]) -> Page:
    """Index symptoms by their names and by what people call them at the machine."""
    found: list[tuple[str, str, str]] = []
    for symptom in symptoms:
        page = f"symptom-{symptom.id}"
        found.append((symptom.label, page, ""))
        found += [(other, page, symptom.label) for other in symptom.alternatives]
    found.sort(key=lambda entry: (entry[0].casefold(), entry[1]))
    return Page("symptoms", "Index of symptoms", paragraph("By every name.") + bullets(_entries(found)))


def _entries(found: Sequence[tuple[str, str, str]]) -> Iterable[str]:
    for words, page, proper in found:
        yield f"{link(page, words)}{f', see {escape(proper)}' if proper else ''}"
