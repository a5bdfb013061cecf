"""Orders of elimination, and the small gates that a network is written in."""

import pytest

from clampgraph.diagnosis.inference.decomposition import decompose
from clampgraph.diagnosis.inference.ordering import RULES, elimination_order, members
from clampgraph.diagnosis.inference.skeleton import skeleton
from clampgraph.diagnosis.network import Link, Network, Node
from diagnosis.inference.worlds import sparse_network

BOUNDS = (0, 16)


def draft_of(network, rule="fill"):
    """Return a network in small gates, gathered by a greedy order."""
    bones = skeleton(network)
    return decompose(bones, elimination_order((2,) * len(bones.springs), bones.scopes, 0, rule))


@pytest.mark.parametrize("bound", BOUNDS)
def test_nothing_to_eliminate(bound):
    """No variables make an empty order of width 0; one variable is one clique."""
    assert elimination_order((), (), bound).width == 0
    alone = elimination_order((2,), (), bound)
    assert (alone.variables, alone.width, alone.size, alone.depth) == ((0,), 0, 2, 1)


@pytest.mark.parametrize("rule", RULES)
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
def test_known_widths(links, count, width, bound, rule):
    """A chain and a star have width 1, a ring 2, a complete graph 5; rounds widen it up to bound."""
    order = elimination_order((2,) * count, links, bound, rule)
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
    problem = draft_of(network).problem()
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
    problem = draft_of(Network(nodes)).problem()
    assert problem.observed == (0, 0, 1)
    (table,) = (factor.values for factor in problem.factors if len(factor.scope) > 1)
    assert table.tolist() == [[1.0, 0.0], [0.25, 0.75]]


@pytest.mark.parametrize("rule", RULES)
@pytest.mark.parametrize("seed", range(4))
def test_cliques_are_what_elimination_leaves(rule, seed):
    """Counts kept link by link agree with joining the neighbours of each variable anew."""
    links = [(link.parent, node.id) for node in sparse_network(seed, 60) for link in node.links]
    names = {name: place for place, name in enumerate(sorted({name for link in links for name in link}))}
    scopes = [(names[one], names[other]) for one, other in links]
    order = elimination_order((2,) * len(names), scopes, 0, rule, seed)
    near = {v: {w for s in scopes if v in s for w in s} - {v} for v in names.values()}
    for turn, (variable, clique) in enumerate(zip(order.variables, order.cliques, strict=True)):
        around = near.pop(variable)
        assert set(members(clique)) == around | {variable}
        for other in around:
            near[other] = (near[other] | around) - {variable, other}
        after = [order.variables.index(v) for v in around]
        assert order.onward[turn] == min(after, default=turn)
    assert order.size == sum(2 ** clique.bit_count() for clique in order.cliques)


def test_the_fill_rule_takes_whom_it_costs_least():
    """Of a ring with a tail, the tail goes first; of two hubs that share all rims, a rim."""
    tailed = [*((i, (i + 1) % 5) for i in range(5)), (0, 5)]
    assert elimination_order((2,) * 6, tailed).variables[0] == 5
    hubs = [(hub, rim) for hub in (0, 1) for rim in range(2, 9)]
    assert elimination_order((2,) * 9, hubs).variables[0] > 1


def test_certain_gates_over_the_same_parents_are_one_variable():
    """Two names for "any of these" are one variable, whatever the order of their links; a leak keeps them apart."""
    roots = [Node(f"r{i}", "failure-mode", 0.1) for i in range(3)]
    forth = tuple(Link(root.id, 1.0) for root in roots)
    nodes = (
        *roots,
        Node("any", "deviation", 0.0, forth),
        Node("same", "deviation", 0.0, forth[::-1]),
        Node("both", "deviation", 0.0, (Link("any", 1.0), Link("same", 1.0))),
        Node("all", "deviation", 0.0, forth, "and"),
        Node("leaky", "deviation", 0.1, forth),
    )
    assert skeleton(Network(nodes)).observed == (0, 1, 2, 3, 3, 3, 4, 5)


def test_gates_gather_along_the_order():
    """An alarm over all of two long lines joins each line's own causes first: no clique spans both lines."""
    nodes = []
    for line in "ab":
        nodes += [Node(f"{line}0", "failure-mode", 0.1)]
        nodes += [Node(f"{line}{i}", "deviation", 0.01, (Link(f"{line}{i - 1}", 0.5),)) for i in range(1, 12)]
    alarm = Node("alarm", "symptom", 0.0, tuple(Link(node.id, 0.5) for node in nodes))
    draft = draft_of(Network((*nodes, alarm)))
    order = elimination_order(draft.cards, [piece.scope for piece in draft.pieces])
    assert order.width == 2
