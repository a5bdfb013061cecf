"""The book: linked pages that hold together, one PDF of the same, and a folder that is whole or untouched."""

import io
import re
import shutil
import sys
from dataclasses import replace
from html.parser import HTMLParser
from itertools import pairwise

import pypdf
import pytest
from lxml import html as lxml_html
from tests.tables.readers import READERS
from typer.testing import CliRunner

from clampgraph import paths
from clampgraph.answers.book.binding import as_files, as_pdf
from clampgraph.answers.book.contents import BookRequest, book
from clampgraph.answers.book.shelf import check_folder, shelve
from clampgraph.answers.changes import open_edition
from clampgraph.answers.table import TableRequest, built
from clampgraph.cli.app import app
from clampgraph.errors import UnknownNameError, WrongCallError
from clampgraph.tables import TABLES
from machine import typesetter

UNIT = "brannoch-30s"
VOID = {"meta", "link", "br", "img", "hr", "input", "col"}


@pytest.fixture(scope="module")
def made(library):
    """Return a book of the smallest unit."""
    return book(library, BookRequest(assembly=UNIT))


@pytest.fixture(scope="module")
def files(made):
    """Return its files by name."""
    return as_files(made)


@pytest.fixture(scope="module")
def pages(files):
    """Return its pages, parsed."""
    return {n: lxml_html.document_fromstring(c.decode()) for n, c in files.items() if n.endswith(".html")}


@pytest.fixture(scope="module")
def short(library):
    """Return a book of few pages (setting takes its time), its PDF, and the text of each page of that."""
    typesetter()
    few = book(library, BookRequest(assembly=UNIT, tables=("kit-contents",)))
    few = replace(few, parts=tuple(replace(part, pages=part.pages[:1]) for part in few.parts))
    pdf = as_pdf(few)
    return few, pdf, [page.extract_text() for page in pypdf.PdfReader(io.BytesIO(pdf)).pages]


def test_every_link_leads_somewhere(pages):
    """Each link names a file of the book, and a place in it."""
    places = {name: {element.get("id") for element in page.iter() if element.get("id")} for name, page in pages.items()}
    links = [(name, a.get("href")) for name, page in pages.items() for a in page.iter("a")]
    assert len(links) > 500
    for name, href in links:
        file, _, anchor = href.partition("#")
        assert (file or name) in pages, (name, href)
        assert not anchor or anchor in places[file or name], (name, href)


def test_every_page_can_be_reached_from_the_contents(pages):
    """The first page lists all others."""
    listed = {a.get("href") for a in pages["index.html"].find(".//nav[@class='contents']").iter("a")}
    assert listed == set(pages) - {"index.html"}


class _Balance(HTMLParser):
    def __init__(self):
        super().__init__()
        self.open = []

    def handle_starttag(self, tag, _attributes):
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag):
        assert self.open.pop() == tag


def test_tags_are_balanced(files):
    """Each element that is opened is closed, in order."""
    for name, content in files.items():
        if name.endswith(".html"):
            reader = _Balance()
            reader.feed(content.decode())
            assert reader.open == [], name


def test_pages_are_accessible(pages):
    """Language, one first heading, no order of headings left out, captions, scopes, described pictures, no twin ids."""
    for name, page in pages.items():
        assert page.get("lang") == "en"
        orders = [int(h.tag[1]) for h in page.iter("h1", "h2", "h3")]
        assert orders[0] == 1, name
        assert orders.count(1) == 1, name
        assert all(after <= before + 1 for before, after in pairwise(orders)), name
        for table in page.iter("table"):
            assert table.find("caption").text_content().strip(), name
            assert all(th.get("scope") in {"col", "row"} for th in table.iter("th")), name
        for svg in page.iter("svg"):
            assert svg.find("title").text, name
            assert svg.find("desc").text, name
        ids = [element.get("id") for element in page.iter() if element.get("id")]
        assert len(ids) == len(set(ids)), name


