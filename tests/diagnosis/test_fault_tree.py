"""Fault trees against all worlds of small networks, and the laws that any of them must keep."""

import itertools
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from clampgraph.diagnosis.cut_sets import Branch, minimal_cut_sets
from clampgraph.diagnosis.fault_tree import basic_events, fault_tree, structural_probability
from clampgraph.diagnosis.network import Link, Network, Node
from clampgraph.errors import DataError, UnknownNameError, WrongCallError


@st.composite
def trees(draw):
    """Draw a network of at most six causes below a symptom: promoted causes, inhibited links, gates, leaks."""
    chance = st.sampled_from((0.0, 0.02, 0.3, 0.9, 1.0))
    strength = st.sampled_from((0.0, 0.25, 0.8, 1.0, 1.0))
    nodes = [Node("condition/c", "condition", draw(chance))]
    for number in range(draw(st.integers(1, 4))):
        promoted = (Link("condition/c", draw(strength)),) if draw(st.booleans()) else ()
        nodes.append(Node(f"p:m{number}", "failure-mode", draw(chance), promoted))
    for number in range(draw(st.integers(1, 5))):
        later = [n.id for n in nodes[-4:]]
        inputs = draw(st.lists(st.sampled_from(later), min_size=1, max_size=3, unique=True))
        kind = draw(st.sampled_from(("or", "or", "and")))
        links = tuple(Link(i, 1.0 if kind == "and" else draw(strength)) for i in inputs)
        power = draw(st.sampled_from((0.5, 1.0))) if kind == "and" else 1.0
        nodes.append(Node(f"d{number}", "deviation", 0.0, links, kind, power))
    ends = draw(st.lists(st.sampled_from([n.id for n in nodes]), min_size=1, max_size=3, unique=True))
    top = Node("symptom/s", "symptom", draw(st.sampled_from((0.0, 0.01))), tuple(Link(i, draw(strength)) for i in ends))
    return Network((*nodes, top))


def chance_on(node, state):
    """Return P(node on | parents), straight from the definition of its gate."""
    if node.gate == "and":
        return node.strength if all(state[link.parent] for link in node.links) else node.leak
    return 1.0 - (1.0 - node.leak) * math.prod(1.0 - link.strength * state[link.parent] for link in node.links)


def top_given(network, forced):
    """Return P(top | the own events of some causes forced on or off) by listing all worlds."""
    total = 0.0
    for world in itertools.product((False, True), repeat=len(network)):
        state = dict(zip((n.id for n in network), world, strict=True))
        if not state["symptom/s"]:
            continue
        weight = 1.0
        for node in network:
            leak = float(forced[node.id]) if node.id in forced else node.leak
            on = chance_on(Node(node.id, node.kind, leak, node.links, node.gate, node.strength), state)
            weight *= on if state[node.id] else 1.0 - on
        total += weight
    return total


def without_leak(network):
    *others, top = network.nodes
    return Network((*others, Node(top.id, top.kind, 0.0, top.links)))


def happens(network, present):
    """Evaluate the structure function: every link with a strength holds, nothing leaks."""
    state = {}
    for node in network:
        inputs = [state[link.parent] for link in node.links if link.strength > 0.0]
        state[node.id] = node.id in present or (all(inputs) if node.gate == "and" else any(inputs))
    return state["symptom/s"]


@given(trees())
def test_top_event_and_importance_equal_the_sum_over_all_worlds(network):
    """P(top), and P(top) with each cause forced on and off, for causes that are possible, certain or neither."""
    found = fault_tree(network, "symptom/s", order=6)
    total = top_given(network, {})
    assert found.probability == pytest.approx(total, abs=1e-12)
    assert found.by_causes == pytest.approx(top_given(without_leak(network), {}), abs=1e-12)
    for cause in found.importance:
        on, off = (top_given(network, {cause.event: state}) for state in (True, False))
        assert cause.birnbaum == pytest.approx(on - off, abs=1e-12)
        if total > 0.0:
            assert cause.fussell_vesely == pytest.approx((total - off) / total, abs=1e-9)
            assert cause.raw == pytest.approx(on / total, rel=1e-9)
        if off > 1e-12:
            assert cause.rrw == pytest.approx(total / off, rel=1e-9)


@given(trees(), st.integers(1, 6))
def test_cut_sets_are_the_minimal_sets_of_the_structure_function(network, order):
    """Every subset of the causes, tried one by one."""
    causes = sorted(basic_events(network))
    subsets = [set(c) for size in range(1, len(causes) + 1) for c in itertools.combinations(causes, size)]
    working = [s for s in subsets if happens(network, s)]
    minimal = {tuple(sorted(s)) for s in working if len(s) <= order and not any(w < s for w in working)}
    assert {cut.events for cut in fault_tree(network, "symptom/s", order).cut_sets} == minimal


