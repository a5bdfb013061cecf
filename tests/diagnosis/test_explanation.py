"""Paths, joint explanations and the unexplained share, against lists of everything."""

import itertools
import math

import networkx as nx
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from clampgraph.diagnosis.explanation import influence_paths, unexplained
from clampgraph.diagnosis.inference import compile_network, plan_findings, posteriors
from clampgraph.diagnosis.joint import joint_explanations
from clampgraph.diagnosis.network import Link, Network, Node
from clampgraph.diagnosis.relevance import causes_of
from diagnosis.inference.worlds import networks, worlds

chances = st.floats(0.01, 0.99)


@st.composite
def diagnoses(draw):
    """Draw a small network of failure modes, one layer between, and symptoms that are noisy-ORs."""
    modes = [Node(f"m{i}", "failure-mode", draw(chances)) for i in range(draw(st.integers(1, 5)))]
    names = [node.id for node in modes]
    middle = [node_over(draw, f"d{i}", "deviation", 0.0, names) for i in range(draw(st.integers(0, 2)))]
    names += [node.id for node in middle]
    symptoms = [node_over(draw, f"s{i}", "symptom", draw(chances), names) for i in range(draw(st.integers(1, 3)))]
    return Network((*modes, *middle, *symptoms))


def node_over(draw, name, kind, leak, names):
    parents = draw(st.lists(st.sampled_from(names), min_size=1, max_size=3, unique=True))
    return Node(name, kind, leak, tuple(Link(parent, draw(chances)) for parent in parents))


def findings_for(draw, network):
    symptoms = [node.id for node in network.of_kind("symptom")]
    seen = draw(st.lists(st.sampled_from(symptoms), min_size=1, unique=True))
    rest = [s for s in symptoms if s not in seen]
    return dict.fromkeys(seen, True) | {s: False for s in rest if draw(st.booleans())}, seen


def listed(network, evidence, modes):
    """Return the probability of every assignment of the failure modes, by the list of all worlds."""
    found = {}
    total = 0.0
    for world, chance in worlds(network):
        if all(world[name] == state for name, state in evidence.items()):
            faults = tuple(sorted(mode for mode in modes if world[mode]))
            found[faults] = found.get(faults, 0.0) + chance
            total += chance
    return {faults: chance / total for faults, chance in found.items()}


def test_nothing_to_explain():
    """Without modes there is no explanation; without findings nothing is unexplained and no path is told."""
    network = Network((Node("m", "failure-mode", 0.1), Node("s", "symptom", 0.1, (Link("m", 0.5),))))
    plan = compile_network(network)
    assert joint_explanations(plan, {}, posteriors(plan, {}), []) == ()
    assert unexplained(plan, network, {}, []) == (0.0, {})
    assert influence_paths(network, []) == {}


def test_a_finding_without_causes():
    """A symptom that nothing leads to has no path and is wholly unexplained."""
    network = Network((Node("m", "failure-mode", 0.1), Node("s", "symptom", 0.1)))
    plan = compile_network(network)
    assert influence_paths(network, ["s"]) == {"s": {}}
    together, each = unexplained(plan, network, {"s": True}, ["s"])
    assert together == each["s"] == pytest.approx(1.0, abs=1e-12)


@settings(max_examples=60)
@given(network=diagnoses(), data=st.data(), count=st.integers(1, 6))
def test_joint_explanations_are_the_most_probable_ones(network, data, count):
    """They are the first entries of the list of all assignments, in order, with their exact probabilities."""
    evidence, _ = findings_for(data.draw, network)
    modes = [node.id for node in network.of_kind("failure-mode")]
    plan = compile_network(network)
    found = joint_explanations(plan, evidence, posteriors(plan, evidence), modes, count)
    everything = listed(network, evidence, modes)
    best = sorted(everything.values(), reverse=True)[: len(found)]
    assert len(found) >= min(count, len(modes) + 1)
    assert len({e.faults for e in found}) == len(found)
    assert [e.probability for e in found] == pytest.approx(best, abs=1e-12)
    for explanation in found:
        assert explanation.probability == pytest.approx(everything[explanation.faults], abs=1e-12)


