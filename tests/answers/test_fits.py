"""Does it fit: the verdicts on the demo, both directions, effectivity, and bad calls."""

from dataclasses import replace

import pytest

from clampgraph.answers.models import parse
from clampgraph.answers.replacing.fits import FitsRequest, fits, place
from clampgraph.answers.replacing.workshop import workshop
from clampgraph.errors import UnknownNameError, WrongCallError

TANDEM = "brannoch-40t"


def ask(library, **question):
    return fits(library, parse(FitsRequest, question))


def verdict(library, mpn, position, generation="gen-2", assembly=TANDEM):
    (found,) = ask(library, mpn=mpn, assembly=assembly, position=position, generation=generation).places
    return found


def failed(found):
    return [f.feature for f in found.features if f.verdict == "does-not-fit"]


@pytest.mark.parametrize(("mpn", "position", "feature"), [
    ("PF-QEV-38N", "quick-exhaust-valve", "port-family"),  # G against NPT
    ("PF-SOV-12N", "shut-off-valve", "port-family"),  # 14 threads to the inch in both families
    ("PF-V32-38-110", "main-valve", "coil-voltage"),
    ("PF-V32-38-230", "main-valve", "coil-current-kind"),
    ("PF-V32-38O", "main-valve", "valve-function"),
    ("PF-OR-120N", "rod-seal", "seal-section"),  # 0.08 mm apart in bore, another series
    ("PF-OR-214E", "rod-seal", "seal-material"),  # swells in mineral oil
    ("PF-RR-471-80", "retaining-ring", "ring-standard"),  # a shaft ring in a bore
    ("PF-RR-472-80", "retaining-ring", "ring-size"),
    ("PF-SOV-12U", "shut-off-valve", "lockable"),
    ("PF-FIL-12C", "filter", "filter-rating"),
    ("PF-REG-18L", "approach-regulator", "setting-maximum"),
    ("PF-IND-12P2", "clamp-switch", "sensing-distance"),
    ("BR-4013-9", "push-bolt", "thread-pitch"),
    ("BR-4010-1", "barrel", "mounting-pattern"),
    ("BR-4022-J", "gripper", "stud-form"),
    ("BR-4016-H", "return-spring", "spring-rate"),
])  # fmt: skip
def test_what_looks_right_but_is_not(library, mpn, position, feature):
    """The feature that decides is among those that fail."""
    found = verdict(library, mpn, position)
    assert feature in failed(found)
    if feature not in ("thread-pitch", "stud-form"):
        assert found.verdict == "does-not-fit"


def test_the_other_hand_fits_with_changes(library):
    """A left-hand rod goes into gen-1 when the push bolt changes too; in gen-2 it simply fits."""
    gen_1, gen_2 = (verdict(library, "BR-4012-2", "rod", g) for g in ("gen-1", "gen-2"))
    assert gen_2.verdict == "fits"
    assert gen_2.as_built
    assert gen_1.verdict == "fits-with-changes"
    assert [(c.position, c.item, c.instead_of) for c in gen_1.changes] == [("push-bolt", "BR-4013-2", "BR-4013-1")]


def test_an_odd_pitch_with_no_rod_on_sale_does_not_fit(library):
    """Where no neighbour on sale would match, changes do not help."""
    assert verdict(library, "BR-4013-9", "push-bolt").verdict == "does-not-fit"


def test_a_missing_datum_is_named_and_no_fit(library):
    """The answer is unknown, and says which figure is missing."""
    found = verdict(library, "PF-QEV-38X", "quick-exhaust-valve")
    assert found.verdict == "unknown"
    assert found.missing == ("flow-capacity of PF-QEV-38X",)


def test_more_than_asked_for_is_good(library):
    """At least is at least: a switch that sees farther and a finer filter fit."""
    assert verdict(library, "PF-IND-12P8", "clamp-switch").verdict == "fits"
    assert verdict(library, "PF-FIL-12M", "filter").verdict == "fits"


def test_every_feature_is_told_with_source_and_unit(library):
    """A technician reads what was required, what is offered, and who says so."""
    found = verdict(library, "PF-QEV-38", "quick-exhaust-valve")
    flow = next(f for f in found.features if f.feature == "flow-capacity")
    assert (flow.rule, flow.required.unit, flow.offered.unit) == ("at-least", "l/min", "l/min")
    assert flow.offered.value >= flow.required.value
    assert all(f.source for f in found.features)


def test_the_builders_own_items_fit_where_he_fitted_them(library):
    """The demo data is complete: no item as built is unknown or wrong at its own place."""
    for name in library.assemblies:
        for generation in library.assembly(name).generations:
            site = workshop(library).site(library.assembly(name, generation.id))
            for position, item in site.fitted.items():
                assert place(library, site, position, item).verdict == "fits", (name, generation.id, position)


