"""Every format is read back by an independent reader and gives the same cells."""

import io
from html.parser import HTMLParser

import openpyxl
import pytest
from tests.tables.readers import READERS

from clampgraph.errors import UnknownNameError, WrongCallError
from clampgraph.tables import FORMATS, TABLES, Column, Row, Scope, Table, build, render
from clampgraph.tables.columns import marks

NASTY = Table(
    "nasty", "Signs & <markup>", "Does every sign | survive?",
    (
        Column("name", "Name_1", "A text.", key=True),
        Column("amount", "Amount", "A number.", "number", "l/min"),
        Column("pieces", "Pieces", "A whole number.", "integer"),
        Column("sure", "Sure?", "Yes or no.", "boolean"),
        Column("parts", "Parts", "Several texts.", "list"),
    ),
    (
        Row(("=P1-QM2", 1234.56789, 3, True, ("a & b", 'say "c"')), ("common practice", "ISO 4414")),
        Row((r"back\slash, comma; 100 % #1 $2 {x} ~ ^ _ <i> | [y]", 1e-7, 0, False, ("one",)), ("ISO 4414",)),
        Row(("µ ° → ≤ ≥", None, None, None, ()), ()),
    ),
    "all of it", ("Demo, 2026-11-25",), ("Mind 1 < 2 & 3 > 2.",),
)  # fmt: skip


def tables(facts):
    """Give every table of every kind, wide ones in their compact form as well."""
    yield NASTY
    for name in TABLES:
        yield build(facts, name, Scope("brannoch-40t"))
    yield build(facts, "symptom-by-cause", Scope(compact=True))
    yield build(facts, "failure-modes-and-effects", Scope(priority=True))
    yield build(facts, "variants-side-by-side", Scope("brannoch-40t", differing=True))


def expected(table, name):
    """Return the cells that a reader must find in a format."""
    numbers = table.footnotes
    rows = []
    for row in table.rows:
        notes = marks(row, numbers)
        if name == "json":
            cells = [list(cell) if isinstance(cell, tuple) else cell for cell in row.cells]
            rows.append([*cells, notes] if numbers else cells)
            continue
        cells = [_cell(column, cell, name) for column, cell in zip(table.columns, row.cells, strict=True)]
        rows.append([*cells, _notes(notes, table, name)] if numbers else cells)
    return rows


def _cell(column, cell, name):
    if name == "csv":
        return {None: "", (): ""}.get(cell, repr(cell) if isinstance(cell, float) else column.text(cell))
    if name == "xlsx":  # numbers have sixteen digits there
        cell = float(f"{cell:.16G}") if isinstance(cell, float) else cell
        return {None: "", (): ""}.get(cell, "; ".join(cell) if isinstance(cell, tuple) else cell)
    return column.text(cell)


def _notes(notes, table, name):
    texts = list(table.footnotes)
    if name == "csv":
        return "; ".join(texts[number - 1] for number in notes)
    return {"xlsx": "; ", "md": "; "}.get(name, ", ").join(str(number) for number in notes)


@pytest.mark.parametrize("name", FORMATS)
def test_every_table_reads_back_with_the_same_cells(facts, name):
    """Headings with units, then cell by cell; a table that a format refuses says why and what can hold it."""
    for table in tables(facts):
        if name == "tex" and len(table.columns) > 16:
            with pytest.raises(WrongCallError, match=r"columns.*across a page.*ask for its compact form"):
                render(table, name)
            continue
        content, _ = render(table, name)
        headings, rows = READERS[name](content)
        wanted = [column.heading for column in table.columns]
        assert headings == ([*wanted, "Notes"] if table.footnotes else wanted)
        assert rows == expected(table, name), table.name


@pytest.mark.parametrize("name", FORMATS)
def test_writing_twice_gives_the_same_bytes(facts, library, name):
    """The same data in another library, and nothing of the hour in the file."""
    again = type(facts)(type(library)(library.graph))
    for table in ("failure-modes-and-effects", "where-used", "cut-sets"):
        once, twice = (build(f, table, Scope("brannoch-30s")) for f in (facts, again))
        assert render(once, name) == render(twice, name)


@pytest.mark.parametrize("name", sorted(set(FORMATS) - {"csv"}))
def test_every_format_but_csv_carries_the_edition_and_the_caveats(name):
    """CSV has no place for either."""
    content, _ = render(NASTY, name)
    if name == "xlsx":
        sheet = openpyxl.load_workbook(io.BytesIO(content))["About"]
        text = " ".join(str(cell) for row in sheet.iter_rows(values_only=True) for cell in row)
    else:
        text = content.decode()
    assert "Demo, 2026-11-25" in text
    assert "Mind 1" in text


class Outline(HTMLParser):
    """Gather elements with their attributes, and check that each is closed where it was opened."""

    VOID = ("meta", "br")

    def __init__(self):
        super().__init__()
        self.open, self.found = [], []

    def handle_starttag(self, tag, attrs):
        """Note an element, and keep it open unless it has no end."""
        self.found.append((tag, dict(attrs)))
        if tag not in self.VOID:
            self.open.append(tag)

    def handle_endtag(self, tag):
        """Close the element that was opened last."""
        assert self.open.pop() == tag


def test_the_page_is_well_nested_and_accessible(facts):
    """Language, caption, scopes, a region that the keyboard can scroll, notes that are there, unique ids."""
    for table in tables(facts):
        page = Outline()
        page.feed(render(table, "html")[0].decode())
        assert page.open == []
        tags = page.found
        assert [a["lang"] for t, a in tags if t == "html"] == ["en"]
        assert sum(t == "caption" for t, _ in tags) == 1
        scopes = [a["scope"] for t, a in tags if t == "th"]
        columns = len(table.columns) + bool(table.footnotes)
        assert scopes == ["col"] * columns + ["row"] * len(table.rows)
        (region,) = [a for t, a in tags if a.get("role") == "region"]
        ids = [a["id"] for _, a in tags if "id" in a]
        assert len(ids) == len(set(ids))
        assert region["tabindex"] == "0"
        assert region["aria-labelledby"] in ids
        assert {a["href"][1:] for t, a in tags if t == "a"} <= set(ids)


def test_the_sheet_is_typed_frozen_and_filtered():
    """Numbers are numbers, a designation that begins with = is no formula, the header stays in sight."""
    content, _ = render(NASTY, "xlsx")
    book = openpyxl.load_workbook(io.BytesIO(content))
    sheet = book.worksheets[0]
    assert sheet.freeze_panes == "A2"
    assert sheet.auto_filter.ref == "A1:F4"
    assert [cell.data_type for cell in sheet[2]] == ["s", "n", "n", "b", "s", "s"]
    assert sheet["A2"].value == "=P1-QM2"


def test_a_sheet_refuses_what_it_cannot_hold():
    """A text longer than a cell; the message says what can."""
    long = Table("long", "Long", "How long?", NASTY.columns[:1], (Row(("x" * 40_000,)),))
    with pytest.raises(WrongCallError, match=r"XLSX cannot hold long: a cell has more than the 32767 characters"):
        render(long, "xlsx")


def test_an_empty_table_can_be_written_in_every_format():
    """A header and nothing below it."""
    empty = Table("empty", "Empty", "Is there anything?", NASTY.columns, ())
    for name, read in READERS.items():
        headings, rows = read(render(empty, name)[0])
        assert (len(headings), rows) == (5, []), name


def test_an_unknown_format_names_the_nearest():
    """One clear sentence."""
    with pytest.raises(UnknownNameError, match="no format 'htm'; nearest: html"):
        render(NASTY, "htm")