def test_cautions_stand_up_front(pages, library):
    """The first page shows every caution of the unit before its contents."""
    first = pages["index.html"].find(".//main").text_content()
    told = [c.text for c in library.knowledge.cautions if c.text in first]
    assert len(told) >= 4
    assert all(first.index(text) < first.index("Contents") for text in told)


def test_tables_in_the_book_hold_the_cells_of_the_tables(files, library):
    """Each table page read back equals that table, cell by cell, and every table has its page."""
    read = []
    for name in TABLES:
        table = built(library, TableRequest(name=name, assembly=UNIT))
        page = {"cautions": "cautions", "standards-used": "sources"}.get(name, f"table-{name}")
        _, shown = READERS["html"](files[f"{page}.html"])
        texts = [[c.text(cell) for c, cell in zip(table.columns, row.cells, strict=True)] for row in table.rows]
        assert [row[: len(table.columns)] for row in shown] == texts, name
        read += texts
    assert len(read) > 200


def test_every_symptom_that_the_unit_can_show_has_a_page_with_its_likeliest_cause(pages, library):
    """Causes on the page are those of the diagnosis, and the drawn path begins at the first."""
    shown = {n.symptom for n in library.network(library.assembly(UNIT)).of_kind("symptom")}
    assert {n[len("symptom-") : -len(".html")] for n in pages if n.startswith("symptom-")} == shown
    page = pages["symptom-slow-return.html"]
    first = page.find(".//section[@id='causes']//tbody/tr")
    picture = page.find(".//section[@id='influence']//svg")
    assert picture.find("title").text_content().startswith(first.find("th").text_content())


def test_the_same_data_make_the_same_bytes(library, files, short):
    """Pages and PDF, twice."""
    assert as_files(book(library, BookRequest(assembly=UNIT))) == files
    few, pdf, _ = short
    assert as_pdf(few) == pdf


def test_the_pdf_reads_back(short, library):
    """An independent reader finds title, edition, every page of the book in the outline, and the texts."""
    few, content, texts = short
    reader = pypdf.PdfReader(io.BytesIO(content))
    assert reader.metadata.title == few.subtitle
    assert reader.metadata.subject == "; ".join(few.edition)
    outline = _titles(reader.outline)
    assert [t for t in outline if t in {p.title for p in few.pages}] == [p.title for p in few.pages]
    words = re.sub(r"\s+", " ", "\n".join(texts))
    assert all(c.text in words for c in library.knowledge.cautions if c.text in few.cautions)
    assert len(texts) > len(few.pages)
    for number, text in enumerate(texts[1:], 2):  # the cover carries none
        assert str(number) in text.split()


def _titles(outline):
    for entry in outline:
        if isinstance(entry, list):
            yield from _titles(entry)
        else:
            yield entry["/Title"]


def test_the_contents_of_the_pdf_name_the_pages_on_which_its_parts_begin(short):
    """The figure behind each entry is the page of its bookmark."""
    few, content, texts = short
    reader = pypdf.PdfReader(io.BytesIO(content))
    starts = {}
    for entry in _entries(reader.outline):
        starts.setdefault(entry["/Title"], reader.get_destination_page_number(entry) + 1)
    listed = "\n".join(texts[1 : starts["Cautions"] - 1])
    for page in few.pages:
        found = re.search(re.escape(page.title) + r"\s*\.*\s*(\d+)", listed)
        assert found is not None, page.title
        assert int(found[1]) == starts[page.title], page.title


def _entries(outline):
    for entry in outline:
        if isinstance(entry, list):
            yield from _entries(entry)
        else:
            yield entry


