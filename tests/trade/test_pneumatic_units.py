"""Facts of the trade for the pneumatic units: common practice, with no published source."""

import pytest

from clampgraph.answers.diagnosing.diagnose import diagnose
from clampgraph.answers.diagnosing.diagnosis import DiagnoseRequest, DiagnosisAnswer
from clampgraph.answers.library import Library
from clampgraph.diagnosis.inference import posteriors

TANDEM = "brannoch-40t"
SINGLE = "brannoch-30s"
APPROACH = {"approach-valve", "approach-regulator", "check-valve"}
FULL_PRESSURE = {"main-valve", "supply-regulator", "shut-off-valve"}
EXHAUST = {"quick-exhaust-valve", "silencer"}


@pytest.fixture(scope="module")
def library() -> Library:
    return Library.open()


def ask(library: Library, assembly: str, **found: object) -> DiagnosisAnswer:
    return diagnose(library, DiagnoseRequest.model_validate({"assembly": assembly, "all": True, **found}))


def weight(answer: DiagnosisAnswer, positions: set[str]) -> float:
    return sum(c.probability - c.prior for c in answer.causes if c.position in positions)


def top(answer: DiagnosisAnswer, count: int) -> list[str]:
    return [c.position for c in answer.causes[:count]]


def predicted(library: Library, assembly: str, cause: str, symptom: str) -> float:
    """Probability of a symptom when one failure mode is present and everything else is sound."""
    unit = library.assembly(assembly)
    network = library.network(unit)
    plan = library.plan(unit, network, {}, [f"symptom/{symptom}"])
    sound = {n.id: False for n in network if n.kind in ("failure-mode", "condition")}
    return posteriors(plan, {**sound, cause: True})[f"symptom/{symptom}"]


def test_no_approach_flow_explains_a_bang(library: Library) -> None:
    """A dead approach valve makes the machine bang nearly always, a dead main valve does not."""
    assert predicted(library, TANDEM, "approach-valve:stuck-shut", "bang-at-release") > 0.8
    assert predicted(library, TANDEM, "check-valve:stuck-shut", "bang-at-release") > 0.8
    assert predicted(library, TANDEM, "main-valve:stuck-shut", "bang-at-release") < 0.01


def test_a_bang_points_to_the_approach_path_before_full_pressure(library: Library) -> None:
    """Seen a bang, the approach path gains several times what the full-pressure path gains."""
    answer = ask(library, TANDEM, seen=["bang-at-release"])
    assert weight(answer, APPROACH) > 3 * weight(answer, FULL_PRESSURE)


def test_valves_come_before_seals_and_springs_in_a_bang(library: Library) -> None:
    """The usual culprits are valves: they outweigh piston seal and return spring."""
    answer = ask(library, TANDEM, seen=["bang-at-release"])
    valves = weight(answer, APPROACH | {"main-valve", "quick-exhaust-valve"})
    assert valves > 3 * weight(answer, {"piston-seal", "return-spring"})


def test_absent_approach_pressure_puts_the_approach_path_first(library: Library) -> None:
    """A bang with no approach movement under the manual override leaves a valve of the approach path."""
    answer = ask(library, TANDEM, seen=["bang-at-release"], readings={"operate-approach-valve-by-hand": "absent"})
    assert set(top(answer, 2)) <= {"approach-valve", "check-valve"}


def test_slow_return_without_a_bang_points_to_the_exhaust_path(library: Library) -> None:
    """The exhaust path leads, and the approach path is not suspected at all."""
    answer = ask(library, TANDEM, seen=["slow-return"], unseen=["bang-at-release"])
    assert set(top(answer, 2)) <= EXHAUST
    assert weight(answer, APPROACH) < 0.05


def test_slow_both_ways_with_a_wet_exhaust_is_wet_air(library: Library) -> None:
    """Wet air is the most probable root condition, and a valve or the piston seal leads the causes."""
    answer = ask(library, TANDEM, seen=["slow-release", "slow-return", "water-or-oil-at-exhaust"])
    assert answer.root_conditions[0].id == "wet-air"
    assert answer.root_conditions[0].probability > 0.5
    assert answer.causes[0].position in {"piston-seal", "main-valve", "quick-exhaust-valve"}


def test_the_root_condition_is_named_beside_the_failed_item(library: Library) -> None:
    """Whoever reads the first cause also reads that wet air promotes it."""
    answer = ask(library, TANDEM, seen=["slow-release", "slow-return", "water-or-oil-at-exhaust"])
    assert answer.causes[0].promoted_by[0].condition == "wet-air"


def test_slow_both_ways_in_dry_air_is_the_piston_seal(library: Library) -> None:
    """A dragging seal is slow down and slow back; it leads once the gauge, the exhaust and the air are sound."""
    answer = ask(
        library,
        TANDEM,
        seen=["slow-release", "slow-return"],
        unseen=["water-or-oil-at-exhaust", "pressure-drop-at-release", "intermittent-release"],
        readings={"operate-main-valve-by-hand": "normal", "listen-at-silencer": "normal"},
    )
    assert answer.causes[0].position == "piston-seal"


def test_released_but_not_confirmed_is_the_switch(library: Library) -> None:
    """A tool that comes out although the controller waits points to the unclamp switch."""
    answer = ask(library, TANDEM, seen=["release-not-confirmed"], unseen=["no-release", "partial-release"])
    assert set(top(answer, 2)) == {"unclamp-switch"}


