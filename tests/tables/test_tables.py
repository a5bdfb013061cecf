"""What the tables say: each is described, agrees with the other answers, and covers what it must cover."""

import math

import pytest

from clampgraph.answers.models import parse
from clampgraph.answers.replacing.fits import FitsRequest, fits
from clampgraph.answers.table import TableAnswer, TableRequest, render, table, tables
from clampgraph.diagnosis.inference import posteriors
from clampgraph.errors import UnknownNameError, WrongCallError
from clampgraph.tables import TABLES, Scope, build


def column(found, name):
    """Return the cells of one column."""
    at = [c.name for c in found.columns].index(name)
    return [row.cells[at] for row in found.rows]


def records(found):
    """Return the rows as objects."""
    return [dict(zip((c.name for c in found.columns), row.cells, strict=True)) for row in found.rows]


@pytest.mark.parametrize("name", TABLES)
def test_every_table_describes_itself_and_its_cells_keep_their_kind(facts, name):
    """Title, question, described columns, rows told apart by their keys, cells of the kind that the column says."""
    kinds = {"text": str, "number": float | int, "integer": int, "boolean": bool, "list": tuple}
    for scope in (Scope(), Scope("brannoch-40t"), Scope("brannoch-40t", "gen-1")):
        found = build(facts, name, scope)
        assert found.title
        assert found.question.endswith("?")
        assert found.edition
        assert all(c.description.endswith(".") for c in found.columns)
        assert found.rows
        keys = [found.key_of(row) for row in found.rows]
        assert len(keys) == len(set(keys))
        for c, cells in zip(found.columns, zip(*(row.cells for row in found.rows), strict=True), strict=True):
            assert all(cell is None or isinstance(cell, kinds[c.kind]) for cell in cells), (name, c.name)


def test_failure_table_covers_every_failure_mode_exactly_once(facts, library):
    """Of every assembly, silent ones included, worst first."""
    for name in library.assemblies:
        assembly = library.assembly(name)
        modes = {(p.id, m) for p in assembly.positions.values() for m in p.type.modes}
        found = build(facts, "failure-modes-and-effects", Scope(name))
        listed = list(zip(column(found, "position"), column(found, "failure_mode"), strict=True))
        assert len(listed) == len(modes)
        assert set(listed) == modes
        severities = column(found, "severity")
        assert severities == sorted(severities, reverse=True)


def test_end_effects_are_the_symptoms_that_a_failure_mode_reaches(facts, library):
    """As the network has it: with the failure mode present, these symptoms and no others become more probable."""
    assembly = library.assembly("brannoch-30s")
    network = library.network(assembly)
    labels = {f"symptom/{s.id}": s.label for s in library.knowledge.symptoms.values()}
    symptoms = [n.id for n in network.of_kind("symptom")]
    plan = library.plan(assembly, network, {}, symptoms)
    for row in records(build(facts, "failure-modes-and-effects", Scope("brannoch-30s"))):
        node = f"{row['position']}:{row['failure_mode']}"
        if node not in network.by_id:
            assert row["end_effect"] == ()
            continue
        with_it, without = posteriors(plan, {node: True}), posteriors(plan, {node: False})
        raised = {labels[s] for s in symptoms if with_it[s] > without[s] * (1.0 + 1e-12)}
        reached = {text.rpartition(" (")[0] for text in row["end_effect"]}
        alone = {text.rpartition(" (")[0] for text in row["end_effect"] if not text.endswith("further fault)")}
        assert alone <= raised
        # A promoted failure mode also tells of the condition behind it, and so of that condition's other victims.
        assert raised <= reached or network.by_id[node].links


def test_a_switch_and_a_check_detect_what_they_show(facts):
    """A rod that stays out leaves the clamp switch dark; a low supply shows on its gauge."""
    rows = {
        (r["position"], r["failure_mode"]): r
        for r in records(build(facts, "failure-modes-and-effects", Scope("brannoch-40t")))
    }
    assert any("clamp-switch" in text for text in rows["return-spring", "broken"]["detection"])
    low = rows["supply-regulator", "set-too-low"]["detection"]
    assert any(text.startswith("read the supply pressure") for text in low)


def test_priority_number_comes_only_on_request_and_with_its_caveat(facts):
    """Severity times occurrence times detectability, each from 1 to 10."""
    plain = build(facts, "failure-modes-and-effects", Scope("brannoch-40t"))
    assert "priority_number" not in [c.name for c in plain.columns]
    rated = build(facts, "failure-modes-and-effects", Scope("brannoch-40t", priority=True))
    assert any("multiplies ranks" in caveat for caveat in rated.caveats)
    for row in records(rated):
        factors = [row["severity"], row["occurrence"], row["detectability"]]
        assert all(1 <= f <= 10 for f in factors)
        assert row["priority_number"] == math.prod(factors)


def test_where_used_is_what_fits_says_of_the_items_as_built(facts, library):
    """Every item: the same places, and none that the builder's own item does not fit."""
    used = {}
    for row in records(build(facts, "where-used")):
        used.setdefault(row["item"], set()).add(
            (row["assembly"], row["generation"], row["position"], row["designation"])
        )
    assert used
    for mpn, places in used.items():
        judged = [p for p in fits(library, FitsRequest(mpn=mpn)).places if p.as_built]
        assert {(p.assembly, p.generation, p.position, p.designation) for p in judged} == places
        assert {p.verdict for p in judged} <= {"fits", "unknown"}


