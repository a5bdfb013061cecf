"""What is swapped with a part: facts of the trade (common practice), laws of the whole answer, and bad calls."""

import random

import pytest
from pyoxigraph import Store

from clampgraph.answers.library import Library
from clampgraph.answers.models import parse
from clampgraph.answers.replacing.replacements import SwapRequest
from clampgraph.answers.replacing.swap import swap
from clampgraph.errors import QuantityError, UnknownNameError, WrongCallError
from clampgraph.graph import GraphStore

TANDEM, SINGLE = "brannoch-40t", "brannoch-30s"
PLACES = [(TANDEM, "gen-1"), (TANDEM, "gen-2"), (SINGLE, "gen-1")]
VALVES = ["main-valve", "quick-exhaust-valve"]


def ask(library, assembly=TANDEM, *positions, **options):
    return swap(library, parse(SwapRequest, {"assembly": assembly, "positions": positions, **options}))


def at(answer, *levels):
    return {line.position: line for line in answer.lines if line.level in levels and line.position is not None}


def every_position(library):
    return [(a, g, p) for a, g in PLACES for p in library.assembly(a, g).positions]


def test_a_left_hand_rod_takes_its_push_bolt_along(library):
    """Renewing a gen-1 rod with a gen-2 rod forces the push bolt to change with it, and the reason is the hand."""
    answer = ask(library, TANDEM, "rod", generation="gen-1", with_mpn="BR-4012-2")
    bolt = at(answer, "must")["push-bolt"]
    assert bolt.item == "BR-4013-2"
    assert [r.kind for r in bolt.reasons] == ["interface"]
    assert "thread-hand" in bolt.reasons[0].text


def test_a_rod_of_the_same_hand_leaves_the_push_bolt(library):
    """Like for like changes no neighbour."""
    answer = ask(library, TANDEM, "rod", generation="gen-1")
    assert "push-bolt" not in at(answer, "must", "should")


@pytest.mark.parametrize(("assembly", "position"), [(TANDEM, "piston"), (TANDEM, "return-spring"), (SINGLE, "rod")])
def test_opening_the_cylinder_renews_ring_and_seals(library, assembly, position):
    """Whoever opens the cylinder renews its retaining ring and its seals."""
    assert {"retaining-ring", "piston-seal", "rod-seal"} <= set(at(ask(library, assembly, position), "must"))


def test_an_old_original_main_valve_is_advised_with_a_failed_quick_exhaust_valve(library):
    """Both original on an old machine: both in one visit, with the arithmetic shown."""
    old = at(ask(library, TANDEM, "quick-exhaust-valve", ages={"main-valve": 15, "quick-exhaust-valve": 15}), "should")
    assert "main-valve" in old
    assert "renewing now" in old["main-valve"].reasons[0].text


def test_a_new_main_valve_is_left_alone(library):
    """A valve renewed last spring is not renewed again."""
    answer = ask(library, TANDEM, "quick-exhaust-valve", ages={"main-valve": 0.5, "quick-exhaust-valve": 15})
    assert "main-valve" not in at(answer, "must", "should")


def test_dear_labour_buys_the_group_and_cheap_labour_does_not(library):
    """At high labour rates the pre-assembled valve group beats re-using fittings, at low ones singles do."""
    kinds = {
        rate: {line.kind for line in ask(library, TANDEM, *VALVES, labour_rate=rate).order.lines} for rate in (20, 250)
    }
    assert "group" in kinds[250]
    assert "group" not in kinds[20]


def test_the_group_saves_labour_at_a_price(library):
    """What the group costs more in parts it saves in minutes."""
    dear, cheap = (ask(library, TANDEM, *VALVES, labour_rate=rate).order for rate in (250, 20))
    assert dear.labour_minutes < cheap.labour_minutes
    assert dear.parts.value > cheap.parts.value


def test_the_runner_up_says_why(library):
    """The alternative is dearer by its difference, and names both sides."""
    order = ask(library, TANDEM, *VALVES).order
    other = order.alternatives[0]
    assert order.optimal
    assert other.difference.value >= 0
    assert other.total.value - order.total.value == pytest.approx(other.difference.value, abs=0.011)
    assert "instead of" in other.why


