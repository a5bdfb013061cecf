"""What the engine refuses, and how it says so."""

import pickle
import random
import sys

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from clampgraph.diagnosis.inference import compile_network, posteriors
from clampgraph.diagnosis.network import Link, Network, Node
from clampgraph.errors import (
    DataError,
    ImpossibleEvidenceError,
    TooWideError,
    UnknownNameError,
    WrongCallError,
)
from diagnosis.inference.worlds import findings_of, networks, sampled, sparse_network


def line(*links, leak=0.0):
    """Return a chain a, b, c... with the given strengths, its root at even odds."""
    names = "abcdefgh"
    rest = (Node(names[i + 1], "deviation", leak, (Link(names[i], s),)) for i, s in enumerate(links))
    return Network((Node("a", "failure-mode", 0.5), *rest), "the line")


def test_impossible_evidence_names_the_conflict():
    """Only the findings that contradict each other are named, not the innocent one beside them."""
    plan = compile_network(line(1.0, 0.5, 0.5))
    with pytest.raises(ImpossibleEvidenceError) as caught:
        posteriors(plan, {"d": True, "a": True, "b": False})
    assert set(caught.value.findings) == {"a", "b"}


def test_impossible_evidence_in_a_batch():
    """An impossible row is marked and reads 0; its neighbours are untouched."""
    plan = compile_network(line(1.0, 0.5))
    found = plan.evaluate(plan.evidence([{"c": True}, {"a": False, "c": True}, {"c": False}] * 40))
    assert found.possible.reshape(-1, 3).all(axis=0).tolist() == [True, False, True]
    assert not found.posterior[1::3].any()
    assert found.probability[:3].tolist() == [0.25, 0.0, 0.75]
    assert found.posterior[0].tolist() == [1.0, 1.0, 1.0]


@given(st.data())
def test_the_conflict_is_minimal(data):
    """The findings named conflict; leave any one of them out and the rest is possible."""
    network = data.draw(networks(largest=6, chance=st.sampled_from([0.0, 0.5, 1.0])))
    plan = compile_network(network)
    findings = data.draw(findings_of(network))
    try:
        posteriors(plan, findings)
    except ImpossibleEvidenceError as error:
        named = {name: findings[name] for name in error.findings}
        rests = [{n: s for n, s in named.items() if n != name} for name in named]
        assert plan.likelihood(plan.evidence([named]))[0] == 0.0
        assert (plan.likelihood(plan.evidence(rests)) > 0.0).all()
    else:
        assert plan.likelihood(plan.evidence([findings]))[0] > 0.0


def test_equal_nodes_are_one_variable():
    """A chain of certain links costs nothing, and its members cannot differ."""
    plan = compile_network(line(1.0, 1.0, 1.0, 1.0))
    assert plan.width == 0
    assert posteriors(plan, {"e": True}) == dict.fromkeys("abcde", 1.0)
    assert not plan.evaluate(plan.evidence([{"b": True, "d": False}])).possible[0]


def grid(side):
    """Return a grid in which every node depends on its left and upper neighbour."""
    nodes = []
    for row in range(side):
        for column in range(side):
            near = [(row - 1, column)] * (row > 0) + [(row, column - 1)] * (column > 0)
            links = tuple(Link(f"g{r}-{c}", 0.5) for r, c in near)
            nodes.append(Node(f"g{row}-{column}", "deviation", 0.1, links))
    return Network(tuple(nodes), "the grid")


def test_a_wide_network_is_refused_by_name():
    """A grid of 24 by 24 does not fit, and the sentence names the nodes tied together."""
    with pytest.raises(TooWideError, match=r"in the grid would take .* together: g\d+-\d+, .*; cut a link"):
        compile_network(grid(24))


def test_the_memory_limit_decides():
    """The same grid is refused with little memory and solved with more."""
    with pytest.raises(TooWideError):
        compile_network(grid(6), memory_limit_bytes=10_000)
    assert compile_network(grid(6)).width >= 6


