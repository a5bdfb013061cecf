"""Tables in, one pack out; one pack out as tables and in again; and a starter pack to begin with."""

import re
from pathlib import Path

import pyoxigraph as ox
import pytest
import rdflib
from rdflib.compare import to_isomorphic

from clampgraph import paths
from clampgraph.answers.authoring import ImportOptions, export_pack, import_parts, new_assembly
from clampgraph.answers.authoring.cells import read_cell, read_number, write_cell
from clampgraph.answers.authoring.columns import TABLES, Column
from clampgraph.answers.authoring.exporting import members_of
from clampgraph.answers.authoring.names import CellError, Names
from clampgraph.answers.authoring.starting import LIKE
from clampgraph.answers.diagnosing.diagnose import diagnose
from clampgraph.answers.diagnosing.diagnosis import DiagnoseRequest
from clampgraph.answers.library import Library
from clampgraph.answers.validate import validate
from clampgraph.errors import UnknownNameError, WrongCallError
from clampgraph.graph.loading import default_packs, files_of
from clampgraph.graph.statements import Amount, Iri, Text, statements, told

TEMPLATES = sorted((paths.data() / "templates").glob("*.csv"))
PARTS = "part number,name,maker,price,currency,mass [kg]\n"
UNITS = ["brannoch-30s", "brannoch-40t", "ulvedal-40c", "ulvedal-50b", "ulvedal-63h"]


def written(folder: Path, name: str, text: str | bytes) -> Path:
    file = folder / name
    file.write_bytes(text if isinstance(text, bytes) else text.encode("utf-8"))
    return file


def taken(library, folder, text, **options):
    return import_parts(library, [written(folder, "PARTS.csv", text)], ImportOptions(**options))


def graph_of(*files: Path) -> rdflib.Graph:
    """Read Turtle through the parser that packs are loaded with, so that 34.00 and 34.0 are one number."""
    store = ox.Store()
    for file in files:
        store.load(path=str(file), format=ox.RdfFormat.TURTLE)
    text = store.dump(format=ox.RdfFormat.N_TRIPLES, from_graph=ox.DefaultGraph())
    return rdflib.Graph().parse(data=text.decode("utf-8"), format="nt")


def part_of(graph: rdflib.Graph, subjects: set[str]) -> rdflib.Graph:
    found = rdflib.Graph()
    for s, p, o in graph:
        if str(s) in subjects:
            found.add((s, p, o))
            for inner in graph.triples((o, None, None)) if isinstance(o, rdflib.BNode) else ():
                found.add(inner)
    return found


@pytest.mark.parametrize("unit", UNITS)
def test_round_trip_is_isomorphic(unit, library, tmp_path):
    """Exported to CSV and imported again, an assembly with its parts, kits and service data is the same graph."""
    files = [written(tmp_path, name, text) for name, text in export_pack(library, unit).items()]
    answer = import_parts(library, files)
    assert answer.refused == ()
    again = graph_of(written(tmp_path, "again.ttl", answer.pack))
    about = {}
    for s in statements(library.graph):
        about.setdefault(s.subject, []).append(s)
    whole = graph_of(*files_of(default_packs()))
    members = set(members_of(about, str(library.assemblies[unit]["iri"])))
    assert to_isomorphic(again) == to_isomorphic(part_of(whole, members))
    own = graph_of(paths.data() / "demo" / f"{unit}.ttl")
    assert to_isomorphic(part_of(again, {str(s) for s in own.subjects() if isinstance(s, rdflib.URIRef)})) == (
        to_isomorphic(own)
    )


def test_round_trip_keeps_to_the_tables(library):
    """Positions, connections, parts and where they are fitted need no catch-all table."""
    facts = export_pack(library, "brannoch-40t")["facts.csv"]
    assert not re.search(r"cg:(ofType|fromPort|itemType|fitmentAt|featureName|builtFrom)\b", facts)


