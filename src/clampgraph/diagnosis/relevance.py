"""Which part of a network a question needs: everything upstream of what is observed or asked for.

A node with no observed or wanted node downstream cannot change any answer (it is barren), so it is left out
before compiling. The links of what is kept are untouched, and so are the answers.
"""

from collections.abc import Iterable

from clampgraph.diagnosis.network import Network

__all__ = ["causes_of", "upstream"]


def causes_of(network: Network, targets: Iterable[str]) -> frozenset[str]:
    """Return the targets and every node that influences one of them."""
    found: set[str] = set()
    queue = list(targets)
    while queue:
        node = queue.pop()
        if node not in found:
            found.add(node)
            queue.extend(link.parent for link in network.by_id[node].links)
    return frozenset(found)


def upstream(network: Network, targets: Iterable[str]) -> Network:
    """Return the network cut down to the targets and what influences them."""
    kept = causes_of(network, targets)
    return Network(tuple(node for node in network if node.id in kept), network.place)