def test_what_changed_carries_bars(library, tmp_path):
    """Against an edition with another rate, the failure table marks the row, and a page tells the reason."""
    for part in ("knowledge", "demo"):
        shutil.copytree(paths.data() / part, tmp_path / "old" / part)
    place = tmp_path / "old" / "knowledge" / "valves.ttl"
    text = place.read_text("utf-8")
    at = text.index("cg:rate [ qudt:numericValue ")
    place.write_text(text[:at] + text[at:].replace("qudt:numericValue ", "qudt:numericValue 9", 1), "utf-8")
    asked = BookRequest(assembly=UNIT, tables=("failure-modes-and-effects",))
    marked = as_files(book(library, asked, open_edition(str(tmp_path / "old"))))
    table = lxml_html.document_fromstring(marked["table-failure-modes-and-effects.html"].decode())
    rows = [row.get("data-change") for row in table.find(".//tbody").iter("tr")]
    assert 0 < rows.count("changed") < len(rows)
    assert "rate" in marked["changes.html"].decode()
    assert "changes.html" not in as_files(book(library, asked))


def test_unknown_names_are_told_with_the_nearest(library):
    """Assembly and table."""
    with pytest.raises(UnknownNameError, match="nearest: brannoch-30s"):
        book(library, BookRequest(assembly="branoch-30s"))
    with pytest.raises(UnknownNameError, match="nearest: kit-contents"):
        book(library, BookRequest(assembly=UNIT, tables=("kit-content",)))


def test_a_folder_of_somebody_else_is_left_alone(tmp_path):
    """Files that no book put there stay; with force they stand beside the book."""
    folder = tmp_path / "shelf"
    folder.mkdir()
    (folder / "letter.txt").write_text("mine", "utf-8")
    with pytest.raises(WrongCallError, match="holds files that no book put there"):
        shelve({"book.json": b"{}"}, folder)
    assert [f.name for f in folder.iterdir()] == ["letter.txt"]
    shelve(
        {"book.json": b'{"made_by": "clampgraph", "pages": [{"file": "old.html"}]}', "old.html": b""},
        folder,
        force=True,
    )
    shelve({"book.json": b'{"made_by": "clampgraph", "pages": []}'}, folder)
    assert sorted(f.name for f in folder.iterdir()) == ["book.json", "letter.txt"]
    assert [f.name for f in tmp_path.iterdir()] == ["shelf"]


def test_a_book_that_cannot_be_written_leaves_the_old_one(tmp_path):
    """A name that the disk refuses stops the work before anything is swapped."""
    folder = tmp_path / "shelf"
    shelve({"book.json": b'{"made_by": "clampgraph", "pages": []}'}, folder)
    with pytest.raises(WrongCallError, match="cannot be written"):
        shelve({"book.json": b"{}", "x" * 300: b""}, folder)
    assert (folder / "book.json").read_bytes().startswith(b'{"made_by"')
    assert [f.name for f in tmp_path.iterdir()] == ["shelf"]


def test_places_that_cannot_hold_a_book_are_refused_before_any_work(tmp_path):
    """A file, and a folder without a parent."""
    (tmp_path / "file").write_text("", "utf-8")
    with pytest.raises(WrongCallError, match="is a file"):
        check_folder(tmp_path / "file")
    with pytest.raises(WrongCallError, match="there is no folder"):
        check_folder(tmp_path / "no" / "book")


def test_the_command_writes_pages_and_says_where(tmp_path):
    """Without the PDF, in another language of labels."""
    line = ["book", UNIT, "-o", str(tmp_path / "b"), "--no-pdf", "--table", "kit-contents", "--lang", "de"]
    reply = CliRunner().invoke(app, line)
    assert reply.exit_code == 0, reply.output
    assert "index.html" in reply.stdout
    assert "langsam" in (tmp_path / "b" / "symptom-slow-return.html").read_text("utf-8")
    assert not (tmp_path / "b" / "book.pdf").exists()


def test_without_the_extra_the_pdf_says_what_to_install(short, monkeypatch):
    """One sentence with both remedies."""
    monkeypatch.setitem(sys.modules, "weasyprint", None)
    with pytest.raises(WrongCallError, match=r"clampgraph\[book\].*--no-pdf"):
        as_pdf(short[0])
