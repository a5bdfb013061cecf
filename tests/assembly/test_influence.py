"""The derived influence graph: what must hold on every topology, drawn or generated."""

from dataclasses import replace

import networkx as nx
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from assembly.topologies import LINE_TYPES, Circuit, Shape, build, grown, joined, quiet, shapes, shuffled
from clampgraph.assembly import derive
from clampgraph.diagnosis.derive import network_of
from clampgraph.diagnosis.inference import compile_network, posteriors
from clampgraph.diagnosis.relevance import upstream
from clampgraph.errors import CycleError

SERVICE_UNIT = ("shut-off-valve", "filter", "supply-regulator", "lubricator")


def symptoms_given(network, *faults, also=()):
    """Return the probability of every symptom when these faults are present and nothing else is."""
    symptoms = [node.id for node in network.of_kind("symptom")]
    causes = [node.id for node in network if node.kind in ("failure-mode", "condition")]
    plan = compile_network(upstream(network, [*symptoms, *causes, *also]))
    found = posteriors(plan, quiet(network, *faults))
    return {node.partition("/")[2]: found[node] for node in (*symptoms, *also)}


def check_sound(graph):
    """Hold a graph to what every influence graph promises."""
    digraph = nx.DiGraph((link.cause, link.effect) for link in graph.influences)
    digraph.add_nodes_from(graph.nodes)
    assert set(digraph) == set(graph.nodes)
    assert nx.is_directed_acyclic_graph(digraph)
    kinds = {name: node.kind for name, node in graph.nodes.items()}
    causes = {name for name, kind in kinds.items() if kind in ("condition", "failure-mode")}
    signs = {name for name, kind in kinds.items() if kind in ("symptom", "check")}
    for name, node in graph.nodes.items():
        assert name in signs or nx.descendants(digraph, name) & signs, f"{name} shows in nothing"
        assert name in causes or nx.ancestors(digraph, name) & causes, f"{name} comes from nothing"
        assert (node.position in graph.assembly.positions) == (node.kind in ("failure-mode", "deviation"))
        if node.gate == "and":
            assert all(link.strength == 1.0 for link in graph.influences if link.effect == name)
    assert all(0.0 <= link.strength <= 1.0 for link in graph.influences)
    assert not set(graph.silent) & set(graph.nodes)


def test_nothing_joined(knowledge):
    """Positions without connections influence nothing outside themselves."""
    circuit = Circuit(knowledge)
    circuit.place("piston-seal")
    circuit.place("silencer")
    graph = derive(circuit.assembly(), knowledge)
    check_sound(graph)
    told = {link.cause.partition(":")[0] for link in graph.influences if ":" in link.cause}
    assert told == {"piston-seal", "silencer"}
    assert not [n for n in graph.nodes.values() if n.deviation and n.deviation.quantity == "moisture"]


def test_no_positions(knowledge):
    """An assembly without positions has an empty graph."""
    graph = derive(Circuit(knowledge).assembly(), knowledge)
    assert graph.nodes == {}
    assert graph.influences == graph.silent == ()


@settings(max_examples=40)
@given(shape=shapes)
def test_generated_graphs_are_sound(library, shape):
    """Every generated circuit derives to an acyclic graph in which everything has a cause and shows somewhere."""
    assembly = build(library.knowledge, shape)
    graph = derive(assembly, library.knowledge)
    check_sound(graph)
    network = network_of(graph, library.knowledge)
    assert [node.id for node in network] == list(dict.fromkeys(node.id for node in network))
    before = set()
    for node in network:
        assert {link.parent for link in node.links} <= before
        before.add(node.id)


@pytest.mark.parametrize(("size", "seed"), [(25, 0), (60, 1), (110, 2), (200, 5)])
def test_large_circuits_are_sound(knowledge, size, seed):
    """Circuits of up to 200 positions derive as well."""
    assembly = grown(knowledge, size, seed)
    assert len(assembly.positions) == size
    check_sound(derive(assembly, knowledge))


@pytest.mark.parametrize("name", ["brannoch-30s", "brannoch-40t"])
def test_demo_graphs_are_sound(library, name):
    """So do the demo assemblies, and no failure mode of an approach stage is told where there is none."""
    graph = library.influence(library.assembly(name))
    check_sound(graph)
    has_approach = "approach" in graph.assembly.phases
    assert ("controller:approach-output-failed" in graph.silent) == (not has_approach)
    assert any(name.startswith("approach/") for name in graph.nodes) == has_approach