@pytest.mark.parametrize("file", TEMPLATES, ids=lambda f: f.stem)
def test_each_template_names_its_columns(file):
    """Every template has the columns of its table, in order, each explained above the header."""
    lines = file.read_text("utf-8").splitlines()
    header = next(line for line in lines if not line.startswith("#"))
    assert header.split(",") == [c.name for c in TABLES[file.stem].columns]
    assert [
        c.name for c in TABLES[file.stem].columns if not any(c.name in x for x in lines if x.startswith("# "))
    ] == []


def test_there_is_a_template_for_each_table():
    """No table without its template, no template without its table."""
    assert {file.stem for file in TEMPLATES} == set(TABLES)


def test_the_templates_describe_a_sound_unit(library, tmp_path):
    """Imported as they are, the templates make a pack that validates and can be diagnosed."""
    answer = import_parts(library, TEMPLATES)
    assert answer.refused == ()
    pack = written(tmp_path, "unit.ttl", answer.pack)
    assert validate([pack]).findings == ()
    found = diagnose(Library.open([pack]), DiagnoseRequest(assembly="my-unit-40", seen=("slow-return",)))
    assert found.causes[0].position in {"silencer", "main-valve", "piston-seal"}


def test_the_same_table_makes_the_same_pack(library):
    """IRIs come from keys, not from row numbers or chance."""
    assert import_parts(library, TEMPLATES).pack == import_parts(library, TEMPLATES).pack


DIALECTS = {
    "plain": b"part number,name,maker,price,currency\nA-1,valve,Pellow Fluid,34.5,EUR\n",
    "byte order mark": b"\xef\xbb\xbfpart number,name,maker,price,currency\nA-1,valve,Pellow Fluid,34.5,EUR\n",
    "semicolons and decimal comma": b"part number;name;maker;price;currency\r\nA-1;valve;Pellow Fluid;34,5;EUR\r\n",
    "tabs": b"part number\tname\tmaker\tprice\tcurrency\nA-1\tvalve\tPellow Fluid\t34.5\tEUR\n",
    "quotes": b'"part number","name","maker","price","currency"\n"A-1","valve","Pellow Fluid","34,5","EUR"\n',
    "loose header": b"Part  Number , NAME,maker,price,currency,,\nA-1, valve ,Pellow Fluid,34.5,EUR,,\n\n,,,,\n",
    "comments": b'# base: https://example.org/packs/\n"# a, comment";;;;\npart number;name;maker;price;currency\n'
    b"A-1;valve;Pellow Fluid;34.5;EUR\n",
}


@pytest.mark.parametrize("raw", DIALECTS.values(), ids=DIALECTS)
def test_spreadsheet_dialects_mean_the_same(raw, library, tmp_path):
    """Delimiters, quotes, line ends, byte-order mark and a decimal comma change nothing."""
    assert taken(library, tmp_path, raw).pack == taken(library, tmp_path, DIALECTS["plain"]).pack


def test_letters_of_any_script_survive(library, tmp_path):
    """UTF-8 is read as it is: ø, umlauts and kanji come out unchanged, a line break within quotes too."""
    answer = taken(library, tmp_path, PARTS + 'A-1,"Dichtung ø80, 皿ばね\nzweizeilig",Müller,,,\n')
    label = graph_of(written(tmp_path, "x.ttl", answer.pack)).value(
        rdflib.URIRef("https://example.org/packs/item/A-1"), rdflib.SKOS.prefLabel
    )
    assert str(label) == "Dichtung ø80, 皿ばね\nzweizeilig"


