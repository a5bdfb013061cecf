"""Facts of the trade for the coaxial unit with twin valves and push pins: common practice, nothing published."""

import pytest

from clampgraph.diagnosis.fault_tree import fault_tree
from trade.asking import ask, chance, gained, leading, ranked, shows

UNIT = "ulvedal-40c"
AIR_IS_SOUND = {"read-supply-pressure": "normal", "watch-gauge-at-release": "normal"}
PINS = ("push-pins:one-short", "push-pins:one-bent")
MAIN = "operate-main-valve-by-hand@main-valve-"


def test_one_stuck_main_valve_slows_the_release(library):
    """While its twin feeds the ring, a valve stuck shut slows the release and does not stop it (common practice)."""
    seen = shows(library, UNIT, "main-valve-a:stuck-shut")
    assert seen["slow-release"] > 0.7
    assert seen["no-release"] < 0.01


def test_both_stuck_main_valves_stop_the_release(library):
    """Twin valves share the load: only both stuck shut leave no release at all (common practice)."""
    both = shows(library, UNIT, "main-valve-a:stuck-shut", "main-valve-b:stuck-shut")
    one = shows(library, UNIT, "main-valve-b:stuck-shut")
    assert both["no-release"] > 0.9
    assert both["no-release"] > 100 * one["no-release"]


@pytest.mark.parametrize("valve", ["a", "b"])
def test_the_override_tells_which_twin_is_stuck(valve, library):
    """A slow release with one dead override and one live one names that valve, whichever it is (common practice)."""
    other = "b" if valve == "a" else "a"
    answer = ask(library, UNIT, seen=["slow-release"], readings={MAIN + valve: "absent", MAIN + other: "normal"})
    assert ranked(answer)[0] == f"main-valve-{valve}:stuck-shut"
    assert chance(answer, f"main-valve-{valve}:stuck-shut") > 10 * chance(answer, f"main-valve-{other}:stuck-shut")


def test_no_release_is_what_both_valves_share(library):
    """With twins, no release points to shut-off, output or supply before one valve of the pair (common practice)."""
    answer = ask(library, UNIT, seen=["no-release"])
    shared = chance(answer, "shut-off-valve:closed", "controller:release-output-failed", "supply-regulator:set-too-low")
    assert set(leading(answer, 3)) == {"shut-off-valve", "controller", "supply-regulator"}
    assert shared > 4 * chance(answer, "main-valve-a:stuck-shut", "main-valve-b:stuck-shut")


def test_one_short_pin_releases_partly(library):
    """The ring tilts towards a short pin: partial release, and neither a bang nor a slow return (common practice)."""
    seen = shows(library, UNIT, "push-pins:one-short")
    assert seen["partial-release"] > 0.6
    assert seen["partial-release"] > 2.5 * seen["slow-release"]
    assert max(seen["bang-at-release"], seen["slow-return"], seen["pressure-drop-at-release"]) < 0.02


def test_partial_release_at_full_pressure_with_an_uneven_gap_is_the_pins(library):
    """Full pressure, steady gauge and a gap that differs around the ring leave the pins (common practice)."""
    answer = ask(
        library, UNIT, seen=["partial-release"], readings={**AIR_IS_SOUND, "feeler-gap-at-rest": "uneven"}
    )  # fmt: skip
    assert ranked(answer)[0] == "push-pins:one-short"
    assert set(ranked(answer)[:2]) == set(PINS)
    assert chance(answer, *PINS) > 0.8


def test_full_pressure_moves_the_suspicion_to_the_pins(library):
    """Sound air readings raise the pins against the regulator in a partial release (common practice)."""
    before = ask(library, UNIT, seen=["partial-release"])
    after = ask(library, UNIT, seen=["partial-release"], readings=AIR_IS_SOUND)
    assert chance(before, "supply-regulator:set-too-low") > 1.5 * chance(before, PINS[0])
    assert chance(after, PINS[0]) > 5 * chance(after, "supply-regulator:set-too-low")


def test_measuring_the_pins_settles_it(library):
    """A pin found short is the cause beyond doubt; pins alike clear them (common practice)."""
    readings = {**AIR_IS_SOUND, "feeler-gap-at-rest": "uneven"}
    short = ask(library, UNIT, seen=["partial-release"], readings={**readings, "inspect-push-pins": "short"})
    alike = ask(library, UNIT, seen=["partial-release"], readings={**readings, "inspect-push-pins": "normal"})
    assert chance(short, "push-pins:one-short") > 0.95
    assert chance(alike, "push-pins:one-short") < chance(short, "push-pins:one-short") / 3


