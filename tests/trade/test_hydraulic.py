"""Facts of the trade for the hydraulic hollow-shank unit with coolant through the spindle: common practice."""

from trade.asking import ask, chance, gained, leading, ranked, shows

UNIT = "ulvedal-63h"
PUMP_IS_SOUND = {"read-hydraulic-pressure": "low", "test-pump-at-relief": "normal"}
ACCUMULATOR = ("accumulator:precharge-lost", "accumulator:bladder-torn")
UNION = ("rotary-union:face-seal-worn", "rotary-union:drain-blocked", "rotary-union:bearing-worn")


def test_low_pressure_with_a_healthy_pump_leaves_switch_and_accumulator(library):
    """A pump that reaches its relief setting clears itself: switch or accumulator is left (common practice)."""
    answer = ask(library, UNIT, readings=PUMP_IS_SOUND)
    assert set(leading(answer, 2)) == {"pressure-switch", "accumulator"}
    assert gained(answer, "pressure-switch", "accumulator") > 10 * abs(gained(answer, "pump"))


def test_a_pump_that_fails_its_test_is_the_pump(library):
    """Low pressure and a pump that does not reach its relief setting are one fault (common practice)."""
    answer = ask(library, UNIT, readings={**PUMP_IS_SOUND, "test-pump-at-relief": "low"})
    assert set(ranked(answer)[:2]) == {"pump:relief-low", "pump:worn"}
    assert chance(answer, "pump:relief-low", "pump:worn") > 10 * chance(answer, "pressure-switch:set-too-low")


def test_a_low_pre_charge_points_to_the_accumulator(library):
    """The pre-charge reading separates the two: low, it is the accumulator (common practice)."""
    answer = ask(library, UNIT, readings={**PUMP_IS_SOUND, "read-accumulator-precharge": "low"})
    assert ranked(answer)[0] == "accumulator:precharge-lost"
    assert chance(answer, "accumulator:precharge-lost") > 5 * chance(answer, "pressure-switch:set-too-low")


def test_a_low_setting_points_to_the_pressure_switch(library):
    """The setting read at the gauge separates the two: low, it is the switch (common practice)."""
    answer = ask(library, UNIT, readings={**PUMP_IS_SOUND, "read-pressure-switch-setting": "low"})
    assert ranked(answer)[0] == "pressure-switch:set-too-low"
    assert chance(answer, "pressure-switch:set-too-low") > 10 * chance(answer, *ACCUMULATOR)


def test_a_right_setting_leaves_the_accumulator(library):
    """With pump and switch in order, the accumulator comes first (common practice)."""
    answer = ask(library, UNIT, readings={**PUMP_IS_SOUND, "read-pressure-switch-setting": "normal"})
    assert ranked(answer)[0] == "accumulator:precharge-lost"
    assert chance(answer, *ACCUMULATOR) > 3 * chance(answer, "pressure-switch:set-too-low")


def test_both_separating_readings_are_proposed(library):
    """For low pressure with a healthy pump, the switch setting is proposed before the locked-out pre-charge."""
    proposed = [c.check for c in ask(library, UNIT, readings=PUMP_IS_SOUND).next_checks]
    assert proposed.index("read-pressure-switch-setting") < proposed.index("read-accumulator-precharge") < 5


def test_a_pump_that_starts_often_and_a_slow_release_are_the_accumulator(library):
    """Without gas the reserve of one stroke is gone: the pump hammers and the stroke drags (common practice)."""
    answer = ask(library, UNIT, seen=["pump-runs-often", "slow-release"])
    assert set(ranked(answer)[:2]) == set(ACCUMULATOR)
    assert chance(answer, *ACCUMULATOR) > 0.85
    assert shows(library, UNIT, "pump:worn")["pump-runs-often"] < 0.02


def test_coolant_in_the_drawbar_is_the_rotary_union(library):
    """The face seal leads, the coolant tube comes far behind (common practice)."""
    answer = ask(library, UNIT, seen=["coolant-in-drawbar"])
    assert ranked(answer)[0] == "rotary-union:face-seal-worn"
    assert chance(answer, *UNION) > 0.9
    assert gained(answer, "rotary-union") > 5 * gained(answer, "coolant-tube")


def test_a_dry_drain_points_to_the_drain(library):
    """A drain that gives nothing is blocked; one that runs means the face seal (common practice)."""
    dry = ask(library, UNIT, seen=["coolant-in-drawbar"], readings={"watch-union-drain": "dry"})
    runs = ask(library, UNIT, seen=["coolant-in-drawbar"], readings={"watch-union-drain": "runs"})
    assert chance(dry, "rotary-union:drain-blocked") > 5 * chance(dry, "rotary-union:face-seal-worn")
    assert chance(runs, "rotary-union:face-seal-worn") > 5 * chance(runs, "rotary-union:drain-blocked")