@given(trees())
def test_cut_set_probability_is_that_of_exactly_these_causes(network):
    """P(top | exactly the set, no leak) times the priors of the set."""
    priors, quiet = basic_events(network), without_leak(network)
    for cut in fault_tree(network, "symptom/s", 6).cut_sets:
        alone = top_given(quiet, {cause: cause in cut.events for cause in priors})
        assert cut.alone == pytest.approx(alone, abs=1e-12)
        assert cut.probability == pytest.approx(alone * math.prod(priors[e] for e in cut.events), abs=1e-12)


@given(trees())
def test_structural_probability_is_that_of_the_structure_function(network):
    """The sum over all combinations of causes in which the top event happens."""
    priors = basic_events(network)
    total = 0.0
    for world in itertools.product((False, True), repeat=len(priors)):
        state = dict(zip(priors, world, strict=True))
        if happens(network, {cause for cause, on in state.items() if on}):
            total += math.prod(p if state[cause] else 1.0 - p for cause, p in priors.items())
    assert structural_probability(network, "symptom/s") == pytest.approx(total, abs=1e-12)


@given(trees())
def test_cut_sets_bound_the_top_event(network):
    """By causes, the structure function is no less probable than the network."""
    assert fault_tree(network, "symptom/s").by_causes <= structural_probability(network, "symptom/s") + 1e-12


def test_an_uncertain_link_before_a_fork_happens_once():
    """Both branches of an AND gate follow from one link: its strength counts once, not squared."""
    chain = [("u", "p:m", 0.5), ("fork", "u", 1.0), ("left", "fork", 1.0), ("right", "fork", 1.0)]
    nodes = [Node(name, "deviation", 0.0, (Link(parent, strength),)) for name, parent, strength in chain]
    both = Node("both", "deviation", 0.0, (Link("left", 1.0), Link("right", 1.0)), "and")
    top = Node("symptom/s", "symptom", 0.0, (Link("both", 1.0),))
    network = Network((Node("p:m", "failure-mode", 0.2), *nodes, both, top))
    assert fault_tree(network, "symptom/s").probability == pytest.approx(0.1, rel=1e-12)


def test_a_gate_with_many_inputs_is_cut_to_the_order_asked_for():
    """Of the pairs of a gate over three groups of ten none is a cut set; of the triples all thousand are."""
    groups = {f"g{n}": Branch("or", tuple(f"e{n}{i}" for i in range(10))) for n in range(3)}
    gates = {**groups, "all": Branch("and", tuple(groups))}
    assert minimal_cut_sets(gates, ["all"], 2)["all"] == ()
    assert len(minimal_cut_sets(gates, ["all"], 3)["all"]) == 1000


def test_large_sets_are_absorbed_too():
    """A set of twelve events gives way to eleven of them."""
    events = tuple(f"e{i:02}" for i in range(12))
    gates = {"big": Branch("and", events), "less": Branch("and", events[:11]), "top": Branch("or", ("big", "less"))}
    assert minimal_cut_sets(gates, ["top"])["top"] == (events[:11],)


def test_an_event_is_its_own_cut_set_and_an_empty_or_gate_has_none():
    """The degenerate trees."""
    assert minimal_cut_sets({}, ["e"]) == {"e": (("e",),)}
    assert minimal_cut_sets({"never": Branch("or", ())}, ["never"]) == {"never": ()}


def test_a_top_event_that_only_one_cause_explains_has_an_unbounded_reduction_worth():
    """Without the cause it cannot happen, so no ratio exists."""
    network = Network((Node("p:m", "failure-mode", 0.1), Node("symptom/s", "symptom", 0.0, (Link("p:m", 0.5),))))
    (only,) = fault_tree(network, "symptom/s").importance
    assert only.rrw is None
    assert only.fussell_vesely == 1.0


def test_a_cause_can_be_the_top_event():
    """Its own event, and what promotes it."""
    cause = Node("p:m", "failure-mode", 0.1, (Link("condition/c", 0.5),))
    found = fault_tree(Network((Node("condition/c", "condition", 0.2), cause)), "p:m")
    assert [cut.events for cut in found.cut_sets] == [("condition/c",), ("p:m",)]
    assert found.probability == pytest.approx(1.0 - 0.9 * (1.0 - 0.2 * 0.5))


def test_wrong_calls_say_what_is_wrong():
    """An unknown top event, an order of nothing, a gate in the wrong order, an AND gate over nothing."""
    network = Network((Node("p:m", "failure-mode", 0.1), Node("symptom/s", "symptom", 0.0, (Link("p:m", 0.5),))))
    with pytest.raises(UnknownNameError, match="nearest: symptom/s"):
        fault_tree(network, "symptom/t")
    with pytest.raises(WrongCallError, match="ask for 1 or more"):
        fault_tree(network, "symptom/s", 0)
    with pytest.raises(DataError, match="before it is described"):
        minimal_cut_sets({"a": Branch("or", ("b",)), "b": Branch("or", ("e",))}, ["a"])
    with pytest.raises(DataError, match="has no inputs"):
        minimal_cut_sets({"a": Branch("and", ())}, ["a"])
