"""Which part of a network a question needs: everything upstream of what is observed or asked for.

A node with no observed or wanted node downstream cannot change any answer (it is barren), so it is left out
before compiling. The links of what is kept are untouched, and so are the answers.
"""

from collections.abc import Iterable

from clampgraph.diagnosis.network import Network

__all__ = ["causes_of", "tied_to", "upstream"]


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


def tied_to(findings: Iterable[frozenset[str]], observed: Iterable[frozenset[str]]) -> frozenset[str]:
    """Return the nodes upstream of findings, and of whatever observation ties to those.

    Two nodes with no common origin among these, nor any observation that joins their origins, are independent:
    what is not upstream of a node in this set tells nothing about the findings' causes.

    Parameters
    ----------
    findings
        For each finding, itself and what lies upstream of it.
    observed
        The same for everything that was observed.
    """
    reached: set[str] = set().union(*findings)
    origins = list(observed)
    grown = True
    while grown:
        joining = [found for found in origins if not reached.isdisjoint(found) and not found <= reached]
        grown = bool(joining)
        reached.update(*joining)
    return frozenset(reached)
