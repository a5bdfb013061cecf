"""Every format is read back by an independent reader and gives the same cells."""

import io
import json
import re
import shutil
import subprocess
from html.parser import HTMLParser

import openpyxl
import pytest
from fastapi.testclient import TestClient
from tests.tables.readers import READERS
from typer.testing import CliRunner

from clampgraph.api.app import create_app
from clampgraph.cli import progress as bars
from clampgraph.cli.app import app
from clampgraph.errors import UnknownNameError, WrongCallError
from clampgraph.tables import COMPANIONS, FORMATS, TABLES, Column, Row, Scope, Table, build, render
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
    if name in ("csv", "cals"):
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
    """CSV has no place for either: they stand in its companion."""
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


def test_the_companion_of_csv_describes_every_column_and_the_edition(facts):
    """Headings as they stand in the file, names that CSV on the Web allows, a key only where it is one."""
    assert list(COMPANIONS) == ["csv"]
    for table in tables(facts):
        described = json.loads(render(table, "csvm")[0])
        headings, rows = READERS["csv"](render(table, "csv")[0])
        columns = described["tableSchema"]["columns"]
        assert [column["titles"] for column in columns] == headings
        names = [column["name"] for column in columns]
        assert len(set(names)) == len(names)
        assert all(re.fullmatch(r"(?:[A-Za-z0-9_]|%[0-9A-F]{2})+", name) for name in names)
        assert described["schema:version"] == list(table.edition)
        assert described["rdfs:comment"] == list(table.caveats)
        keys = [names.index(name) for name in described["tableSchema"].get("primaryKey", ())]
        assert not keys or len({tuple(row[k] for k in keys) for row in rows}) == len(rows)
        for column, *cells in zip(columns, *rows, strict=True):
            assert all(_reads_as(column, cell) for cell in cells)
    assert "primaryKey" in json.loads(render(NASTY, "csvm")[0])["tableSchema"]


def _reads_as(column, cell):
    """Tell whether a cell reads as the kind of value that the metadata promise."""
    kind = column["datatype"]
    pattern = {"number": r"-?\d+(\.\d+)?(e[-+]?\d+)?", "integer": r"-?\d+"}
    if isinstance(kind, dict):
        return cell in ("", *kind["format"].split("|"))
    return cell == "" or re.fullmatch(pattern.get(kind, r"(?s).*"), cell) is not None


def test_the_command_writes_the_companion_beside_the_file(tmp_path):
    """Where a reader looks for it, and it names the file; other formats have none."""
    for name in ("csv", "md"):
        line = ["table", "cautions", "--assembly", "brannoch-30s", "--format", name, "-o", str(tmp_path / f"c.{name}")]
        assert CliRunner().invoke(app, line, catch_exceptions=False).exit_code == 0
    assert sorted(f.name for f in tmp_path.iterdir()) == ["c.csv", "c.csv-metadata.json", "c.md"]
    described = json.loads((tmp_path / "c.csv-metadata.json").read_text("utf-8"))
    assert described["url"] == "c.csv"
    assert described["schema:version"]


def test_over_http_a_link_leads_from_csv_to_its_metadata(library):
    """The link is relative to the question, so that it holds behind any proxy."""
    with TestClient(create_app(library)) as client:
        reply = client.get("/tables/cautions", params={"assembly": "brannoch-30s"}, headers={"accept": "text/csv"})
        found = re.fullmatch(r'<(\?.*)>; rel="describedby"; type="application/csvm\+json"', reply.headers["link"])
        described = client.get(f"/tables/cautions{found[1]}")
        assert described.headers["content-type"].startswith("application/csvm+json")
        assert described.json()["dc:title"].startswith("Cautions: Brannoch")
        assert "link" not in client.get("/tables/cautions", params={"format": "md"}).headers


def test_rows_are_counted_while_a_table_is_built(facts):
    """One call for each row, in order; the table is the same."""
    told = []
    table = build(facts, "where-used", Scope(), told.append)
    assert told == list(range(1, len(table.rows) + 1))
    assert table == build(facts, "where-used", Scope())


def test_a_bar_is_drawn_on_a_terminal_only(monkeypatch, capsys):
    """Nothing reaches a log; a person sees how many rows are there."""
    with bars.progress("Rows") as counted:
        counted("", 3, 0)
    assert capsys.readouterr().err == ""
    monkeypatch.setattr("sys.stderr.isatty", lambda: True, raising=False)
    monkeypatch.setenv("FORCE_COLOR", "1")
    with bars.progress("Rows") as counted:
        counted("", 3, 0)
    assert "3/?" in capsys.readouterr().err


def test_latex_compiles_where_a_compiler_is_installed(facts, tmp_path):
    """A wide table and nasty signs become a PDF without an error; elsewhere the structure alone is held."""
    compiler = shutil.which("pdflatex") or shutil.which("tectonic")
    for table in (NASTY, build(facts, "checks-with-limits", Scope("brannoch-30s"))):
        source = tmp_path / f"{table.name}.tex"
        source.write_bytes(render(table, "tex")[0])
        assert READERS["tex"](source.read_bytes())[1]
        if compiler is None:
            continue
        options = ["-interaction=nonstopmode", "-halt-on-error"] if compiler.endswith("pdflatex") else []
        done = subprocess.run([compiler, *options, source.name], cwd=tmp_path, capture_output=True, check=False)
        assert done.returncode == 0, done.stdout[-2000:]
        assert source.with_suffix(".pdf").read_bytes().startswith(b"%PDF")
