"""From rates to probabilities."""

import math
from dataclasses import replace

import pytest

from clampgraph.assembly.influence import Influence, InfluenceNode
from clampgraph.diagnosis.derive import network_of
from clampgraph.diagnosis.inference import compile_network, posteriors
from clampgraph.diagnosis.relevance import causes_of, upstream


@pytest.fixture(scope="module")
def graph(library):
    """Return the influence graph of the tandem unit."""
    return library.influence(library.assembly("brannoch-40t"))


def test_priors_follow_from_rate_and_age(graph, knowledge):
    """A failure mode of rate r at an item t years old has the prior 1 - exp(-r t); the default age elsewhere."""
    network = network_of(graph, knowledge, {"piston-seal": 11.0, "rod": 0.0})
    for node in network.of_kind("failure-mode"):
        years = {"piston-seal": 11.0, "rod": 0.0}.get(node.position, 3.0)
        rate = graph.assembly.positions[node.position].type.modes[node.failure_mode].rate
        assert node.leak == pytest.approx(1.0 - math.exp(-rate * years), abs=1e-15)


def test_promotion_multiplies_the_rate(graph, knowledge):
    """While its promoter is on, a failure mode is as probable as at the multiplied rate, exactly."""
    network = network_of(graph, knowledge)
    mode = next(n for n in network.of_kind("failure-mode") if n.id == "piston-seal:swollen")
    (promoter,) = mode.links
    plan = compile_network(upstream(network, [mode.id]))
    found = posteriors(plan, {promoter.parent: True})
    known = knowledge.types["piston-seal"].modes["swollen"]
    (promotion,) = known.promotions
    assert found[mode.id] == pytest.approx(1.0 - math.exp(-known.rate * promotion.factor * 3.0), abs=1e-14)


def test_a_new_part_is_beyond_suspicion(graph, knowledge):
    """At age 0 nothing promotes a failure either: it cannot have happened yet."""
    network = network_of(graph, knowledge, {"piston-seal": 0.0})
    plan = compile_network(upstream(network, ["piston-seal:swollen", "piston-seal:worn"]))
    found = posteriors(plan, {"condition/wet-air": True, "condition/dirty-air": True})
    assert found["piston-seal:swollen"] == found["piston-seal:worn"] == 0.0


def test_probability_grows_with_age(graph, knowledge):
    """The older the item, the more probable each of its failures."""
    chances = []
    for years in (0.5, 3.0, 12.0, 40.0):
        network = network_of(graph, knowledge, {"main-valve": years})
        chances.append(posteriors(compile_network(upstream(network, ["main-valve:sluggish"])), {}))
    told = [found["main-valve:sluggish"] for found in chances]
    assert told == sorted(set(told))


def test_links_from_one_parent_merge(graph, knowledge):
    """Two links from one parent act as one that fails only when both do, and keep the stronger claim."""
    nodes = {
        name: InfluenceNode(name, kind, position=position, name=name.rpartition(":")[2].rpartition("/")[2])
        for name, kind, position in (("rod:bent", "failure-mode", "rod"), ("symptom/no-return", "symptom", None))
    }
    links = (
        Influence("rod:bent", "symptom/no-return", 0.3, "urn:weak"),
        Influence("rod:bent", "symptom/no-return", 0.5, "urn:strong"),
    )
    network = network_of(replace(graph, nodes=nodes, influences=links), knowledge)
    (link,) = network.by_id["symptom/no-return"].links
    assert link.strength == pytest.approx(1.0 - 0.7 * 0.5, abs=1e-15)
    assert link.claim == "urn:strong"


def test_leaks_are_those_of_the_pack(graph, knowledge):
    """Symptoms, outcomes and conditions keep the figures of the knowledge pack; deviations have no leak."""
    for node in network_of(graph, knowledge):
        if node.kind == "symptom":
            assert node.leak == knowledge.symptoms[node.symptom].leak
        elif node.kind == "condition":
            assert node.leak == knowledge.conditions[node.id.partition("/")[2]].prior
        elif node.kind == "check":
            outcomes = knowledge.checks[node.check.partition("@")[0]].outcomes
            assert node.leak in {o.false_alarm for o in outcomes if o.id == node.id.rpartition("/")[2]}
        elif node.kind == "deviation":
            assert node.leak == 0.0


def test_cutting_down_keeps_every_posterior(graph, knowledge):
    """What is not upstream of a question can be left out without changing an answer."""
    network = network_of(graph, knowledge)
    evidence = {"symptom/slow-return": True, "symptom/bang-at-release": False}
    assert causes_of(network, []) == frozenset()
    assert len(upstream(network, [])) == 0
    small, large = (posteriors(compile_network(n), evidence) for n in (upstream(network, evidence), network))
    assert len(small) < len(large)
    assert small == pytest.approx({name: large[name] for name in small}, abs=1e-12)
