"""Two independent judges of the engine: a list of all worlds, and pyAgrum; and networks to judge it on."""

import itertools
import random
import warnings

from hypothesis import strategies as st

from clampgraph.diagnosis.network import Link, Network, Node

with warnings.catch_warnings():
    # The wrapper that pyAgrum is built with warns when it is imported, and crashes if a warning is an error.
    warnings.simplefilter("ignore")
    import pyagrum as gum

__all__ = [
    "OBSERVABLE",
    "as_agrum",
    "entries_of",
    "findings_of",
    "findings_on",
    "gate_chances",
    "gum",
    "networks",
    "sampled",
    "sparse_network",
    "without_copies",
    "worlds",
]

OBSERVABLE = ("symptom", "check", "condition")
chances = st.one_of(st.sampled_from([0.0, 1.0]), st.floats(1e-9, 1.0))


@st.composite
def networks(draw, largest=8, gates=("or", "and"), chance=chances):
    """Draw a small network of gates with any chances; an AND gate's strength is at least its leak."""
    nodes = []
    for index in range(draw(st.integers(1, largest))):
        names = [node.id for node in nodes]
        parents = draw(st.lists(st.sampled_from(names), max_size=4, unique=True)) if names else []
        gate = draw(st.sampled_from(gates))
        leak, strength = draw(st.one_of(st.just(0.0), chance)), draw(st.one_of(st.just(1.0), chance))
        if gate == "and":
            leak, strength = sorted((leak, strength))
        links = tuple(Link(parent, 1.0 if gate == "and" else draw(chance)) for parent in parents)
        nodes.append(Node(f"n{index}", "deviation", leak, links, gate, strength))
    return Network(tuple(nodes))


def findings_of(network):
    """Draw any findings on a network."""
    return st.dictionaries(st.sampled_from([node.id for node in network]), st.booleans())


def worlds(network):
    """Yield every state of the world with its probability, straight from the definition of the gates."""
    for states in itertools.product((False, True), repeat=len(network)):
        world = dict(zip((node.id for node in network), states, strict=True))
        chance = 1.0
        for node in network:
            off, on = gate_chances(node, world)
            chance *= on if world[node.id] else off
        yield world, chance


def gate_chances(node, world):
    active = [link for link in node.links if world[link.parent]]
    if node.gate == "and":
        on = node.strength if len(active) == len(node.links) else node.leak
        return 1.0 - on, on
    off, on = 1.0 - node.leak, node.leak
    for link in active:
        off *= 1.0 - link.strength
        on += (1.0 - on) * link.strength
    return off, on


def sparse_network(seed, count=100):
    """Return a network of noisy-OR and AND gates with up to five parents from the nodes just before."""
    rng = random.Random(seed)  # noqa: S311 - reproducible, not secret
    nodes = []
    for index in range(count):
        pool = range(max(0, index - 12), index)
        most = rng.choice((0, 1, 1, 1, 2, 2, 3, 5) if index % 3 else (0, 1))
        parents = rng.sample(pool, min(len(pool), most))
        gate = "and" if len(parents) > 1 and rng.random() < 0.2 else "or"
        leak = rng.choice((0.0, 1e-4, 0.02)) if parents else rng.uniform(0.001, 0.2)
        strengths = [1.0 if gate == "and" else rng.choice((1.0, rng.random())) for _ in parents]
        links = tuple(Link(f"n{p}", s) for p, s in zip(parents, strengths, strict=True))
        nodes.append(Node(f"n{index}", "deviation", leak, links, gate, rng.choice((1.0, 0.9))))
    return Network(tuple(nodes))


def sampled(network, rng, count):
    """Return findings on so many nodes that one world agrees with, so that they are possible."""
    world = {}
    for node in network:
        world[node.id] = rng.random() < gate_chances(node, world)[1]
    return {name: world[name] for name in rng.sample(sorted(world), count)}


def as_agrum(network):
    """Return the same network for pyAgrum, gates as its own noisy-OR nodes and as tables."""
    net = gum.BayesNet()
    for node in network:
        variable = gum.LabelizedVariable(node.id, node.id, 2)
        if node.links and node.gate == "or":
            net.addNoisyORNet(variable, node.leak)
        else:
            net.add(variable)
    for node in network:
        for link in node.links:
            if node.gate == "or":
                net.addWeightedArc(link.parent, node.id, link.strength)
            else:
                net.addArc(link.parent, node.id)
        if not node.links:
            net.cpt(node.id).fillWith([1.0 - node.leak, node.leak])
        elif node.gate == "and":
            _fill_and(net.cpt(node.id), node)
    return net


def _fill_and(table, node):
    for states in itertools.product((0, 1), repeat=len(node.links)):
        parents = {link.parent: state for link, state in zip(node.links, states, strict=True)}
        on = node.strength if all(states) else node.leak
        table[parents] = [1.0 - on, on]


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


def entries_of(peer):
    """Return how many numbers pyAgrum's junction tree holds for one of its networks."""
    tree = gum.JunctionTreeGenerator().junctionTree(peer)
    return sum(2 ** len(tree.clique(place)) for place in tree.nodes())