def test_moved_but_not_seen_settles_the_switch(library: Library) -> None:
    """Watching rod and inputs separates 'did not move' from 'moved but was not seen'."""
    moved = ask(library, TANDEM, seen=["release-not-confirmed"], readings={"read-switch-states": "unclamp-not-seen"})
    stuck = ask(library, TANDEM, seen=["release-not-confirmed"], readings={"read-switch-states": "did-not-move"})
    assert set(top(moved, 2)) == {"unclamp-switch"}
    assert "unclamp-switch" not in top(stuck, 3)


def test_the_switch_check_comes_early(library: Library) -> None:
    """For an unconfirmed release, watching rod and switch is among the first three checks."""
    answer = ask(library, TANDEM, seen=["release-not-confirmed"])
    assert "read-switch-states" in [c.check for c in answer.next_checks[:3]]


@pytest.mark.parametrize("unit", [TANDEM, SINGLE])
def test_hiss_only_while_held(unit: str, library: Library) -> None:
    """It points to the quick exhaust valve or the piston seal, not to a valve seat."""
    answer = ask(library, unit, seen=["hiss-while-held"], unseen=["hiss-at-rest"])
    assert answer.causes[0].position in {"piston-seal", "quick-exhaust-valve"}
    assert weight(answer, {"main-valve", "approach-valve"}) < 0.05


@pytest.mark.parametrize("unit", [TANDEM, SINGLE])
def test_hiss_at_rest(unit: str, library: Library) -> None:
    """It points to a valve seat."""
    answer = ask(library, unit, seen=["hiss-at-rest"])
    assert answer.causes[0].failure_mode == "seat-leaks"


def test_a_unit_without_approach_stage_never_blames_one(library: Library) -> None:
    """No cause, path step or check of the single-piston unit speaks of an approach."""
    answer = ask(library, SINGLE, seen=["bang-at-release"])
    assert "approach" not in answer.model_dump_json()


def test_a_blocked_silencer_slows_the_return_only(library: Library) -> None:
    """Influence on reclamp runs from the atmosphere to the chamber, so release is untouched."""
    assert predicted(library, TANDEM, "silencer:clogged", "slow-return") > 0.7
    assert predicted(library, TANDEM, "silencer:clogged", "slow-release") < 0.01


def test_drag_unscrews_a_right_hand_bolt_only(library: Library) -> None:
    """Rubbing makes a loose bolt many times likelier in the first generation, not in the second."""
    chance = {}
    for generation in ("gen-1", "gen-2"):
        rubbing = ask(library, TANDEM, generation=generation, seen=["rubbing-while-running", "no-return"])
        chance[generation] = next(c.probability for c in rubbing.causes if c.failure_mode == "loosened")
    assert chance["gen-1"] > 3 * chance["gen-2"]


def test_a_rod_that_stays_out_rubs(library: Library) -> None:
    """A broken return spring ends as rubbing while the spindle runs: a state handed over to a later phase."""
    assert predicted(library, TANDEM, "return-spring:broken", "rubbing-while-running") > 0.5


def test_lost_tools_with_sound_air_point_to_the_spindle(library: Library) -> None:
    """Stack, gripper and pull stud share the symptom, whatever the valves do."""
    answer = ask(library, TANDEM, seen=["tool-pull-out"], readings={"read-supply-pressure": "normal"})
    assert set(top(answer, 4)) <= {"gripper", "disc-spring-stack", "pull-stud", "drawbar"}


def test_low_force_and_lost_tools_point_to_the_stack(library: Library) -> None:
    """A low gauge reading moves the suspicion from the gripper to the disc springs."""
    answer = ask(library, TANDEM, seen=["tool-pull-out"], readings={"gauge-clamping-force": "low"})
    assert answer.causes[0].position == "disc-spring-stack"


def test_normal_force_and_lost_tools_point_to_gripper_or_stud(library: Library) -> None:
    """With full clamping force the tool is lost by what holds it."""
    answer = ask(library, TANDEM, seen=["tool-pull-out"], readings={"gauge-clamping-force": "normal"})
    assert set(top(answer, 2)) <= {"gripper", "pull-stud"}


def test_an_old_valve_is_suspected_more(library: Library) -> None:
    """Age raises a valve in the ranking."""
    young = ask(library, TANDEM, seen=["slow-release"], ages={"main-valve": 0.2})
    old = ask(library, TANDEM, seen=["slow-release"], ages={"main-valve": 15.0})
    assert weight_of(old, "main-valve:sluggish") > 5 * weight_of(young, "main-valve:sluggish")
    assert old.causes[0].position == "main-valve"


def weight_of(answer: DiagnosisAnswer, node: str) -> float:
    return next(c.probability for c in answer.causes if c.node == node)


def test_a_gauge_that_falls_points_upstream_of_it(library: Library) -> None:
    """Pressure that collapses at release is starved flow: filter, shut-off valve, regulator or the plant."""
    answer = ask(library, TANDEM, seen=["slow-release", "pressure-drop-at-release"])
    assert answer.causes[0].position in {"filter", "shut-off-valve", "supply-regulator"}


def test_a_strange_case_is_admitted(library: Library) -> None:
    """Findings that no fault joins are mostly unexplained when each could come alone."""
    usual = ask(library, TANDEM, seen=["bang-at-release"])
    strange = ask(library, SINGLE, seen=["bang-at-release"], readings={
        "read-supply-pressure": "normal", "feeler-gap-at-rest": "normal", "dial-push-out": "normal",
    })  # fmt: skip
    assert usual.unexplained < 0.05
    assert strange.unexplained > 0.4