def test_fines_in_the_coolant_stand_behind_the_union(library):
    """A worn union names dirty coolant beside it, or the next one goes the same way (common practice)."""
    answer = ask(library, UNIT, seen=["coolant-in-drawbar"])
    assert answer.root_conditions[0].id == "dirty-coolant"
    assert answer.root_conditions[0].probability > 2 * answer.root_conditions[0].prior
    union = next(c for c in answer.causes if c.node == UNION[0])
    assert [p.condition for p in union.promoted_by] == ["dirty-coolant"]


def test_a_leaking_union_ends_as_lost_clamping_force(library):
    """Coolant washes the grease out of drawbar and stack: years later the force is low (common practice)."""
    wet = ask(library, UNIT, seen=["coolant-in-drawbar"])
    dry = ask(library, UNIT, unseen=["coolant-in-drawbar"])
    assert chance(wet, "drawbar:washed-out") > 8 * chance(dry, "drawbar:washed-out")


def test_the_unit_without_through_coolant_has_no_union_to_blame(library):
    """The first generation has no coolant path: it cannot explain coolant in its drawbar, and says so."""
    answer = ask(library, UNIT, generation="gen-1", seen=["coolant-in-drawbar"])
    assert answer.unexplained > 0.99
    assert not [c for c in answer.causes if c.position in ("rotary-union", "coolant-tube", "coolant-supply")]


def test_a_torn_gripper_loses_tools_while_every_pressure_is_normal(library):
    """Sound air, sound oil, full force: what holds the tool is torn or worn (common practice)."""
    readings = {
        "read-supply-pressure": "normal", "read-hydraulic-pressure": "normal", "gauge-clamping-force": "normal",
    }  # fmt: skip
    answer = ask(library, UNIT, seen=["tool-pull-out"], readings=readings)
    assert set(leading(answer, 3)) == {"gripper"}
    assert gained(answer, "gripper") > 5 * gained(answer, "disc-spring-stack")
    assert gained(answer, "pump", "accumulator", "hydraulic-valve", "taper-purge-valve") < 0.0


def test_a_tired_stack_loses_tools_while_every_pressure_is_normal(library):
    """Sound air, sound oil, low force: stack and drawbar before the valves, which cannot do it (common practice)."""
    readings = {"read-supply-pressure": "normal", "read-hydraulic-pressure": "normal", "gauge-clamping-force": "low"}
    answer = ask(library, UNIT, seen=["tool-pull-out"], readings=readings)
    assert ranked(answer)[0] == "disc-spring-stack:settled"
    assert gained(answer, "disc-spring-stack") > 2 * gained(answer, "drawbar")
    assert gained(answer, "pump", "accumulator", "hydraulic-valve", "taper-purge-valve") < 0.0


def test_a_stuck_spool_does_not_return(library):
    """A spool that stays in the release position keeps the front side full: no return (common practice)."""
    assert shows(library, UNIT, "hydraulic-valve:spool-stays")["no-return"] > 0.9
    assert shows(library, UNIT, "hydraulic-valve:spool-stuck")["no-release"] > 0.9
    answer = ask(library, UNIT, seen=["no-return"], readings={"operate-hydraulic-valve-by-hand": "stays"})
    assert ranked(answer)[0] == "hydraulic-valve:spool-stays"


def test_dirty_oil_stands_behind_a_sticking_spool(library):
    """Slow both ways and a sticking override raise dirt in the oil as the common cause (common practice)."""
    answer = ask(
        library, UNIT, seen=["slow-release", "slow-return"], readings={"operate-hydraulic-valve-by-hand": "sticks"}
    )  # fmt: skip
    dirt = next(c for c in answer.root_conditions if c.id == "dirty-oil")
    assert leading(answer)[0] == "hydraulic-valve"
    assert dirt.probability > 1.5 * dirt.prior


def test_a_missing_purge_leaves_chips_on_the_taper(library):
    """No air at tool change raises a dirty taper, and with vibration it leads (common practice)."""
    answer = ask(library, UNIT, seen=["no-taper-purge", "vibration-while-running"])
    assert ranked(answer)[0] == "spindle-taper:dirty"
    assert chance(answer, "spindle-taper:dirty") > 0.6
    assert gained(answer, "taper-purge-valve", "filter", "supply-regulator", "shut-off-valve", "controller") > 0.5


def test_accumulator_and_coolant_are_warned_of(library):
    """The stored energy of the accumulator and the coolant jet stand on every answer for this unit."""
    shown = {caution.id for caution in ask(library, UNIT, seen=["no-release"]).cautions}
    assert {"caution-accumulator", "caution-injection-injury", "caution-hot-oil", "caution-coolant-pressure"} <= shown
