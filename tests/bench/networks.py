"""Generated networks of the shape that a derived diagnosis network has."""

import random

from clampgraph.diagnosis.network import Link, Network, Node

__all__ = ["layered_network"]

LANES, LAYERS, ROOTS, SYMPTOMS, CHECKS, GATES, CROSSINGS = 6, 18, 30, 15, 25, 3, 12


def layered_network(seed):
    """Return about 180 nodes and 200 links: roots feed lanes of deviations, seen in symptoms and checks.

    Half of the links along a lane are certain (a quantity that passes a part unchanged);
    crossings between lanes close loops, and a few redundant feeds are AND gates.
    """
    rng = random.Random(seed)  # noqa: S311 - reproducible, not secret
    roots = [Node(f"root-{i}", "failure-mode", 10 ** rng.uniform(-4, -1.5)) for i in range(ROOTS)]
    deviations = _lanes(rng, roots)
    shown = [node.id for node in deviations]
    looked_at = [node.id for node in roots + deviations]
    symptoms = [
        Node(f"symptom-{i}", "symptom", 0.002, _noisy(rng, shown, rng.choice((1, 2, 3)))) for i in range(SYMPTOMS)
    ]
    checks = [Node(f"check-{i}", "check", 0.01, _noisy(rng, looked_at, 1)) for i in range(CHECKS)]
    return Network((*roots, *deviations, *symptoms, *checks), f"layered network {seed}")


def _lanes(rng, roots):
    links = {(layer, lane): {} for layer in range(LAYERS) for lane in range(LANES)}
    for (layer, lane), found in links.items():
        if layer:
            found[_name(layer - 1, lane)] = 1.0 if rng.random() < 0.5 else rng.uniform(0.5, 0.98)
    starts = [(0, lane) for lane in range(LANES)] + rng.choices(list(links), k=len(roots) - LANES)
    for root, cell in zip(roots, starts, strict=True):
        links[cell][root.id] = rng.uniform(0.4, 0.95)
    inner = [cell for cell in links if cell[0]]
    gates = set(rng.sample(inner, GATES))
    for layer, lane in [*rng.sample(inner, CROSSINGS), *sorted(gates)]:
        other = (lane + rng.choice((-1, 1))) % LANES
        links[layer, lane][_name(layer - 1, other)] = rng.uniform(0.3, 0.9)
    return [_deviation(_name(*cell), found, "and" if cell in gates else "or") for cell, found in links.items()]


def _name(layer, lane):
    return f"deviation-{layer}-{lane}"


def _deviation(name, strengths, gate):
    links = tuple(Link(parent, 1.0 if gate == "and" else s) for parent, s in strengths.items())
    return Node(name, "deviation", 0.0, links, gate)


def _noisy(rng, ids, count):
    return tuple(Link(parent, rng.uniform(0.6, 0.98)) for parent in rng.sample(ids, count))
