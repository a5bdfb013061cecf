"""What makes a derived network fit for a peer, and questions to put to both."""

from clampgraph.diagnosis.network import Link, Network, Node
from diagnosis.inference.worlds import gate_chances

__all__ = ["OBSERVABLE", "findings_on", "without_copies"]

OBSERVABLE = ("symptom", "check", "condition")


def without_copies(network):
    """Return the network without the nodes that repeat their only parent, and for each node the one that it equals.

    pyAgrum's triangulation needs this: with the copies, a derived network of 660 nodes takes it minutes.
    """
    same, kept = {}, []
    for node in network:
        strengths = {}
        for link in node.links:
            parent = same[link.parent]
            strengths[parent] = 1.0 - (1.0 - strengths.get(parent, 0.0)) * (1.0 - link.strength)
        copy = list(strengths.values()) == [1.0] and node.leak == 0.0 and node.strength == 1.0
        same[node.id] = next(iter(strengths)) if copy else node.id
        if not copy:
            links = tuple(Link(parent, strength) for parent, strength in strengths.items())
            kept.append(Node(node.id, node.kind, node.leak, links, node.gate, node.strength))
    return Network(tuple(kept), network.place), same


def findings_on(network, rng, most=10):
    """Return up to so many findings: what one world would show, with a third of the states drawn anew."""
    world = {}
    for node in network:
        world[node.id] = rng.random() < gate_chances(node, world)[1]
    shown = [node.id for node in network if node.kind in OBSERVABLE]
    found = rng.sample(shown, min(rng.randint(0, most), len(shown)))
    return {name: rng.random() < 0.5 if rng.random() < 1 / 3 else world[name] for name in found}