REFUSED = {
    "no name": ("A-1,,Pellow Fluid,,,", "name", "is empty"),
    "no number": (",valve,Pellow Fluid,,,", "part number", "is empty"),
    "price in words": ("A-1,valve,Pellow Fluid,cheap,EUR,", "price", "is not a number"),
    "price with its currency": ("A-1,valve,Pellow Fluid,34 EUR,EUR,", "price", "is not a number"),
    "thousands or decimal": ('A-1,valve,Pellow Fluid,"1,234",EUR,', "price", "write 1234 or a point"),
    "both signs": ('A-1,valve,Pellow Fluid,"1.234,50",EUR,', "price", "is not a number"),
    "price alone": ("A-1,valve,Pellow Fluid,34.5,,", "currency", "three capital letters"),
    "mass with unit": ("A-1,valve,Pellow Fluid,,,0.4 kg", "mass [kg]", "is not a number"),
    "too many cells": ("A-1,valve,Pellow Fluid,,,0.4,surplus", "source", "behind the last column"),
}


@pytest.mark.parametrize(("row", "column", "why"), REFUSED.values(), ids=REFUSED)
def test_a_bad_row_is_told_by_row_column_and_reason(row, column, why, library, tmp_path):
    """The line of the file, the column and what would be right; and no pack."""
    answer = taken(library, tmp_path, f"{PARTS}A-0,valve,Pellow Fluid,,,\n{row}\n")
    assert [(r.file, r.row, r.column) for r in answer.refused] == [("PARTS.csv", 3, column)]
    assert why in answer.refused[0].why
    assert answer.pack is None
    assert (answer.rows_read, answer.rows_accepted) == (2, 1)


def test_every_bad_cell_of_a_row_is_told(library, tmp_path):
    """Who mends a row should not find the next fault only at the next try."""
    answer = taken(library, tmp_path, PARTS + "A-1,,Pellow Fluid,cheap,EUR,heavy\n")
    assert [r.column for r in answer.refused] == ["name", "price", "mass [kg]"]
    assert (answer.rows_read, answer.rows_accepted) == (1, 0)


def test_partial_takes_the_sound_rows(library, tmp_path):
    """Asked for, the pack holds the sound rows and none of the refused ones."""
    answer = taken(
        library, tmp_path, PARTS + "A-0,valve,Pellow Fluid,,,\nA-1,valve,Pellow Fluid,x,EUR,\n", partial=True
    )
    assert answer.pack is not None
    assert "A-0" in answer.pack
    assert "A-1" not in answer.pack


def test_a_row_that_repeats_another_is_refused(library, tmp_path):
    """The second row of one part number is told together with the first."""
    answer = taken(library, tmp_path, PARTS + "A-0,valve,Pellow Fluid,,,\nA-0,valve again,Pellow Fluid,,,\n")
    assert (answer.refused[0].row, answer.refused[0].column) == (3, "part number")
    assert "repeats row 2" in answer.refused[0].why


def test_what_refers_to_a_refused_row_falls_with_it(library, tmp_path):
    """A connection to a position that was refused is refused too, even in a partial import."""
    rows = "brannoch-30s,extra,QM9,silencer\nbrannoch-30s,wrong,QM8,silencerr\n"
    positions = written(tmp_path, "positions.csv", f"assembly,position,designation,type\n{rows}")
    joined = (
        "assembly,from,from port,to,to port\nbrannoch-30s,main-valve,3,extra,1\nbrannoch-30s,main-valve,3,wrong,1\n"
    )
    answer = import_parts(
        library, [positions, written(tmp_path, "connections.csv", joined)], ImportOptions(partial=True)
    )
    assert [(r.file, r.row, r.column) for r in answer.refused] == [
        ("connections.csv", 3, "to"),
        ("positions.csv", 3, "type"),
    ]
    assert "nearest: silencer" in answer.refused[1].why
    assert answer.rows_accepted == 2


def test_a_port_that_is_not_there_is_refused(library, tmp_path):
    """The ports that the component type has are named."""
    answer = taken(library, tmp_path, "assembly,from,from port,to,to port\nbrannoch-30s,main-valve,4,silencer,1\n")
    assert (answer.refused[0].row, answer.refused[0].column) == (2, "from port")
    assert answer.refused[0].why == "main-valve has no port '4'; it has 1, 12, 2, 3"