def test_an_impact_batters_the_pins(library):
    """A bang raises battered pins: without its approach stage the ring hammers them (common practice)."""
    banging = ask(library, UNIT, seen=["bang-at-release"], readings={"operate-approach-valve-by-hand": "absent"})
    calm = ask(library, UNIT, unseen=["bang-at-release"])
    assert chance(banging, "push-pins:ends-battered") > 2 * chance(calm, "push-pins:ends-battered")


def test_a_bang_is_the_approach_path(library):
    """The approach stage works past the twins: its loss bangs, the loss of one twin does not (common practice)."""
    assert shows(library, UNIT, "approach-valve:stuck-shut")["bang-at-release"] > 0.8
    assert shows(library, UNIT, "main-valve-a:stuck-shut")["bang-at-release"] < 0.01
    answer = ask(library, UNIT, seen=["bang-at-release"])
    approach = gained(answer, "approach-valve", "approach-regulator", "check-valve")
    assert approach > 3 * gained(answer, "main-valve-a", "main-valve-b")


def test_one_clogged_silencer_slows_the_return_and_two_do_not_free_it(library):
    """Two ways out share the venting: one clogged is felt, and no single one keeps the ring out (common practice)."""
    one = shows(library, UNIT, "silencer-a:clogged")
    both = shows(library, UNIT, "silencer-a:clogged", "silencer-b:clogged")
    assert one["slow-return"] > 0.7
    assert one["slow-release"] < 0.01
    assert both["no-return"] > 3 * one["no-return"]


def test_slow_return_alone_is_the_exhaust_path(library):
    """Quick exhaust valves and silencers lead when only the return is slow (common practice)."""
    answer = ask(library, UNIT, seen=["slow-return"], unseen=["slow-release", "bang-at-release"])
    exhaust = {"quick-exhaust-valve-a", "quick-exhaust-valve-b", "silencer-a", "silencer-b"}
    assert set(leading(answer, 4)) == exhaust
    assert gained(answer, *exhaust) > 3 * gained(answer, "piston-seal", "return-spring")


def test_a_ring_that_stays_out_rubs(library):
    """Both twins stuck open hold the ring out, and the turning pins rub on it (common practice)."""
    seen = shows(library, UNIT, "main-valve-a:stuck-open", "main-valve-b:stuck-open")
    assert seen["no-return"] > 0.9
    assert seen["rubbing-while-running"] > 0.7
    assert shows(library, UNIT, "main-valve-a:stuck-open")["rubbing-while-running"] < 0.01


def test_lost_tools_with_sound_air_are_the_spindle(library):
    """Gripper, stack and stud lose tools while every reading of the air is normal (common practice)."""
    answer = ask(library, UNIT, seen=["tool-pull-out"], readings=AIR_IS_SOUND)
    assert set(leading(answer, 5)) <= {"gripper", "disc-spring-stack", "pull-stud", "spindle-taper"}
    assert gained(answer, "gripper", "disc-spring-stack", "pull-stud") > 0.5
    assert abs(gained(answer, "main-valve-a", "main-valve-b", "quick-exhaust-valve-a", "quick-exhaust-valve-b")) < 0.02


def test_generations_differ_in_voltage_and_thread(library):
    """The old unit has NPT ports and 110 V coils, the new one G ports and 24 V: what fits depends on it."""
    features = {
        g: library.assembly(UNIT, g).positions["main-valve-a"].items[0].features for g in ("gen-1", "gen-2")
    }  # fmt: skip
    assert (features["gen-1"]["port-family"], features["gen-2"]["port-family"]) == ("NPT", "G")
    assert features["gen-1"]["coil-current-kind"] != features["gen-2"]["coil-current-kind"]


def test_both_stuck_valves_are_a_cut_set_of_order_two(library):
    """The fault tree of 'no release' holds both valves stuck shut as one cut set, and neither alone."""
    network = library.network(library.assembly(UNIT))
    sets = {frozenset(found.events) for found in fault_tree(network, "symptom/no-release", 2).cut_sets}
    assert frozenset({"main-valve-a:stuck-shut", "main-valve-b:stuck-shut"}) in sets
    assert not any(found in sets for found in ({"main-valve-a:stuck-shut"}, {"main-valve-b:stuck-shut"}))