@settings(max_examples=20)
@given(parts=st.lists(st.sampled_from(LINE_TYPES), min_size=1, max_size=6), data=st.data())
def test_a_loop_is_refused_by_its_members(library, parts, data):
    """A line that is led back into itself is refused, and the members named all lie on the loop."""
    circuit = Circuit(library.knowledge)
    (end,) = circuit.line(parts, [(circuit.place("air-supply"), "out")])
    circuit.join(end, (circuit.place("main-valve", ("release", "held")), "1"))
    line = [name for name in circuit.positions if name not in ("air-supply", "main-valve")]
    first = data.draw(st.integers(0, len(line) - 1))
    last = data.draw(st.integers(first, len(line) - 1))
    looped = joined(circuit.assembly(), (line[last], "2"), (line[first], "1"))
    with pytest.raises(CycleError) as error:
        derive(looped, library.knowledge)
    on_loop = tuple(part for name in line[first : last + 1] for part in (f"/{name}.", f"{name}:"))
    assert len(error.value.members) > 1
    for member in error.value.members:
        assert any(part in member for part in on_loop)
        assert member in str(error.value)
    assert "in circuit: " in str(error.value)


@settings(max_examples=12)
@given(shape=shapes, seed=st.integers(0, 99))
def test_order_of_the_description_changes_nothing(library, shape, seed):
    """Positions and connections in another order give the same nodes, links and strengths."""
    assembly = build(library.knowledge, shape)
    one, other = (derive(a, library.knowledge) for a in (assembly, shuffled(assembly, seed)))
    assert one.nodes == other.nodes
    assert set(one.silent) == set(other.silent)
    for first, second in zip(*(by_id(network_of(g, library.knowledge)) for g in (one, other)), strict=True):
        assert (first.id, first.gate, first.leak) == (second.id, second.gate, second.leak)
        strengths = [{k.parent: k.strength for k in node.links} for node in (first, second)]
        assert strengths[0] == pytest.approx(strengths[1], abs=1e-15)


def by_id(network):
    return sorted(network, key=lambda node: node.id)


def test_order_of_the_description_changes_no_posterior(knowledge):
    """A circuit with twin valves and two lines in parallel gives the same posteriors when told in another order."""
    shape = Shape(("shut-off-valve", (("filter",), ("lubricator", "filter"))), mains=2, exhausts=1)
    assembly = build(knowledge, shape)
    answers = []
    for same in (assembly, shuffled(assembly, 1), shuffled(assembly, 2)):
        network = network_of(derive(same, knowledge), knowledge)
        seen = {"symptom/slow-release": True, "symptom/no-release": False}
        answers.append(posteriors(compile_network(upstream(network, seen)), seen))
    assert answers[1] == pytest.approx(answers[0], abs=1e-12)
    assert answers[2] == pytest.approx(answers[0], abs=1e-12)


@pytest.mark.parametrize("exhausts", [0, 1])
def test_one_of_twin_valves_slows_the_release_and_both_stop_it(knowledge, exhausts):
    """Redundancy is a gate: one valve stuck shut leaves too little flow, both leave no pressure."""
    shape = Shape(SERVICE_UNIT, mains=2, exhausts=exhausts)
    network = network_of(derive(build(knowledge, shape), knowledge), knowledge)
    healthy = symptoms_given(network)
    one = symptoms_given(network, "main-valve:stuck-shut")
    both = symptoms_given(network, "main-valve:stuck-shut", "main-valve-2:stuck-shut")
    leaks = {name: knowledge.symptoms[name].leak for name in healthy}
    assert healthy == pytest.approx(leaks, abs=1e-12)
    assert one["slow-release"] > 0.5
    assert one["no-release"] == pytest.approx(leaks["no-release"], abs=1e-12)
    assert both["no-release"] > 0.95
    other = symptoms_given(network, "main-valve-2:stuck-shut")
    assert other == pytest.approx(one, abs=1e-12)


def test_a_single_valve_stops_the_release_alone(knowledge):
    """Without a twin, the same failure stops the release."""
    network = network_of(derive(build(knowledge, Shape(SERVICE_UNIT)), knowledge), knowledge)
    assert symptoms_given(network, "main-valve:stuck-shut")["no-release"] > 0.95