@pytest.mark.parametrize(
    ("rows", "column", "why"),
    [
        ("my-unit,1,g,first,2014-13-01,,,", "built from", "2014-07-01"),
        ("my-unit,1,g,first,2015-01-01,2014-01-01,,", "built until", "lies before"),
        ("my-unit,1,g,first,,,300,20", "last serial", "lies before"),
        ("my-unit,first,g,first,,,,", "order", "whole number"),
        ("my-unit,1,Gen 1,first,,,,", "generation", "lower case"),
        ("my-units,1,g,first,,,,", "assembly", "nearest: my-unit"),
    ],
)
def test_generations_are_checked(rows, column, why, library, tmp_path):
    """Dates, numbers, identifiers and the assembly they belong to."""
    base = "https://example.org/packs/my-unit/my-unit"
    unit = "assembly,name,builder,taper,actuator,iri\nmy-unit,Unit,Brannoch,ISO 7388-1 size 40,tandem," + base + "\n"
    head = "assembly,order,generation,name,built from,built until,first serial,last serial\n"
    files = [written(tmp_path, "a.csv", unit), written(tmp_path, "g.csv", head + rows + "\n")]
    answer = import_parts(library, files)
    assert answer.refused[-1].column == column
    assert why in answer.refused[-1].why


BAD_FILES = {
    "latin-1": (PARTS.encode() + "A-1,Düse,x,,,\n".encode("latin-1"), "is not UTF-8 .line 2"),
    "utf-16": (PARTS.encode("utf-16"), "not UTF-8|zero bytes"),
    "zero bytes": (b"part number,name\0,maker\n", "zero bytes"),
    "empty": (b"", "no header"),
    "comments only": (b"# nothing\n", "no header"),
    "open quote": (b'part number,name,maker\nA-1,"valve,x\n', "is no CSV"),
    "column twice": (b"part number,name,name,maker\n", "'name' twice"),
    "column without name": (b"part number,,name,maker\n", "Column 2"),
    "column missing": (b"part number,name,price\n", "lacks the column 'maker'"),
}


@pytest.mark.parametrize(("raw", "words"), BAD_FILES.values(), ids=BAD_FILES)
def test_a_bad_file_gets_one_sentence(raw, words, library, tmp_path):
    """Encoding, quotes and header are told before any row is looked at."""
    with pytest.raises(WrongCallError, match=words):
        taken(library, tmp_path, raw)


def test_unknown_columns_and_tables_name_the_nearest(library, tmp_path):
    """A typing error in a header, in the kind or in the path is told with what is nearest."""
    with pytest.raises(UnknownNameError, match=r"'pric' in the table parts .*nearest: price"):
        taken(library, tmp_path, b"part number,name,maker,pric\n")
    with pytest.raises(UnknownNameError, match="nearest: parts"):
        taken(library, tmp_path, PARTS, kind="part")
    with pytest.raises(UnknownNameError, match="readable file"):
        import_parts(library, [tmp_path / "none.csv"])


def test_the_base_must_be_an_address(library, tmp_path):
    """IRIs need a beginning that is one."""
    with pytest.raises(WrongCallError, match="ends with a stroke"):
        taken(library, tmp_path, PARTS, base="my packs")


def test_an_assembly_can_stand_in(library, tmp_path):
    """A list without the assembly column is read for the assembly that is named."""
    text = "part number,name,maker,positions\nA-1,silencer,Pellow Fluid,silencer | main-valve\n"
    answer = taken(library, tmp_path, text, assembly="brannoch-30s")
    assert answer.pack is not None
    assert answer.pack.count("cg:Fitment") == 2


def test_newcomers_are_told(library, tmp_path):
    """A maker that nobody described is described by name, and said."""
    answer = taken(library, tmp_path, PARTS + "A-1,valve,Nobody Known,,,\n")
    assert any("Nobody Known" in note for note in answer.notes)
    assert validate([written(tmp_path, "x.ttl", answer.pack)]).valid


