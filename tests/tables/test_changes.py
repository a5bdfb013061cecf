"""Changes between editions: found cell by cell, with the facts behind them, and shown as change bars."""

import shutil

import pytest
from tests.tables.readers import READERS

from clampgraph import paths
from clampgraph.answers.changes import ChangesRequest, changes, open_edition, render_bars, render_changes
from clampgraph.answers.table import TableRequest
from clampgraph.errors import DataError, UnknownNameError
from clampgraph.tables import TABLES


@pytest.fixture
def edition(tmp_path):
    """Return a folder with the shipped data, and a way to rewrite a text in one of its files."""
    for part in ("knowledge", "demo"):
        shutil.copytree(paths.data() / part, tmp_path / "new" / part)

    def rewrite(file, old, new):
        place = tmp_path / "new" / file
        text = place.read_text("utf-8")
        assert old in text
        place.write_text(text.replace(old, new, 1), "utf-8")
        return str(tmp_path / "new")

    return rewrite


RATE = """cg:failureModeOf k:solenoid-valve ; dcterms:identifier "stuck-shut" ;
    skos:prefLabel "stuck shut"@en ; cg:mechanism "contamination" ; cg:severity 6 ;
    cg:rate [ qudt:numericValue """

POSITION = """
b:second-silencer a cg:Position ; cg:positionOf b:brannoch-30s ; dcterms:identifier "second-silencer" ;
    cg:designation "=P1-RU2" ; cg:ofType k:silencer .
b:connection-99 a cg:Connection ; cg:fromPosition b:main-valve ; cg:fromPort "3" ;
    cg:toPosition b:second-silencer ; cg:toPort "1" .
"""


def test_nothing_changed_between_an_edition_and_its_copy(edition):
    """The same data from another folder."""
    same = edition("demo/parties.ttl", "Brannoch", "Brannoch")
    answer = changes(ChangesRequest(old="shipped", new=same))
    assert (answer.added, answer.removed, answer.changed) == ((), (), ())


def test_a_changed_rate_shows_in_the_failure_table_and_in_what_follows_from_it(edition):
    """The rate itself with its fact; then probabilities of symptoms, whose reason is the same fact."""
    new = edition("knowledge/valves.ttl", f"{RATE}0.007", f"{RATE}0.014")
    asked = ("failure-modes-and-effects", "cut-sets", "where-used")
    answer = changes(ChangesRequest(old="shipped", new=new, tables=asked, assembly="brannoch-40t"))
    assert (answer.added, answer.removed) == ((), ())
    rates = [c for c in answer.changed if c.column == "rate"]
    assert {c.row["failure_mode"] for c in rates} == {"stuck-shut"}
    assert {(c.before, c.after, c.unit) for c in rates} == {(0.007, 0.014, "1/yr")}
    fact = "solenoid-valve.stuck-shut rate: 0.007 PER-YR → 0.014 PER-YR"
    assert all(c.reasons == (fact,) for c in rates)
    tops = [c for c in answer.changed if c.table == "cut-sets" and c.column == "top_probability"]
    assert tops
    assert all(fact in c.reasons for c in tops)
    assert all(c.after > c.before for c in tops)
    assert not [c for c in answer.changed if c.table == "where-used"]


def test_a_removed_item_is_gone_from_where_used(edition):
    """One fitment taken out of the pack; the reason is the statement that is gone."""
    line = "t:silencer.fitted-PF-SIL-38 a cg:Fitment ; cg:fitmentAt t:silencer ; cg:item i:PF-SIL-38 .\n"
    new = edition("demo/items.ttl", line, "")
    answer = changes(ChangesRequest(old="shipped", new=new, tables=("where-used",)))
    assert answer.added == answer.changed == ()
    assert {(c.row["item"], c.row["assembly"], c.row["position"]) for c in answer.removed} == {
        ("PF-SIL-38", "brannoch-40t", "silencer")
    }
    assert all("silencer.fitted-PF-SIL-38 item: PF-SIL-38 → nothing" in c.reasons for c in answer.removed)


def test_an_added_position_brings_its_failure_modes(edition):
    """One more silencer: every one of its failure modes is a new row, because of the position's statements."""
    place = paths.data() / "demo" / "brannoch-30s.ttl"
    end = place.read_text("utf-8")[-40:]
    new = edition("demo/brannoch-30s.ttl", end, end + POSITION)
    answer = changes(ChangesRequest(old="shipped", new=new, tables=("failure-modes-and-effects",)))
    modes = {"clogged", "burst"}
    added = [c for c in answer.added if c.row["position"] == "second-silencer"]
    assert modes <= {c.row["failure_mode"] for c in added}
    assert all("second-silencer designation: nothing → =P1-RU2" in c.reasons for c in added)
    assert answer.removed == ()


