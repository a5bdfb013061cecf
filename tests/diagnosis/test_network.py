"""The network value: what it refuses, and the order it keeps."""

import pytest

from clampgraph.diagnosis.network import Link, Network, Node
from clampgraph.errors import CycleError, DataError


def node(name, *parents, leak=0.1, strength=0.5):
    return Node(name, "deviation", leak, tuple(Link(parent, strength) for parent in parents))


def test_empty():
    """A network without nodes is a network."""
    empty = Network(())
    assert (len(empty), list(empty), empty.children, empty.of_kind("symptom")) == (0, [], {}, ())


def test_parents_come_first_and_the_given_order_is_kept():
    """Nodes are sorted only where they must be."""
    network = Network((node("c", "b"), node("x"), node("b", "a"), node("a")))
    assert [n.id for n in network] == ["a", "b", "c", "x"]
    assert network.children == {"a": ("b",), "b": ("c",), "c": (), "x": ()}


def test_a_deep_chain_needs_no_recursion():
    """A chain of five thousand nodes is sorted, written backwards or not."""
    chain = [node("n0"), *(node(f"n{i}", f"n{i - 1}") for i in range(1, 5000))]
    assert Network(tuple(chain[::-1])).nodes == tuple(chain)


def test_a_cycle_is_named_in_the_direction_of_influence():
    """Every member named influences the next one, and the last one the first."""
    nodes = (node("root"), node("a", "root", "c"), node("b", "a"), node("c", "b"), node("d", "c"))
    with pytest.raises(CycleError) as error:
        Network(nodes, "unit")
    members = error.value.members
    assert sorted(members) == ["a", "b", "c"]
    parents = {n.id: {link.parent for link in n.links} for n in nodes}
    assert all(members[i - 1] in parents[member] for i, member in enumerate(members))


def test_a_node_that_feeds_itself():
    """The smallest cycle has one member."""
    with pytest.raises(CycleError) as error:
        Network((node("a", "a"),))
    assert error.value.members == ("a",)


@pytest.mark.parametrize(
    ("nodes", "sentence"),
    [
        ((node("a"), node("a")), "Two nodes of unit share one id"),
        ((node("a", "b"),), "a in unit has the parent b, which is no node of it"),
        ((node("a", leak=1.1),), "The leak of a in unit is 1.1"),
        ((node("a", leak=float("nan")),), "The leak of a in unit is nan"),
        ((node("b"), node("a", "b", strength=-0.1)), "The strength from b of a in unit is -0.1"),
        ((Node("a", "deviation", 0.0, strength=2.0),), "The strength of a in unit is 2.0"),
    ],
)
def test_refused(nodes, sentence):
    """What is no network is refused with the place and the member."""
    with pytest.raises(DataError, match=sentence):
        Network(nodes, "unit")
