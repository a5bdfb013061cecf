"""Simulated strokes of the demo assemblies: from graph data alone, with and without faults, as numbers and picture."""

import xml.etree.ElementTree as ET

import pytest

from clampgraph.answers.stroke.parameters import faults_of, parameters_of
from clampgraph.answers.stroke.simulate import SimulateRequest, simulate
from clampgraph.answers.stroke.stroke_unit import unit_of
from clampgraph.drawing.stroke_plot import stroke_svg
from clampgraph.errors import DataError, UnknownNameError, WrongCallError
from clampgraph.physics import threads
from clampgraph.physics.stroke import DIMENSIONS

TANDEM, SINGLE = "brannoch-40t", "brannoch-30s"


def ask(library, assembly, *faults, trace=False):
    return simulate(library, SimulateRequest(assembly=assembly, faults=faults, trace=trace))


def si(answer, name):
    return answer.results[name].value


def simulated_assemblies(library):
    """Assemblies that state numbers."""
    return [name for name in library.assemblies if library.graph.ask("simulation/list-parameters", assembly=name)]


def test_every_assembly_goes_through_a_full_cycle(library):
    """Released with margin, push-out and gap as they should be, home again, nothing leaking, books closed."""
    names = simulated_assemblies(library)
    assert {TANDEM, SINGLE} <= set(names)
    for name in names:
        answer = ask(library, name)
        assert answer.warnings == (), name
        assert all(book.closes for book in answer.conservation), name
        assert 5.0 < si(answer, "relative-margin") < 40.0, name
        assert 0.2 <= si(answer, "push-out") <= 1.0, name
        assert si(answer, "gap-at-rest") > 0.0, name
        assert si(answer, "leak-while-held") == 0.0, name
        assert {"release-time", "return-time"} <= set(answer.results), name


def test_results_carry_their_unit_and_only_known_names(library):
    """Every result is a described quantity."""
    answer = ask(library, TANDEM)
    assert set(answer.results) <= set(DIMENSIONS)
    assert all(value.unit for value in answer.results.values())


def test_clamping_force_is_that_of_its_taper(library):
    """Pull on the tool lies in the usual bands: 2.5 to 6 kN for a 30 taper, 7 to 15 kN for a 40 taper (from memory)."""
    assert 2.5 < si(ask(library, SINGLE), "clamping-force") < 6.0
    assert 8.0 < si(ask(library, TANDEM), "clamping-force") < 9.0


def test_the_tandem_opens_its_stack_and_one_100_mm_piston_cannot(library):
    """Common practice: 4.7 kN against more than 8 kN, and more when compressed; the tandem unit has margin."""
    tandem = ask(library, TANDEM)
    single_piston_of_100_mm = 4.712
    assert si(tandem, "needed-force") > 8.0 > single_piston_of_100_mm
    assert si(tandem, "force-margin") > 1.0
    parameters = parameters_of(library, library.assembly(TANDEM))
    piston = parameters.by_position["piston"]["bore"].quantity
    assert piston.si == 0.125


def test_approach_stage_and_quick_exhaust_valve_follow_from_the_topology(library):
    """The tandem unit has a line of its own and an approach; the single piston has neither."""
    tandem, single = (unit_of(parameters_of(library, library.assembly(n))) for n in (TANDEM, SINGLE))
    assert tandem.drive.line_volume > 0.0
    assert single.drive.line_volume == 0.0
    assert ask(library, TANDEM).phases[0].phase == "approach"
    assert ask(library, SINGLE).phases[0].phase == "release"


def test_two_pistons_push_almost_twice_as_hard(library):
    """The area counts the pistons and leaves out the rod between them."""
    unit = unit_of(parameters_of(library, library.assembly(TANDEM)))
    whole = 2 * 3.141592653589793 / 4 * 0.125**2
    assert unit.mechanism.area == pytest.approx(whole - 3.141592653589793 / 4 * 0.04**2)


@pytest.mark.parametrize("fault", ["approach-valve:stuck-shut", "check-valve:stuck-shut", "approach-valve:sluggish"])
def test_without_the_approach_stage_the_impact_is_several_times_larger(library, fault):
    """Common practice: the approach stage exists so that the rod does not strike the drawbar at speed."""
    answer = ask(library, TANDEM, fault)
    assert answer.results["impact-energy"].value > 5 * answer.healthy["impact-energy"].value


def test_a_stuck_quick_exhaust_valve_lengthens_the_return_not_the_release(library):
    """Common practice."""
    answer = ask(library, TANDEM, "quick-exhaust-valve:diaphragm-sticks")
    assert answer.results["return-time"].value > 2 * answer.healthy["return-time"].value
    assert answer.results["release-time"].value == pytest.approx(answer.healthy["release-time"].value, rel=0.01)