@pytest.mark.parametrize(
    "seen", [["hiss-at-rest"], ["slow-release", "short-push-out"], ["no-release", "tool-pull-out"]]
)
def test_no_set_of_three_faults_of_a_unit_is_missed(library, seen):
    """Of all sets of up to three faults that could explain findings at a unit, those told are the most probable."""
    network = library.network(library.assembly("brannoch-30s"))
    evidence = {node.id: True for node in network.of_kind("symptom") if node.symptom in seen}
    assert len(evidence) == len(seen)
    above = causes_of(network, list(evidence))
    modes = [node.id for node in network.of_kind("failure-mode") if node.id in above]
    causes = [node.id for node in network if node.kind in ("condition", "failure-mode")]
    plan = plan_findings(network, causes, list(evidence))
    sets = [faults for size in range(4) for faults in itertools.combinations(modes, size)]
    rows = plan.evidence([evidence | dict.fromkeys(modes, False) | dict.fromkeys(faults, True) for faults in sets])
    chances = plan.likelihood(rows) / plan.likelihood(plan.evidence([evidence]))
    told = joint_explanations(plan, evidence, posteriors(plan, evidence), modes)
    listed = {e.faults: e.probability for e in told}
    everything = dict(zip(map(tuple, map(sorted, sets)), chances.tolist(), strict=True))
    assert [listed[faults] for faults in listed] == pytest.approx([everything[faults] for faults in listed], abs=1e-12)
    others = max(chance for faults, chance in everything.items() if faults not in listed)
    assert others <= min(listed.values()) + 1e-12
    assert len(listed) == 5


@settings(max_examples=60)
@given(network=diagnoses(), data=st.data())
def test_unexplained_is_what_the_leaks_did(network, data):
    """It equals the sum over all worlds of the chance that no active link reached a finding that was seen."""
    evidence, seen = findings_for(data.draw, network)
    plan = compile_network(network)
    together, each = unexplained(plan, network, evidence, seen)
    total, silent_all, silent = 0.0, 0.0, dict.fromkeys(seen, 0.0)
    for world, chance in worlds(network):
        if not all(world[name] == state for name, state in evidence.items()):
            continue
        total += chance
        alone = {}
        for name in seen:
            node = network.by_id[name]
            off = math.prod(1.0 - link.strength for link in node.links if world[link.parent])
            alone[name] = node.leak * off / (1.0 - (1.0 - node.leak) * off)
            silent[name] += chance * alone[name]
        silent_all += chance * math.prod(alone.values())
    assert each == pytest.approx({name: value / total for name, value in silent.items()}, abs=1e-12)
    assert together == pytest.approx(silent_all / total, abs=1e-12)
    assert together <= min(each.values()) + 1e-12


@settings(max_examples=60)
@given(network=networks(largest=8, chance=st.floats(0.01, 1.0)), data=st.data())
def test_paths_are_the_strongest_of_all_simple_paths(network, data):
    """For every node upstream of a finding, the path told is as strong as the strongest of all simple paths."""
    finding = data.draw(st.sampled_from([node.id for node in network]))
    graph = nx.DiGraph()
    graph.add_nodes_from(node.id for node in network)
    for node in network:
        for link in node.links:
            strength = node.strength if node.gate == "and" else link.strength
            if strength > 0.0:
                graph.add_edge(link.parent, node.id, strength=strength)
    assume(graph.in_degree(finding))
    paths = influence_paths(network, [finding])[finding]
    assert set(paths) == nx.ancestors(graph, finding) | {finding}
    for cause, steps in paths.items():
        assert (steps[0].node.id, steps[-1].node.id) == (cause, finding)
        for first, second in itertools.pairwise(steps):
            edge = graph.edges[first.node.id, second.node.id]
            assert second.strength == edge["strength"]
        told = math.prod(step.strength for step in steps)
        every = nx.all_simple_paths(graph, cause, finding)
        best = max(
            (math.prod(graph.edges[e]["strength"] for e in itertools.pairwise(trail)) for trail in every),
            default=1.0,
        )
        assert told == pytest.approx(best, rel=1e-6)


def test_of_two_equal_paths_the_shorter_is_told():
    """A detour of certain links is not preferred to the direct one."""
    network = Network(
        (
            Node("m", "failure-mode", 0.1),
            Node("d", "deviation", 0.0, (Link("m", 1.0),)),
            Node("s", "symptom", 0.0, (Link("d", 0.5), Link("m", 0.5))),
        )
    )
    assert [step.node.id for step in influence_paths(network, ["s"])["s"]["m"]] == ["m", "s"]