def test_the_push_bolt_is_reached_through_the_window(library):
    """The cheaper of two ways in is taken, and the cylinder stays on its bracket."""
    kinds = [joint.kind for joint in ask(library, TANDEM, "push-bolt").access]
    assert "cover" in kinds
    assert "screws" not in kinds


def test_a_position_without_any_item_is_told_with_what_to_do(library):
    """What nobody sells is named as unmet, with advice; the answer is not empty."""
    answer = ask(library, TANDEM, "spindle-taper")
    assert set(at(answer, "must")) == {"spindle-taper"}
    assert [u.position for u in answer.order.unmet] == ["spindle-taper"]
    assert "machine papers" in answer.order.unmet[0].text


def test_stock_is_not_bought_again(library):
    """Parts on the shelf leave the order."""
    answer = ask(library, TANDEM, "silencer", stock={"PF-SIL-38": 2})
    assert answer.order.from_stock == {"PF-SIL-38": 1}
    assert answer.order.lines == ()


def test_a_swap_can_start_from_a_cause(library):
    """The remedy of the failure mode is a reason of the line, and what brings it back is told."""
    answer = ask(library, cause="piston-seal:gummed")
    assert "remedy" in [r.kind for r in at(answer, "must")["piston-seal"].reasons]
    assert any(n.kind == "root-condition" and "wet" in n.text.lower() for n in answer.notes)


def test_a_cause_that_needs_no_part_orders_none(library):
    """To open a valve fully, nothing is bought."""
    answer = ask(library, cause="shut-off-valve:partly-closed")
    assert answer.order.lines == ()
    assert [line.level for line in answer.lines] == ["inspect"]
    assert "treat" in [s.kind for s in answer.steps]


def test_an_item_with_a_missing_datum_goes_in_under_reserve(library):
    """The missing datum is named before the part is fitted."""
    answer = ask(library, TANDEM, "quick-exhaust-valve", with_mpn="PF-QEV-38X")
    assert [n.kind for n in answer.notes] == ["missing"]
    assert "flow-capacity of PF-QEV-38X" in answer.notes[0].text


def test_a_rod_kit_can_be_asked_for(library):
    """A kit brings its pieces to their positions."""
    must = at(ask(library, TANDEM, "rod", generation="gen-1", with_mpn="BR-4042-2"), "must")
    assert (must["rod"].item, must["push-bolt"].item) == ("BR-4012-2", "BR-4013-2")


def test_every_position_has_an_answer(library):
    """No existing position is answered with silence, and every line of the order is covered or named."""
    for assembly, generation, position in every_position(library):
        answer = ask(library, assembly, position, generation=generation)
        assert position in at(answer, "must")
        served = {s for line in answer.order.lines for s in line.serves} | {u.position for u in answer.order.unmet}
        assert set(at(answer, "must", "should")) <= served
        assert answer.order.optimal


def test_swapping_every_must_line_adds_none(library):
    """The whole answer is idempotent."""
    for assembly, generation, position in every_position(library):
        must = set(at(ask(library, assembly, position, generation=generation), "must"))
        again = set(at(ask(library, assembly, *sorted(must), generation=generation), "must"))
        assert again == must


def test_swapping_every_must_line_adds_none_with_a_given_item(library):
    """So it is when an item of the other generation goes in."""
    options = {"generation": "gen-1", "with_mpn": "BR-4012-2"}
    must = set(at(ask(library, TANDEM, "rod", **options), "must"))
    assert set(at(ask(library, TANDEM, *sorted(must), **options), "must")) == must


def test_steps_keep_every_precedence(library):
    """A joint opens after all that must be open before it, and closing runs the other way round."""
    for assembly, generation, position in every_position(library):
        steps = ask(library, assembly, position, generation=generation).steps
        opened = [s.joint for s in steps if s.kind == "open"]
        assert [s.joint for s in steps if s.kind == "close"] == opened[::-1]
        kinds = [s.kind for s in steps]
        ranks = {"before": 0, "open": 1, "renew": 2, "treat": 2, "between": 3, "close": 4, "after": 5}
        assert [ranks[k] for k in kinds] == sorted(ranks[k] for k in kinds)