def test_a_swollen_piston_seal_drags_both_ways(library):
    """Common practice: slow down and slow back."""
    answer = ask(library, TANDEM, "piston-seal:swollen")
    for time in ("release-time", "return-time"):
        assert answer.results[time].value > 1.1 * answer.healthy[time].value


def test_the_push_bolt_that_drags_unscrews_or_tightens_by_its_hand():
    """Common practice, derived from vectors.

    View from the rear, along +z from the rod to the tool: the spindle turns clockwise in its usual sense.
    The bolt screws into its rod along -z, away from the drawbar that rubs on its head.
    """
    for hand, sense in (("right", "loosens"), ("left", "tightens")):
        assert threads.rubbing_sense(hand=hand, spin=(0.0, 0.0, 1.0), into=(0.0, 0.0, -1.0)) == sense


def test_faults_say_what_they_change(library):
    """A fault lists each parameter before and after, with its source."""
    fault = ask(library, TANDEM, "return-spring:weak").faults[0]
    changed = {c.parameter: (c.was.value, c.becomes.value) for c in fault.changes}
    assert changed["preload"][1] < changed["preload"][0]
    assert all(c.source for c in fault.changes)
    assert fault.note is None


def test_a_fault_without_physics_says_so_in_one_sentence(library):
    """The stroke is that of a healthy unit, and the note says why."""
    answer = ask(library, TANDEM, "clamp-switch:displaced")
    assert answer.results == answer.healthy
    assert answer.faults[0].note.count(".") == 1


def test_faults_add_up(library):
    """Two faults are worse than each alone."""
    one = ask(library, TANDEM, "disc-spring-stack:dry")
    two = ask(library, TANDEM, "disc-spring-stack:dry", "piston-seal:gummed")
    assert si(two, "force-margin") < si(one, "force-margin")


def test_warnings_tell_what_is_dangerous(library):
    """A rod that stays out leaves no gap; too little pressure cannot open the stack."""
    stuck = ask(library, TANDEM, "main-valve:stuck-open").warnings
    assert any("rubs" in w for w in stuck)
    assert any("come home" in w for w in stuck)
    assert any("cannot open" in w for w in ask(library, TANDEM, "supply-regulator:set-too-low").warnings)


@pytest.mark.parametrize(
    ("fault", "error", "words"),
    [
        ("main-valve", WrongCallError, "POSITION:MODE"),
        ("main-valf:sluggish", UnknownNameError, "main-valve"),
        ("main-valve:slugish", UnknownNameError, "sluggish"),
    ],
)
def test_a_fault_that_does_not_exist_is_refused(library, fault, error, words):
    """One clear sentence with the nearest names."""
    with pytest.raises(error, match=words):
        ask(library, TANDEM, fault)


def test_a_missing_number_is_named(library):
    """A unit that states too little says which number is missing, and where."""
    parameters = parameters_of(library, library.assembly(TANDEM))
    known = {k: dict(v) for k, v in parameters.by_position.items()}
    del known["piston"]["bore"]
    with pytest.raises(DataError, match="states no bore for piston"):
        unit_of(type(parameters)(parameters.assembly, known))


def test_every_failure_mode_is_either_simulated_or_explained(library):
    """No failure mode of an assembly with numbers is passed over in silence."""
    for name in simulated_assemblies(library):
        assembly = library.assembly(name)
        names = [f"{p.id}:{m}" for p in assembly.positions.values() for m in p.type.modes]
        silent = [f.name for f in faults_of(library, assembly, names) if not f.changes and "state nothing" in f.reason]
        assert silent == []


def test_the_picture_shows_the_phases_as_text(library):
    """Well-formed, titled and described; phases and axes are text; nothing relies on colour."""
    answer = ask(library, TANDEM, "quick-exhaust-valve:diaphragm-sticks", trace=True)
    picture = stroke_svg(answer)
    root = ET.fromstring(picture)  # noqa: S314  # our own output
    space = {"s": "http://www.w3.org/2000/svg"}
    words = {t.text for t in root.iterfind(".//s:text", space)}
    assert {"approach", "release", "held", "reclamp", "clamped", "time [ms]", "force [kN]"} <= words
    assert "diaphragm-sticks" in root.find("s:title", space).text
    assert "release-time" in root.find("s:desc", space).text
    assert len(root.findall(".//s:polyline", space)) == 7


def test_a_picture_needs_the_course_over_time(library):
    """Without a trace the picture is refused in one sentence."""
    with pytest.raises(WrongCallError, match="trace"):
        stroke_svg(ask(library, TANDEM))