def test_kits_save_what_their_pieces_cost_more(facts):
    """The pieces of a kit, added up, less its own price."""
    kits = {}
    for row in records(build(facts, "kit-contents")):
        kits.setdefault(row["kit"], []).append(row)
    for rows in kits.values():
        if rows[0]["saving"] is not None:
            assert rows[0]["saving"] == pytest.approx(sum(r["price"] for r in rows) - rows[0]["kit_price"], abs=0.005)


def test_interchange_is_told_from_both_sides(facts):
    """Who replaces is named where the replaced one stands, and the other way round."""
    turned = {"replaces": "is replaced by", "is replaced by": "replaces", "interchanges with": "interchanges with"}
    pairs = {(r["item"], r["other"]): r["relation"] for r in records(build(facts, "interchange-and-supersession"))}
    assert "interchanges with" in pairs.values()
    assert all(pairs[other, one] == turned[relation] for (one, other), relation in pairs.items())


def test_matrix_and_compact_form_say_the_same(facts):
    """Every cell of the matrix is a row of the list."""
    compact = {
        (r["symptom"], r["position"], r["cause"]): r["strength"]
        for r in records(build(facts, "symptom-by-cause", Scope("brannoch-40t", compact=True)))
    }
    matrix = {
        (symptom, row["position"], row["cause"]): strength
        for row in records(build(facts, "symptom-by-cause", Scope("brannoch-40t")))
        for symptom, strength in row.items()
        if symptom not in {"position", "cause", "label"} and strength is not None
    }
    assert matrix == compact


def test_variants_differ_in_the_hand_of_the_rod_thread(facts):
    """The two generations of the tandem unit; on request only rows that differ."""
    every = build(facts, "variants-side-by-side", Scope("brannoch-40t"))
    some = build(facts, "variants-side-by-side", Scope("brannoch-40t", differing=True))
    assert len(some.rows) < len(every.rows)
    hands = {(r["subject"], r["property"]): r for r in records(some)}["rod", "thread-hand"]
    assert (hands["brannoch-40t/gen-1"], hands["brannoch-40t/gen-2"]) == ("right", "left")
    assert all(len(set(row.cells[2:])) > 1 for row in some.rows)


def test_checks_carry_their_limits(facts):
    """The clamping force of the tandem unit must lie between the values of its papers."""
    rows = [
        r
        for r in records(build(facts, "checks-with-limits", Scope("brannoch-40t")))
        if r["check"] == "gauge-clamping-force"
    ]
    assert rows
    assert {(r["minimum"], r["maximum"], r["unit"], r["limit_from"]) for r in rows} == {
        (8.0, 11.0, "kN", "machine papers")
    }


def test_swap_with_names_what_opening_the_cylinder_spoils(facts):
    """Whoever renews the piston seal renews the rod seal that comes out with it."""
    rows = [
        r for r in records(build(facts, "swap-with", Scope("brannoch-40t", "gen-2"))) if r["position"] == "piston-seal"
    ]
    levels = {r["with"]: r["level"] for r in rows}
    assert levels["rod-seal"] == "must"
    assert all(r["reason"] for r in rows)


def test_cut_sets_can_be_asked_of_one_symptom(facts):
    """Only that top event, up to the order asked for."""
    found = build(facts, "cut-sets", Scope("brannoch-40t", symptom="no-release", order=1))
    assert set(column(found, "top_event")) == {"no-release"}
    assert set(column(found, "order")) == {1}
    assert found.caveats[0] == "Only single causes are listed."


def test_answer_lists_all_tables_and_gives_one_as_data(library):
    """The list names what can be asked; the answer's rows are keyed by its columns; JSON is its body."""
    listed = tables(library)
    assert [t.name for t in listed.tables] == list(TABLES)
    request = parse(TableRequest, {"name": "cautions", "assembly": "brannoch-40t"})
    answer = table(library, request)
    assert all(set(row) == {*(c.name for c in answer.columns), "notes"} for row in answer.rows)
    assert {n for row in answer.rows for n in row["notes"]} == {note.number for note in answer.notes}
    content, media = render(library, request, "json")
    assert media == "application/json"
    assert TableAnswer.model_validate_json(content) == answer


@pytest.mark.parametrize(
    ("asked", "kind", "sentence"),
    [
        ({"name": "where-use"}, UnknownNameError, "no table 'where-use'; nearest: where-used"),
        ({"name": "cut-sets", "assembly": "brannoch-40"}, UnknownNameError, "nearest: brannoch-40t"),
        ({"name": "cut-sets", "symptom": "no-releas"}, UnknownNameError, "no symptom 'no-releas'; nearest: no-release"),
        ({"name": "cut-sets", "generation": "gen-1"}, WrongCallError, "needs its assembly"),
        ({"name": "cut-sets", "order": 0}, WrongCallError, "'order' is wrong"),
        ({"name": "cut-sets", "colour": "red"}, WrongCallError, "'colour' is wrong"),
    ],
)
def test_wrong_questions_get_one_sentence(library, asked, kind, sentence):
    """Names the nearest, the field, or what is missing."""
    with pytest.raises(kind, match=sentence):
        table(library, parse(TableRequest, asked))