def test_the_ring_is_opened_under_the_caution_of_its_spring(library):
    """No step releases the retaining ring without the caution to restrain the spring."""
    steps = ask(library, TANDEM, "piston-seal").steps
    ring = next(s for s in steps if s.kind == "open" and "retaining-ring" in s.positions)
    assert "caution-return-spring" in ring.cautions


def test_work_begins_with_lock_out_and_ends_with_the_clamping_force(library):
    """Nothing is opened before lock-out; acceptance values come from the machine papers, and say so."""
    answer = ask(library, TANDEM, "piston-seal")
    before = [s.text for s in answer.steps if s.kind == "before"]
    assert any("lock out" in text for text in before)
    force = next(v for v in answer.verification if v.id == "clamping-force")
    assert force.from_papers
    assert (force.minimum.unit, force.minimum.value < force.maximum.value) == ("kN", True)
    assert answer.cautions


def test_the_order_of_triples_changes_nothing(library):
    """The same packs, their triples shuffled, give the same bytes."""
    quads = list(library.graph.store)
    random.Random(7).shuffle(quads)  # noqa: S311 - a test, not a secret
    store = Store()
    for quad in quads:
        store.add(quad)
    other = Library(GraphStore(store))
    for question in ({"positions": ("rod",), "generation": "gen-1", "with_mpn": "BR-4012-2"}, {"positions": VALVES}):
        request = parse(SwapRequest, {"assembly": TANDEM, **question})
        assert swap(other, request).model_dump_json() == swap(library, request).model_dump_json()


BAD = [
    ({"positions": ["rod"], "stock": {"BR-4014": -1}}, QuantityError, "The stock of BR-4014 is -1; give a number"),
    ({"positions": ["rod"], "ages": {"rod": -2}}, QuantityError, "The age of rod is -2 years"),
    ({"positions": ["rood"]}, UnknownNameError, "There is no position 'rood' in brannoch-40t; nearest: rod"),
    ({"positions": ["rod"], "with_mpn": "BR-9"}, UnknownNameError, "There is no item 'BR-9'"),
    ({"positions": ["rod"], "stock": {"BR-9": 1}}, UnknownNameError, "There is no item 'BR-9'"),
    ({"positions": ["rod"], "with_mpn": "PF-SIL-38"}, WrongCallError, "PF-SIL-38 cannot go to rod of brannoch-40t gen"),
    ({"positions": ["rod"], "with_mpn": "BR-3012"}, WrongCallError, "BR-3012 cannot go to rod of brannoch-40t gen"),
    ({"positions": ["rod"], "generation": "gen-9"}, UnknownNameError, "There is no generation 'gen-9' of brannoch-40t"),
    ({"positions": ["rod"], "serial": 2}, WrongCallError, "No brannoch-40t has serial number 2; there are gen-1"),
    ({}, WrongCallError, "Say what shall be renewed in brannoch-40t"),
    ({"cause": "rod"}, WrongCallError, "The cause 'rod' is incomplete; write POSITION:MODE"),
    ({"cause": "rod:bended"}, UnknownNameError, "There is no failure mode 'bended' of rod; nearest: bent"),
    ({"positions": ["rod"], "labour_rate": 0}, WrongCallError, "The field 'labour_rate' is wrong"),
]  # fmt: skip


@pytest.mark.parametrize(("body", "error", "sentence"), BAD, ids=[sentence[:30] for _, _, sentence in BAD])
def test_a_bad_call_gets_one_clear_sentence(library, body, error, sentence):
    """What is wrong, where, and what would be right."""
    with pytest.raises(error) as caught:
        swap(library, parse(SwapRequest, {"assembly": TANDEM, **body}))
    assert str(caught.value).startswith(sentence)
