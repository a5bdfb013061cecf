"""Small steps of influence: phases, what a position passes on, and who feeds whom."""

from dataclasses import replace

import pytest

from assembly.topologies import Circuit, Shape, build
from clampgraph.assembly import derive
from clampgraph.assembly.deviations import Joints, local_steps, phases_of
from clampgraph.assembly.knowledge import Effect, FailureMode, Pass, Pattern

ORDER = ("clamped", "release", "held", "reclamp")


@pytest.fixture
def valve(knowledge):
    """Return a main valve, driven while the tool is released and held."""
    circuit = Circuit(knowledge)
    return circuit.positions[circuit.place("main-valve", ("release", "held"))]


@pytest.mark.parametrize(
    ("phase", "expected"),
    [
        ("any", ORDER),
        ("always", ("always",)),
        ("held", ("held",)),
        ("approach", ()),
        ("while-actuated", ("release", "held")),
        ("while-not-actuated", ("clamped", "reclamp")),
    ],
)
def test_phases_of(valve, phase, expected):
    """A set of phases is expanded in the order of the cycle; a phase the assembly lacks is none."""
    assert phases_of(phase, valve, ORDER) == expected


def test_steps_stay_in_the_cycle(valve):
    """Every step begins and ends in a phase of the cycle, or is lasting."""
    steps = list(local_steps(valve, ORDER))
    assert steps
    for step in steps:
        assert {step.cause.phase, step.effect.phase} <= {*ORDER, "always"}
        assert step.cause.position == step.effect.position == "main-valve"


def test_a_state_is_handed_to_a_later_phase_only_if_there_is_one(knowledge):
    """A short approach leads to a strike at release; without an approach phase the step is absent."""
    circuit = Circuit(knowledge)
    piston = circuit.positions[circuit.place("piston")]
    handed = {(s.cause.phase, s.effect.phase) for s in local_steps(piston, ("clamped", "approach", "release"))}
    assert ("approach", "release") in handed
    assert not [s for s in local_steps(piston, ORDER) if s.cause.phase == "approach"]


def test_unknown_ports_join_nothing(knowledge):
    """A connection to a port that the type does not have carries nothing."""
    circuit = Circuit(knowledge)
    circuit.join((circuit.place("air-supply"), "out"), (circuit.place("filter"), "99"))
    joints = Joints(circuit.assembly(), knowledge)
    assert joints.takers("air-supply", "out", "pressure") == []
    assert joints.feeds("release", "filter", "1", "pressure") == []


def test_feeds_are_live_only_while_the_valve_is_driven(knowledge):
    """Main and approach valve meet at one port, but in each phase only the driven one feeds it."""
    assembly = build(knowledge, Shape(("filter",), exhausts=1, approach=True))
    joints = Joints(assembly, knowledge)
    meeting = "quick-exhaust-valve", "1", "pressure"
    assert joints.feeds("approach", *meeting) == [("check-valve", "2")]
    assert joints.feeds("release", *meeting) == [("main-valve", "2")]
    assert joints.feeds("clamped", *meeting) == []


def test_twin_feeds_are_sorted_and_counted_once(knowledge):
    """Two valves feed one chamber; a joint written twice is still one feed."""
    assembly = build(knowledge, Shape(mains=2))
    twice = replace(assembly, connections=(*assembly.connections[::-1], *assembly.connections))
    feeds = Joints(twice, knowledge).feeds("release", "barrel", "A", "pressure")
    assert feeds == [("main-valve", "2"), ("main-valve-2", "2")]


def test_an_open_end_vents_to_the_atmosphere(knowledge):
    """A valve whose exhaust port is joined to nothing can vent; one plugged by a dead port cannot."""
    circuit = Circuit(knowledge)
    circuit.join((circuit.place("main-valve", ("release", "held")), "2"), (circuit.place("barrel"), "A"))
    free = Joints(circuit.assembly(), knowledge)
    assert free.feeds("reclamp", "barrel", "A", "vent") == [("main-valve", "2")]
    circuit.join(("main-valve", "3"), (circuit.place("filter"), "1"))
    plugged = Joints(circuit.assembly(), knowledge)
    assert plugged.feeds("reclamp", "barrel", "A", "vent") == []


def test_a_failed_part_passes_from_each_of_its_ports(knowledge):
    """What a failure lets through from two ports needs the failure and one of the ports, not both."""
    circuit = Circuit(knowledge)
    valve = circuit.place("quick-exhaust-valve")
    kind = circuit.positions[valve].type
    torn = {"torn": FailureMode("urn:torn", "torn", "torn", "wear", 0.1, 5, "s")}
    wet = [Pattern(port, "moisture", "as-well-as", "always") for port in ("1", "3")]
    passes = tuple(Pass(f"urn:pass-{p.port}", p, "2", 1.0, "torn", "s") for p in wet)
    wetted = tuple(Effect(f"urn:wet-{p.port}", p, 1.0, "s") for p in wet)
    modes = torn | {
        f"wet-{p.port}": FailureMode(f"urn:{p.port}", f"wet-{p.port}", "", "wear", 0.1, 5, "s", (effect,))
        for p, effect in zip(wet, wetted, strict=True)
    }
    circuit.positions[valve] = replace(circuit.positions[valve], type=replace(kind, passes=passes, modes=modes))
    circuit.join((valve, "2"), (circuit.place("silencer"), "1"))
    graph = derive(circuit.assembly(), knowledge)
    gates = [name for name, node in graph.nodes.items() if node.gate == "and"]
    into = {gate: {link.cause for link in graph.influences if link.effect == gate} for gate in gates}
    assert sorted(map(sorted, into.values())) == [
        [f"always/{valve}.1/moisture/as-well-as", f"{valve}:torn"],
        [f"always/{valve}.3/moisture/as-well-as", f"{valve}:torn"],
    ]