def test_taking_any_feature_away_never_makes_a_fit(library):
    """For every position of the demo: with one required feature missing the item no longer fits."""
    for generation in ("gen-1", "gen-2"):
        site = workshop(library).site(library.assembly(TANDEM, generation))
        for position, item in site.fitted.items():
            for required in {r.feature for r in site.asked[position]}:
                poorer = replace(item, features={k: v for k, v in item.features.items() if k != required})
                assert place(library, site, position, poorer).verdict in ("unknown", "does-not-fit")


def test_both_directions_agree(library):
    """What a position says of an item is what the item says of the position."""
    there = {p.item: p.verdict for p in ask(library, assembly=TANDEM, position="rod-seal", generation="gen-1").places}
    assert there["BR-4015"] == "fits"
    for mpn, found in there.items():
        assert verdict(library, mpn, "rod-seal", "gen-1").verdict == found


def test_places_that_fit_come_first(library):
    """The list is ranked: fits, with changes, unknown, does not fit."""
    ranks = ["fits", "fits-with-changes", "unknown", "does-not-fit"]
    found = [ranks.index(p.verdict) for p in ask(library, mpn="BR-4012-2").places]
    assert found == sorted(found)


@pytest.mark.parametrize(("question", "generations"), [
    ({"build_date": "2012-05-01"}, {"gen-1"}),
    ({"build_date": "2014-07-01"}, {"gen-2"}),
    ({"serial": 4199}, {"gen-1"}),
    ({"serial": 4200}, {"gen-2"}),
    ({}, {"gen-1", "gen-2"}),
])  # fmt: skip
def test_build_date_and_serial_settle_the_generation(library, question, generations):
    """Effectivity is inclusive at both ends."""
    found = ask(library, mpn="BR-4012-2", assembly=TANDEM, **question).places
    assert {p.generation for p in found} == generations


def test_supersession_runs_one_way_and_interchange_both(library):
    """The second edition replaces the first, not the reverse; the two silencers replace each other."""
    new, old = ask(library, mpn="PF-QEV-38B"), ask(library, mpn="PF-QEV-38")
    assert (new.replaces, new.replaced_by, old.replaces, old.replaced_by) == (
        ("PF-QEV-38",), (), (), ("PF-QEV-38B",),
    )  # fmt: skip
    one = ask(library, mpn="PF-SIL-38")
    assert one.replaces == one.replaced_by == ("PF-SIL-38S",)


def test_a_kit_is_judged_piece_by_piece(library):
    """Each piece of a seal kit fits its own place."""
    found = ask(library, mpn="BR-4040", assembly=TANDEM, generation="gen-1").places
    assert {(p.item, p.position, p.verdict) for p in found} == {
        ("BR-4014", "piston-seal", "fits"), ("BR-4015", "rod-seal", "fits"), ("BR-4017", "retaining-ring", "fits"),
    }  # fmt: skip


def test_another_kind_of_part_does_not_fit(library):
    """A silencer at the rod is told by its component type."""
    found = verdict(library, "PF-SIL-38", "rod")
    assert found.verdict == "does-not-fit"
    assert failed(found) == ["component-type"]


def test_there_are_enough_items(library):
    """The demo catalogue has at least 120 items, two assemblies, kits, groups and exchange units."""
    items = workshop(library).catalogue.items
    assert len(items) >= 120
    assert {i.kind for i in items.values()} == {"single", "kit", "group", "exchange-unit"}


@pytest.mark.parametrize(("question", "error", "sentence"), [
    ({}, WrongCallError, "Name an item, or an assembly with one of its positions"),
    ({"assembly": TANDEM}, WrongCallError, "Name an item, or an assembly with one of its positions"),
    ({"mpn": "BR-401"}, UnknownNameError, "There is no item 'BR-401'; nearest: "),
    ({"mpn": "BR-4012-2", "position": "rod"}, WrongCallError, "A position, generation or serial number belongs"),
    ({"mpn": "BR-4012-2", "assembly": "brannoch"}, UnknownNameError, "There is no assembly 'brannoch'; nearest: "),
    ({"mpn": "BR-4012-2", "assembly": TANDEM, "position": "rods"}, UnknownNameError, "There is no position 'rods' in"),
    ({"mpn": "BR-4012-2", "assembly": TANDEM, "serial": 1}, WrongCallError, "No brannoch-40t has serial number 1; "),
    ({"mpn": "BR-4012-2", "assembly": TANDEM, "build_date": "soon"}, WrongCallError, "The field 'build_date' is wrong"),
])  # fmt: skip
def test_a_bad_call_gets_one_clear_sentence(library, question, error, sentence):
    """What is wrong, where, and what would be right."""
    with pytest.raises(error) as caught:
        ask(library, **question)
    assert str(caught.value).startswith(sentence)
