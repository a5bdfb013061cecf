"""How far a cause reaches in a network: what it leads to by itself, and what only with a further fault."""

from collections.abc import Iterable, Mapping

from clampgraph.diagnosis.network import Network, Node

__all__ = ["reached", "strongest_paths"]


def strongest_paths(network: Network, causes: Iterable[str]) -> dict[str, dict[str, float]]:
    """Return, for each node, the causes that lead to it by themselves, each with the strength of its strongest path.

    An AND gate is passed only by a cause that reaches every input; its weakest input counts.
    """
    wanted = set(causes)
    found: dict[str, dict[str, float]] = {}
    for node in network:
        arrived = _all_inputs(node, found) if node.gate == "and" else _any_input(node, found)
        if node.id in wanted:
            arrived[node.id] = 1.0
        found[node.id] = arrived
    return found


def _any_input(node: Node, found: Mapping[str, Mapping[str, float]]) -> dict[str, float]:
    arrived: dict[str, float] = {}
    for link in node.links:
        for cause, strength in found[link.parent].items():
            arrived[cause] = max(arrived.get(cause, 0.0), strength * link.strength)
    return {cause: strength for cause, strength in arrived.items() if strength > 0.0}


def _all_inputs(node: Node, found: Mapping[str, Mapping[str, float]]) -> dict[str, float]:
    inputs = [found[link.parent] for link in node.links]
    shared = set(inputs[0]).intersection(*inputs[1:]) if inputs else set()
    return {cause: node.strength * min(i[cause] for i in inputs) for cause in shared}


def reached(network: Network, start: str) -> frozenset[str]:
    """Return every node that a cause leads to, whatever further fault that may need."""
    found: set[str] = set()
    queue = [start] if start in network.by_id else []
    while queue:
        node = queue.pop()
        if node not in found:
            found.add(node)
            queue.extend(network.children[node])
    return frozenset(found)
