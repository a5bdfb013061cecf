"""Cut sets and top-event probabilities against the Fault Tree Handbook and against an independent library."""

import faultree
import pytest
from tests.diagnosis.referee import full_tree, structure, top_probability

from clampgraph.diagnosis.fault_tree import basic_events, fault_tree, structural_probability
from clampgraph.diagnosis.network import Link, Network, Node
from clampgraph.diagnosis.relevance import upstream

FEW_EVENTS = 45
"""Above this many events the library's decision diagram of a whole tree takes more than a second or two."""


def gate(name, kind, *inputs):
    return Node(name, "deviation", 0.0, tuple(Link(i, 1.0) for i in inputs), kind)


@pytest.fixture
def tank():
    """Return the pressure tank of NUREG-0492, chapter VIII, with the figures of NASA's handbook of 2002."""
    chances = {"T": 5e-6, "K2": 3e-5, "S": 1e-4, "S1": 3e-5, "K1": 5e-6, "R": 1e-4}
    events = [Node(name, "failure-mode", chance) for name, chance in chances.items()]
    gates = [gate("E5", "or", "S1", "K1", "R"), gate("E3", "and", "S", "E5"), gate("E2", "or", "K2", "E3")]
    return Network((*events, *gates, gate("E1", "or", "T", "E2")))


def test_pressure_tank_has_the_cut_sets_of_the_handbook(tank):
    """NUREG-0492, chapter VIII: T, K2 and S with each of S1, K1, R."""
    found = fault_tree(tank, "E1", order=6)
    assert {cut.events for cut in found.cut_sets} == {("T",), ("K2",), ("S", "S1"), ("K1", "S"), ("R", "S")}


def test_pressure_tank_has_the_top_probability_of_the_handbook(tank):
    """NASA Fault Tree Handbook 2002: 3.5013348120867e-5, whose last digits are rounded (3e-8 relative)."""
    found = fault_tree(tank, "E1")
    assert found.probability == pytest.approx(3.5013348120867e-5, rel=1e-6)
    assert found.probability == pytest.approx(top_probability(full_tree(tank, "E1")), rel=1e-12)


def test_pressure_tank_has_the_importance_that_another_program_gives(tank):
    """Figures of pfta 0.4.0 for Birnbaum, criticality, RAW and RRW, to the digits it prints."""
    found = {i.event: i for i in fault_tree(tank, "E1").importance}
    assert found["K2"].birnbaum == pytest.approx(0.999995, abs=5e-7)
    assert found["T"].birnbaum == pytest.approx(0.99997, abs=5e-6)
    assert found["S"].birnbaum == pytest.approx(1.3499e-4, rel=1e-4)
    assert found["K2"].fussell_vesely == pytest.approx(0.856812, abs=1e-6)
    assert found["T"].fussell_vesely == pytest.approx(0.142798, abs=1e-6)
    assert found["S"].raw == pytest.approx(4.8550, abs=1e-4)
    assert found["K2"].rrw == pytest.approx(6.98381, rel=1e-5)
    assert found["T"].rrw == pytest.approx(1.16659, rel=1e-5)


@pytest.fixture
def networks(library):
    return [library.network(library.assembly(name)) for name in sorted(library.assemblies)]


def test_cut_sets_of_every_assembly_equal_those_of_faultree(networks):
    """Minimal cut sets of every symptom of every demo assembly, up to two causes."""
    for network in networks:
        for symptom in network.of_kind("symptom"):
            judge = faultree.minimal_cut_sets(
                structure(network, symptom.id),
                max_order=2, max_candidates=10**6, max_sets=10**6, max_basic_events=10**4,
            )  # fmt: skip
            ours = {frozenset(cut.events) for cut in fault_tree(network, symptom.id, 2).cut_sets}
            assert ours == {frozenset(cut) for cut in judge["cut_sets"]}, f"{symptom.id} of {network.place}"


def test_structural_probability_of_every_assembly_equals_that_of_faultree(networks):
    """The structure function of every symptom of every demo assembly."""
    for network in networks:
        for symptom in network.of_kind("symptom"):
            judge = top_probability(structure(network, symptom.id))
            assert structural_probability(network, symptom.id) == pytest.approx(judge, rel=1e-12)


def test_top_probability_with_strengths_and_leaks_equals_that_of_faultree(networks):
    """Whole trees, with an event for each imperfect link and leak, wherever they have few events."""
    judged = 0
    for network in networks:
        for symptom in network.of_kind("symptom"):
            if _events(network, symptom.id) <= FEW_EVENTS:
                judge = top_probability(full_tree(network, symptom.id))
                assert fault_tree(network, symptom.id).probability == pytest.approx(judge, rel=1e-12)
                judged += 1
    assert judged >= 5 * len(networks)


def _events(network, top):
    part = upstream(network, [top])
    imperfect = sum(0.0 < link.strength < 1.0 for node in part for link in node.links)
    return len(basic_events(part)) + imperfect
