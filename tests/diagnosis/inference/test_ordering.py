"""Orders of elimination: width and depth where the best is known."""

import pytest

from clampgraph.diagnosis.inference.decomposition import decompose
from clampgraph.diagnosis.inference.ordering import elimination_order
from clampgraph.diagnosis.network import Link, Network, Node

BOUNDS = (0, 16)


@pytest.mark.parametrize("bound", BOUNDS)
def test_nothing_to_eliminate(bound):
    """No variables make an empty order of width 0; one variable is one clique."""
    assert elimination_order((), (), bound).width == 0
    alone = elimination_order((2,), (), bound)
    assert (alone.variables, alone.width, alone.size, alone.depth) == ((0,), 0, 2, 1)


@pytest.mark.parametrize("bound", BOUNDS)
@pytest.mark.parametrize(
    ("links", "count", "width"),
    [
        ([(i, i + 1) for i in range(30)], 31, 1),
        ([(i, (i + 1) % 12) for i in range(12)], 12, 2),
        ([(0, i) for i in range(1, 20)], 20, 1),
        ([(i, j) for i in range(6) for j in range(i)], 6, 5),
    ],
    ids=["chain", "ring", "star", "complete"],
)
def test_known_widths(links, count, width, bound):
    """A chain and a star have width 1, a ring 2, a complete graph 5; rounds widen it up to bound."""
    order = elimination_order((2,) * count, links, bound)
    assert sorted(order.variables) == list(range(count))
    assert width <= order.width <= max(width, bound.bit_length() - 2)


def test_rounds_shorten_a_chain():
    """Rounds take a chain of 256 in logarithmically many steps."""
    chain = [(i, i + 1) for i in range(255)]
    assert elimination_order((2,) * 256, chain, 16).depth <= 16
    assert elimination_order((2,) * 256, chain, 0).depth >= 128


@pytest.mark.parametrize("gate", ["or", "and"])
@pytest.mark.parametrize("count", range(2, 7))
def test_gates_decompose_into_small_tables(gate, count):
    """A gate of n parents takes n - 1 tables of three variables, each a distribution, and n - 2 helpers."""
    roots = [Node(f"r{i}", "failure-mode", 0.1) for i in range(count)]
    links = tuple(Link(root.id, 1.0 if gate == "and" else 0.3) for root in roots)
    network = Network((*roots, Node("y", "symptom", 0.2, links, gate, 0.9)))
    problem = decompose(network, {node.id: place for place, node in enumerate(network)})
    tables = [factor for factor in problem.factors if len(factor.scope) > 1]
    assert len(tables) == count - 1
    assert len(problem.cards) == len(network) + count - 2
    for factor in tables:
        assert factor.values.shape == (2, 2, 2)
        assert factor.values.sum(axis=-1) == pytest.approx(1.0, abs=1e-15)


def test_equal_parents_join():
    """Two names for one parent act like two links from it: their strengths join, and no table grows."""
    nodes = (
        Node("a", "failure-mode", 0.1),
        Node("b", "deviation", 0.0, (Link("a", 1.0),)),
        Node("y", "symptom", 0.0, (Link("a", 0.5), Link("b", 0.5), Link("a", 0.0))),
    )
    problem = decompose(Network(nodes), {"a": 0, "b": 1, "y": 2})
    assert problem.observed == (0, 0, 1)
    assert problem.factors[1].values.tolist() == [[1.0, 0.0], [0.25, 0.75]]