@pytest.mark.parametrize(
    ("text", "number"), [("34,50", "34.50"), ("0", "0"), ("7.", "7.0"), ("-2.5", "-2.5"), ("1,2345", "1.2345")]
)
def test_numbers(text, number):
    """A decimal comma is taken where it can mean nothing else."""
    assert read_number(text).text == number


@pytest.mark.parametrize(
    "term",
    [
        Iri("https://w3id.org/clampgraph/knowledge#rod"), Iri("https://example.org/a/b.c"), Text('say "so"\n\\ tab\t'),
        Text("ばね", "", "ja"), Text("12", "http://www.w3.org/2001/XMLSchema#integer"),
        Text("1.50", "http://www.w3.org/2001/XMLSchema#decimal"), Text("2014-07-01", "http://www.w3.org/2001/XMLSchema#date"),
        Text("true", "http://www.w3.org/2001/XMLSchema#boolean"), Text("1e-3", "http://www.w3.org/2001/XMLSchema#double"),
        Amount(Text("4.5", "http://www.w3.org/2001/XMLSchema#decimal"), "http://qudt.org/vocab/unit/KiloN"),
    ],
)  # fmt: skip
def test_every_term_reads_back(term):
    """The catch-all table writes any term so that it reads back the same."""
    column = TABLES["facts"].by_name["value"]
    assert write_cell(column, term, "", Names()) == told(term)
    assert read_cell(column, told(term), "", Names()) == term


def test_a_cell_holds_only_what_reads_back():
    """A text with blanks at its end, or in a language other than English, goes elsewhere."""
    label = Column("name", "label", "skos:prefLabel", "")
    assert write_cell(label, Text("rod ", "", "en"), "", Names()) is None
    assert write_cell(label, Text("Stange", "", "de"), "", Names()) is None
    with pytest.raises(CellError):
        read_cell(Column("x", "node", "", ""), "no node", "", Names())


@pytest.mark.parametrize("like", [None, *UNITS])
def test_a_starter_pack_is_sound(like, library, tmp_path):
    """It validates without a finding, and its network has the nodes of its pattern."""
    pack = written(tmp_path, "unit.ttl", new_assembly(library, "my-own", like))
    assert validate([pack]).findings == ()
    mine = Library.open([pack])
    own, pattern = mine.assembly("my-own"), mine.assembly(like or LIKE)
    assert {n.id for n in mine.network(own)} == {n.id for n in mine.network(pattern)}


def test_a_starter_pack_is_diagnosed_at_once(library, tmp_path):
    """Before anything is changed, it gives the causes of its pattern."""
    pack = written(tmp_path, "unit.ttl", new_assembly(library, "my-own"))
    found = diagnose(Library.open([pack]), DiagnoseRequest(assembly="my-own", seen=("slow-return",)))
    model = diagnose(library, DiagnoseRequest(assembly=LIKE, seen=("slow-return",)))
    assert [c.node for c in found.causes] == [c.node for c in model.causes]


def test_a_starter_pack_explains_itself(library):
    """Every part of it stands under a comment that says what to change."""
    text = new_assembly(library, "my-own")
    for word in ("validate", "diagnose", "designation", "direction of flow", "PARTS.csv", "source"):
        assert any(word in line for line in text.splitlines() if line.startswith("#")), word


@pytest.mark.parametrize(
    ("name", "like", "error", "words"),
    [
        ("My Unit", None, WrongCallError, "lower case"),
        ("brannoch-40t", None, WrongCallError, "described already"),
        ("mine", "brannoch-40", UnknownNameError, "brannoch-40t"),
    ],
)
def test_a_starter_pack_needs_a_free_name(name, like, error, words, library):
    """An identifier that is none, one that is taken, and a pattern that is not there."""
    with pytest.raises(error, match=words):
        new_assembly(library, name, like)
