"""Facts of the trade for the air-over-oil unit: common practice, with no published source."""

import pytest

from trade.asking import ask, chance, gained, leading, ranked, shows

UNIT = "ulvedal-50b"
AIR_IN_THE_OIL = ("oil-reservoir:low-level", "oil-reservoir:oil-foams", "barrel:not-bled")
PRESSURE_SEAL = ("pressure-seal:worn", "pressure-seal:hardened", "pressure-seal:extruded")


@pytest.mark.parametrize("fault", ["oil-reservoir:low-level", "barrel:not-bled"])
def test_air_in_the_oil_is_spongy_and_short_and_not_a_bang(fault, library):
    """Bubbles give a soft, short stroke; nothing strikes (common practice)."""
    seen = shows(library, UNIT, fault)
    assert seen["spongy-stroke"] > 0.6
    assert seen["partial-release"] > 0.4
    assert seen["bang-at-release"] < 0.005
    assert seen["no-release"] < 0.01


def test_a_spongy_stroke_is_air_in_the_oil(library):
    """Low level, foam or a poor bleed outweigh a soft hose many times (common practice)."""
    answer = ask(library, UNIT, seen=["spongy-stroke", "partial-release"], unseen=["bang-at-release"])
    assert ranked(answer)[0] == "oil-reservoir:low-level"
    assert chance(answer, *AIR_IN_THE_OIL) > 6 * chance(answer, "oil-hose:soft")


def test_the_glass_is_read_first(library):
    """For a spongy stroke, reading the oil level is the first check: one minute, no lock-out (common practice)."""
    answer = ask(library, UNIT, seen=["spongy-stroke"])
    assert answer.next_checks[0].check == "read-oil-level"
    assert not answer.next_checks[0].lockout


def test_a_good_level_leaves_the_bleed(library):
    """With the level right, air that comes out at the bleed screw was left in after work (common practice)."""
    answer = ask(
        library, UNIT, seen=["spongy-stroke"], readings={"read-oil-level": "normal", "bleed-oil": "air-comes-out"}
    )  # fmt: skip
    assert ranked(answer)[0] == "barrel:not-bled"
    assert chance(answer, "barrel:not-bled") > 10 * chance(answer, "oil-reservoir:low-level")


def test_no_air_at_the_bleed_screw_leaves_the_hose(library):
    """A spongy stroke with oil free of air is a hose that swells (common practice)."""
    answer = ask(
        library, UNIT, seen=["spongy-stroke"], readings={"read-oil-level": "normal", "bleed-oil": "normal"}
    )  # fmt: skip
    assert ranked(answer)[0] == "oil-hose:soft"
    assert chance(answer, "oil-hose:soft") > 3 * chance(answer, *AIR_IN_THE_OIL)


def test_fade_while_held_with_oil_at_the_actuator_is_the_pressure_seal(library):
    """The oil column escapes past its seal and shows outside (common practice)."""
    answer = ask(library, UNIT, seen=["fade-while-held", "oil-at-actuator"])
    assert ranked(answer)[0] == "pressure-seal:worn"
    assert chance(answer, *PRESSURE_SEAL) > 0.75
    assert chance(answer, *PRESSURE_SEAL) > 5 * chance(answer, "oil-hose:leaks")


def test_fade_without_oil_outside_is_the_make_up_valve(library):
    """Oil that is lost but shows nowhere went back to the reservoir (common practice)."""
    answer = ask(library, UNIT, seen=["fade-while-held"], unseen=["oil-at-actuator"])
    assert ranked(answer)[0] == "intensifier:make-up-valve-leaks"
    assert chance(answer, "intensifier:make-up-valve-leaks") > 2 * chance(answer, *PRESSURE_SEAL)


def test_a_level_that_rises_while_held_settles_the_make_up_valve(library):
    """The glass rises when oil comes back through the make-up valve (common practice)."""
    readings = {"watch-the-glass-while-held": "rises"}
    answer = ask(library, UNIT, seen=["fade-while-held"], unseen=["oil-at-actuator"], readings=readings)
    assert chance(answer, "intensifier:make-up-valve-leaks") > 0.95


def test_the_first_drop_tells_seal_from_fitting(library):
    """Wiped dry, the place of the first drop separates the seal from fitting and hose (common practice)."""
    seal = ask(library, UNIT, seen=["oil-at-actuator"], readings={"wipe-and-watch": "at-seal"})
    joint = ask(library, UNIT, seen=["oil-at-actuator"], readings={"wipe-and-watch": "at-hose-or-fitting"})
    assert chance(seal, *PRESSURE_SEAL) > 0.9
    assert chance(joint, *PRESSURE_SEAL) < 0.15
    assert gained(joint, "barrel", "oil-hose") > 0.8


def test_a_leaking_seal_empties_the_reservoir(library):
    """Oil at the actuator raises a low level, and with it the spongy stroke to come (common practice)."""
    leaking = ask(library, UNIT, seen=["oil-at-actuator", "fade-while-held"])
    dry = ask(library, UNIT, unseen=["oil-at-actuator", "fade-while-held"])
    assert chance(leaking, "oil-reservoir:low-level") > 3 * chance(dry, "oil-reservoir:low-level")


def test_hiss_while_held_is_on_the_air_side(library):
    """Oil does not hiss: the air piston seal or the quick exhaust valve does (common practice)."""
    answer = ask(library, UNIT, seen=["hiss-while-held"], unseen=["hiss-at-rest"])
    assert set(leading(answer, 2)) == {"piston-seal", "quick-exhaust-valve"}
    assert abs(gained(answer, "pressure-seal")) < 0.02


def test_low_air_pressure_weakens_the_oil(library):
    """The intensifier multiplies what it gets: a low regulator is a weak push, not a spongy one (common practice)."""
    seen = shows(library, UNIT, "supply-regulator:set-too-low")
    assert max(seen["partial-release"], seen["short-push-out"]) > 0.4
    assert seen["spongy-stroke"] < 0.005


def test_lost_tools_with_sound_air_and_oil_are_the_spindle(library):
    """A worn gripper or a tired stack loses tools while every pressure is right (common practice)."""
    readings = {"read-supply-pressure": "normal", "read-hydraulic-pressure": "normal", "read-oil-level": "normal"}
    answer = ask(library, UNIT, seen=["tool-pull-out"], readings=readings)
    assert set(leading(answer, 4)) <= {"gripper", "disc-spring-stack", "pull-stud", "spindle-taper"}
    assert gained(answer, "gripper", "disc-spring-stack") > 0.4
    assert gained(answer, "pressure-seal", "intensifier", "main-valve") < 0.0


def test_oil_and_multiplied_pressure_are_warned_of(library):
    """Whoever opens this unit reads of injection, heat and multiplied pressure (common practice)."""
    shown = {caution.id for caution in ask(library, UNIT, seen=["fade-while-held"]).cautions}
    assert {"caution-oil", "caution-injection-injury", "caution-hot-oil", "caution-multiplied-pressure"} <= shown
    assert "caution-accumulator" not in shown
