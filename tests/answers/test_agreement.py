"""Data test: what the graph claims is what the physics shows, or the data say why not."""

import pytest

from clampgraph import paths
from clampgraph.answers.stroke.agreement import ALLOWS, CLAIMS, agreement
from clampgraph.answers.stroke.parameters import faults_of
from clampgraph.answers.validate import validate
from clampgraph.physics.stroke import DIMENSIONS


@pytest.fixture(scope="module")
def tables(library):
    """Return the table of every assembly that states numbers."""
    names = [n for n in library.assemblies if library.graph.ask("simulation/list-parameters", assembly=n)]
    return {name: agreement(library, name) for name in names}


def test_every_disagreement_has_its_reason_in_the_data(tables):
    """Named one by one, so that a finding says what to mend."""
    open_ones = [
        f"{name} {row.position}:{row.failure_mode} {row.showing}: {row.verdict}"
        for name, table in tables.items()
        for row in table.rows
        if row.verdict != "agrees" and not row.reason
    ]
    assert open_ones == []


def test_the_table_has_substance(tables):
    """Most rows agree, and every assembly has many."""
    for table in tables.values():
        assert table.agreed > 40
        assert table.agreed > 2 * table.explained
        assert table.agreed + table.explained + table.unexplained == len(table.rows)


def test_verdicts_follow_from_their_row(tables):
    """A verdict contradicts neither what shows nor the probability beside it."""
    for table in tables.values():
        for row in table.rows:
            if row.verdict == "physics shows more":
                assert row.physics
                assert row.graph < ALLOWS
            if row.verdict == "graph claims more":
                assert not row.physics
                assert row.graph > CLAIMS


def test_known_rows_agree(tables):
    """Facts of the trade stand in the table (common practice)."""
    rows = {(r.position, r.failure_mode, r.showing): r for r in tables["brannoch-40t"].rows}
    for key in [
        ("approach-valve", "stuck-shut", "bang-at-contact"),
        ("quick-exhaust-valve", "diaphragm-sticks", "late-return"),
        ("silencer", "clogged", "late-return"),
        ("main-valve", "stuck-shut", "no-release"),
        ("disc-spring-stack", "settled", "weak-clamping"),
        ("piston-seal", "swollen", "late-return"),
        ("piston-seal", "worn", "leak-while-held"),
    ]:
        assert rows[key].physics, key
        assert rows[key].verdict == "agrees", key


def test_differences_in_the_data_are_still_needed(library, tables):
    """A reason whose disagreement is gone is taken out again."""
    used = {(r.failure_mode, r.showing) for t in tables.values() for r in t.rows if r.verdict != "agrees"}
    for row in library.graph.ask("simulation/list-differences"):
        assert (row["mode"].rpartition(".")[2], row["showing"]) in used, row


def test_changes_and_showings_name_what_exists(library):
    """Every changed parameter is stated at its positions, and every showing names an observable of a stroke."""
    for row in library.graph.ask("simulation/list-showings"):
        assert row["observable"] in DIMENSIONS
    modes = {m.iri for t in library.knowledge.types.values() for m in t.modes.values()}
    for query in ("simulation/list-changes", "simulation/list-unsimulated", "simulation/list-differences"):
        for row in library.graph.ask(query):
            assert row["mode"] in modes, row


def test_no_mode_both_changes_and_lacks_physics(library):
    """A failure mode either changes numbers or says why it does not."""
    changed = {row["mode"] for row in library.graph.ask("simulation/list-changes")}
    without = {row["mode"] for row in library.graph.ask("simulation/list-unsimulated")}
    assert not changed & without


def test_physics_can_refute_the_graph(library, monkeypatch):
    """A knowledge that claimed nothing would be found out: the test can fail."""
    monkeypatch.setattr("clampgraph.answers.stroke.agreement._claims", lambda *_: {})
    table = agreement(library, "brannoch-30s")
    assert table.unexplained > 20
    assert faults_of(library, library.assembly("brannoch-30s"), ["silencer:clogged"])[0].changes


def test_validation_holds_a_pack_against_physics_on_request():
    """The table is part of the answer of a validation that asks for it, for the units of the given pack only."""
    pack = paths.data() / "demo" / "brannoch-30s.ttl"
    answer = validate([pack], physics=True)
    assert answer.valid
    assert [a.assembly for a in answer.agreement] == ["brannoch-30s"]
    assert answer.agreement[0].agreed > 10
    assert validate([pack]).agreement == ()