@pytest.mark.parametrize("mains", [1, 2, 3])
def test_feeds_fall_together_when_their_source_fails(knowledge, mains):
    """However many valves share the load, a closed shut-off valve upstream of all of them stops the release."""
    network = network_of(derive(build(knowledge, Shape(SERVICE_UNIT, mains=mains)), knowledge), knowledge)
    assert symptoms_given(network, "shut-off-valve:closed")["no-release"] > 0.95
    assert symptoms_given(network, "controller:release-output-failed")["no-release"] > 0.9


def test_a_closed_line_of_two_in_parallel_stops_nothing(knowledge):
    """Two supply lines in parallel: one shut leaves a slow release, both shut leave none."""
    shape = Shape(((("shut-off-valve",), ("shut-off-valve",)),))
    network = network_of(derive(build(knowledge, shape), knowledge), knowledge)
    one = symptoms_given(network, "shut-off-valve:closed")
    both = symptoms_given(network, "shut-off-valve:closed", "shut-off-valve-2:closed")
    assert one["no-release"] == pytest.approx(knowledge.symptoms["no-release"].leak, abs=1e-12)
    assert one["slow-release"] > 0.5
    assert both["no-release"] > 0.95


def test_one_of_twin_exhausts_slows_the_return_and_both_stop_it(knowledge):
    """Venting is shared as well: the chamber stays full only when neither quick exhaust valve lets it out."""
    network = network_of(derive(build(knowledge, Shape(SERVICE_UNIT, exhausts=2)), knowledge), knowledge)
    shut = [f"reclamp/{name}.2/vent/no" for name in ("quick-exhaust-valve", "quick-exhaust-valve-2")]
    causes = [n.id for n in network if n.kind in ("failure-mode", "condition")]
    wanted = ["symptom/no-return", "symptom/slow-return"]
    plan = compile_network(upstream(network, [*wanted, *causes, *shut]))
    free = {c: False for c in causes if not c.startswith(("silencer", "quick-exhaust-valve"))}
    free |= {c: False for c in causes if c.startswith("quick-exhaust-valve")}
    one = posteriors(plan, {**free, shut[0]: True, shut[1]: False})
    both = posteriors(plan, {**free, shut[0]: True, shut[1]: True})
    assert one["symptom/no-return"] == pytest.approx(knowledge.symptoms["no-return"].leak, abs=1e-12)
    assert one["symptom/slow-return"] > 0.5
    assert both["symptom/no-return"] > 0.9


def test_each_further_valve_makes_a_dead_release_rarer(knowledge):
    """With one, two and three valves in parallel, no release becomes less probable, a slow one more so."""
    chances = []
    for mains in (1, 2, 3):
        network = network_of(derive(build(knowledge, Shape(SERVICE_UNIT, mains=mains)), knowledge), knowledge)
        wanted = ["symptom/no-release", "symptom/slow-release"]
        found = posteriors(compile_network(upstream(network, wanted)), {})
        chances.append([found[name] for name in wanted])
    dead, slow = zip(*chances, strict=True)
    assert dead[0] > dead[1] > dead[2]
    assert slow[0] < slow[1] < slow[2]


def test_a_silencer_acts_against_the_flow(knowledge):
    """A clogged silencer slows the return and leaves the release alone, although the air flows the other way."""
    network = network_of(derive(build(knowledge, Shape(SERVICE_UNIT, exhausts=1)), knowledge), knowledge)
    found = symptoms_given(network, "silencer:clogged")
    assert found["slow-return"] > 0.7
    assert found["slow-release"] == pytest.approx(knowledge.symptoms["slow-release"].leak, abs=1e-12)


def test_a_dead_end_changes_nothing(knowledge):
    """A branch that feeds no valve is never blamed for the release."""
    plain, branched = (
        network_of(derive(build(knowledge, replace(Shape(SERVICE_UNIT), branches=b)), knowledge), knowledge)
        for b in ((), (("shut-off-valve", "lubricator"),))
    )
    seen = {"symptom/no-release": True}
    alone = posteriors(compile_network(upstream(plain, seen)), seen)
    beside = posteriors(compile_network(upstream(branched, seen)), seen)
    assert beside == pytest.approx(alone, abs=1e-12)
    assert "shut-off-valve-2:closed" not in beside