def test_change_bars_mark_rows_in_every_format(edition):
    """A removed row stands where it stood, a changed one is marked, the others are not."""
    line = "t:silencer.fitted-PF-SIL-38 a cg:Fitment ; cg:fitmentAt t:silencer ; cg:item i:PF-SIL-38 .\n"
    new = open_edition(edition("demo/items.ttl", line, ""))
    old = open_edition("shipped")
    request = TableRequest(name="where-used")
    for name, read in READERS.items():
        content, _ = render_bars(old, new, request, name)
        headings, rows = read(content)
        if name == "json":
            assert content.decode().count('"change": "removed"') == 2
            continue
        assert headings[0] == "Change"
        assert [row[1:3] for row in rows if row[0] == "removed"] == [["PF-SIL-38", "silencer G3/8"]] * 2
        assert {row[0] for row in rows} - {"removed"} <= {"", "–"}  # noqa: RUF001 - the dash of an empty cell
    page = render_bars(old, new, request, "html")[0].decode()
    assert page.count('<tr data-change="removed">') == 2
    assert render_bars(old, new, request, "dita")[0].decode().count('<row status="deleted">') == 2


def test_changes_can_be_written_as_a_table(edition):
    """One line for each change, in any format."""
    new = edition("knowledge/valves.ttl", f"{RATE}0.007", f"{RATE}0.014")
    request = ChangesRequest(old="shipped", new=new, tables=("failure-modes-and-effects",), assembly="brannoch-40t")
    content, _ = render_changes(open_edition("shipped"), open_edition(new), request, "csv")
    headings, rows = READERS["csv"](content)
    assert headings == ["Table", "Kind", "Row", "Column", "Before", "After", "Facts that changed"]
    assert ["failure-modes-and-effects", "changed", "Rate [1/yr]", "0.007", "0.014"] in [
        [*r[:2], *r[3:6]] for r in rows
    ]


def test_every_table_can_be_compared(edition):
    """All of them at once, for one assembly that only the new edition has."""
    new = edition("demo/brannoch-30s.ttl", 'dcterms:identifier "brannoch-30s"', 'dcterms:identifier "brannoch-31s"')
    answer = changes(ChangesRequest(old="shipped", new=new, assembly="brannoch-31s"))
    assert {c.table for c in answer.added} >= set(TABLES) - {
        "interchange-and-supersession",
        "kit-contents",
        "swap-with",
    }
    assert answer.removed == answer.changed == ()


def test_an_edition_is_found_on_its_shelf_and_a_lone_pack_lies_beside_what_it_lacks(edition, tmp_path):
    """A folder by its name; a pack of knowledge alone takes the shipped demo."""
    edition("demo/parties.ttl", "Brannoch", "Brannoch")
    assert len(open_edition("new", tmp_path).graph) == len(open_edition("shipped").graph)
    knowledge = open_edition(str(tmp_path / "new" / "knowledge"))
    assert sorted(knowledge.assemblies) == sorted(open_edition("shipped").assemblies)


def test_wrong_editions_and_tables_get_one_sentence(edition, tmp_path):
    """What is not there, what is empty, what cannot be parsed, what is no table."""
    edition("demo/parties.ttl", "Brannoch", "Brannoch")
    with pytest.raises(UnknownNameError, match="no pack, folder or edition '2020'; nearest: new, shipped"):
        open_edition("2020", tmp_path)
    (tmp_path / "empty").mkdir()
    with pytest.raises(DataError, match="holds no pack"):
        open_edition(str(tmp_path / "empty"))
    (tmp_path / "bad.ttl").write_text("a b", "utf-8")
    with pytest.raises(DataError, match=r"bad\.ttl line 1"):
        open_edition(str(tmp_path / "bad.ttl"))
    with pytest.raises(UnknownNameError, match="no table 'cutsets'; nearest: cut-sets"):
        changes(ChangesRequest(old="shipped", tables=("cutsets",)))
    with pytest.raises(UnknownNameError, match="no assembly 'nowhere'"):
        changes(ChangesRequest(old="shipped", tables=("cautions",), assembly="nowhere"))
