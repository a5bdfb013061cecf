"""Fault trees as an independent library reads them, built from a network by the definitions of IEC 61025."""

import faultree

from clampgraph.diagnosis.network import Network
from clampgraph.diagnosis.relevance import upstream

__all__ = ["full_tree", "structure", "top_probability"]

CAUSES = ("condition", "failure-mode")


def structure(network: Network, top: str):
    """Return the tree of the structure function: imperfect links hold, nothing leaks but causes."""
    return _Writer(upstream(network, [top]), exact=False).tree(top)


def full_tree(network: Network, top: str):
    """Return the tree with all its events: every imperfect link an inhibit gate, every leak an undeveloped event."""
    return _Writer(upstream(network, [top]), exact=True).tree(top)


def top_probability(tree):
    """Return the probability of the top event by the library's decision diagram."""
    return float(faultree.analyze(tree)["Q"])


class _Writer:
    """Write each gate once; the next time it is referred to."""

    def __init__(self, network, *, exact):
        self.network, self.exact, self.written = network, exact, set()

    def tree(self, top):
        found = self.gate(top)
        return found if found.get("children") else {"id": "top", "gate": "OR", "children": [found]}

    def event(self, name, chance):
        return self.once(name, lambda: {"id": name, "event_type": "basic", "prob": chance})

    def once(self, name, make):
        if name in self.written:
            return {"ref": name}
        self.written.add(name)
        return make()

    def gate(self, name):
        node = self.network.by_id[name]
        cause = node.kind in CAUSES and node.gate == "or"
        if cause and not node.links:
            return self.event(name, node.leak)
        return self.once(f"{name} ", lambda: self.described(node, cause=cause))

    def described(self, node, *, cause):
        inputs = [self.link(node, link) for link in node.links if link.strength > 0.0]
        if node.gate == "and":
            if self.exact and node.strength < 1.0:
                inputs.append(self.event(f"{node.id} acts", node.strength))
            return {"id": f"{node.id} ", "gate": "AND", "children": inputs}
        if cause or (self.exact and node.leak > 0.0):
            inputs.append(self.event(node.id if cause else f"{node.id} leaks", node.leak))
        return {"id": f"{node.id} ", "gate": "OR", "children": inputs}

    def link(self, node, link):
        parent = self.gate(link.parent)
        if node.gate == "and" or link.strength == 1.0 or not self.exact:
            return parent
        name = f"{link.parent} to {node.id}"
        return {"id": f"{name} ", "gate": "AND", "children": [parent, self.event(name, link.strength)]}