def test_wide_gates_stay_small():
    """A gate over 200 roots has no clique of more than three variables."""
    for gate in ("or", "and"):
        roots = [Node(f"r{i}", "failure-mode", 0.01) for i in range(200)]
        links = tuple(Link(root.id, 1.0 if gate == "and" else 0.5) for root in roots)
        plan = compile_network(Network((*roots, Node("s", "symptom", 0.001, links, gate))))
        assert plan.width == 2
        chance = plan.likelihood(plan.evidence([{"s": True}]))[0]
        off = (1 - 0.001) * (1 - 0.005) ** 200
        expected = 1 - off if gate == "or" else 0.001 + 0.999 * 0.01**200
        assert chance == pytest.approx(expected, rel=1e-12)


def test_evidence_below_the_smallest_float():
    """Two hundred rare findings are rarer than a float can say; they are possible, and judged rightly."""
    if np.finfo(np.longdouble).minexp == np.finfo(np.float64).minexp:
        assert sys.platform in {"win32", "darwin"}
        return
    roots = [Node(f"r{i}", "failure-mode", 1e-4) for i in range(200)]
    seen = [Node(f"s{i}", "symptom", 1e-4, (Link(f"r{i}", 0.5),)) for i in range(200)]
    plan = compile_network(Network((*roots, *seen)))
    found = plan.evaluate(plan.evidence([{node.id: True for node in seen}]))
    assert found.probability[0] == 0.0
    assert found.possible[0]
    on = 1e-4 * (1e-4 + (1 - 1e-4) * 0.5)
    assert found.posterior[0, 0] == pytest.approx(on / (on + (1 - 1e-4) * 1e-4), rel=1e-12)


@pytest.mark.parametrize(
    "evidence",
    [
        np.zeros((2, 3), np.int8),
        np.zeros(2, np.int8),
        np.full((1, 2), 2),
        np.full((1, 2), -2),
        np.zeros((1, 2)),
    ],
)
def test_wrong_evidence_is_refused(evidence):
    """Evidence of another shape or with other numbers than -1, 0 and 1 is no question."""
    with pytest.raises(WrongCallError, match=r"(evidence|Evidence) (has|is)"):
        compile_network(line(0.5)).evaluate(evidence)


def test_unknown_finding_is_refused():
    """A finding on no node is told, with the nearest id."""
    plan = compile_network(Network((Node("seal-worn", "failure-mode", 0.1),), "the pump"))
    with pytest.raises(UnknownNameError, match=r"no node 'seal-worm' in the pump; nearest: seal-worn"):
        posteriors(plan, {"seal-worm": True})


def test_weak_link_of_an_and_gate_is_refused():
    """Links of an AND gate are certain; its own strength says how surely it acts."""
    nodes = (Node("a", "failure-mode", 0.1), Node("b", "deviation", 0.0, (Link("a", 0.5),), "and"))
    with pytest.raises(DataError, match=r"AND gate b in the network has a link of strength 0\.5 from a"):
        compile_network(Network(nodes))


def test_plans_can_be_pickled():
    """A plan that went through pickle answers the same."""
    network = sparse_network(3, 40)
    plan = compile_network(network)
    rng = random.Random(3)  # noqa: S311 - reproducible, not secret
    evidence = plan.evidence([sampled(network, rng, 4)])
    again = pickle.loads(pickle.dumps(plan))  # noqa: S301 - our own bytes
    assert (again.evaluate(evidence).posterior == plan.evaluate(evidence).posterior).all()


def test_four_thousand_cases():
    """A batch of 4,096 cases equals its cases one by one, to the last digit: no case depends on its company."""
    network = sparse_network(4, 60)
    rng = random.Random(4)  # noqa: S311 - reproducible, not secret
    plan = compile_network(network)
    evidence = plan.evidence([sampled(network, rng, 6) for _ in range(4096)])
    found = plan.evaluate(evidence)
    for row in range(0, 4096, 512):
        one = plan.evaluate(evidence[row : row + 1])
        assert (one.posterior[0] == found.posterior[row]).all()
        assert one.probability[0] == found.probability[row]
