"""From noisy-OR and AND gates to tables of at most three variables, without a subtraction.

A gate with n parents becomes a chain of n - 1 tables:
each joins what was gathered so far with one more parent
(causal independence, Heckerman and Breese 1996; from memory).
The shorter decompositions known from the literature carry a factor of -1
and lose digits exactly where diagnosis works: findings that are present although their causes are rare.
A node that merely repeats its single parent is the same variable and costs nothing.
"""

from collections.abc import Mapping
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from clampgraph.diagnosis.inference.problem import Factor, Problem
from clampgraph.diagnosis.network import Network, Node
from clampgraph.errors import DataError

__all__ = ["decompose", "skeleton"]

_Array = NDArray[np.float64]
_Chance = TypeVar("_Chance", float, _Array)
_OFF_ON = np.array([0.0, 1.0])


def skeleton(network: Network) -> tuple[tuple[int, ...], ...]:
    """Return the links as pairs of node positions: what the network looks like when gates cost nothing."""
    place = {node.id: index for index, node in enumerate(network)}
    return tuple((place[link.parent], place[node.id]) for node in network for link in node.links)


def decompose(network: Network, rank: Mapping[str, int]) -> Problem:
    """Write a network as small factors.

    Parameters
    ----------
    network
        Binary nodes in topological order.
    rank
        For each node id, when it will be eliminated; a gate gathers its parents in that order.

    Raises
    ------
    DataError
        If a link of an AND gate has a strength other than 1.
    """
    gates = _Gates(rank)
    for node in network:
        gates.add(node, network.place)
    return Problem(
        cards=(2,) * len(gates.labels),
        labels=tuple(gates.labels),
        factors=tuple(gates.factors),
        observed=tuple(gates.variable[node.id] for node in network),
        place=network.place,
    )


class _Gates:
    """Collects variables and factors, node by node."""

    def __init__(self, rank: Mapping[str, int]) -> None:
        self.rank = rank
        self.labels: list[str] = []
        self.factors: list[Factor] = []
        self.variable: dict[str, int] = {}

    def add(self, node: Node, place: str) -> None:
        strengths = self._strengths(node)
        if node.gate == "and":
            _check_and(node, place)
            leak, top = (node.leak, node.strength) if strengths else (node.strength, node.strength)
            strengths = dict.fromkeys(strengths, 1.0)
        else:
            leak, top = node.leak, 1.0
        if len(strengths) == 1 and leak == 0.0 and top == 1.0 and 1.0 in strengths.values():
            self.variable[node.id] = next(iter(strengths))
            return
        if node.gate == "and":
            self._chain_and(node.id, list(strengths), leak, top)
        else:
            self._chain_or(node.id, list(strengths.items()), leak)

    def _strengths(self, node: Node) -> dict[int, float]:
        """Return the strength of each distinct parent in the order of gathering; equal parents are joined."""
        found: dict[int, float] = {}
        for link in sorted(node.links, key=lambda k: self.rank[k.parent]):
            if link.strength > 0.0 or node.gate == "and":
                parent = self.variable[link.parent]
                found[parent] = _either(found.get(parent, 0.0), link.strength)
        return found

    def _new(self, label: str) -> int:
        self.labels.append(label)
        return len(self.labels) - 1

    def _table(self, parents: tuple[int, ...], off: _Array, on: _Array, label: str) -> int:
        child = self._new(label)
        self.factors.append(Factor((*parents, child), np.stack([off, on], axis=-1)))
        return child

    def _chain_or(self, label: str, links: list[tuple[int, float]], leak: float) -> None:
        first, rest = links[:2], links[2:]
        off, on = np.array(1.0 - leak), np.array(leak)
        for _, strength in first:
            acts = strength * _OFF_ON
            off = off[..., None] * (1.0 - acts)
            on = _either(on[..., None], acts)
        child = self._table(tuple(parent for parent, _ in first), off, on, label)
        for parent, strength in rest:
            gathered, acts = _OFF_ON[:, None], strength * _OFF_ON[None, :]
            off, on = (1.0 - gathered) * (1.0 - acts), _either(gathered, acts)
            child = self._table((child, parent), off, on, label)
        self.variable[label] = child

    def _chain_and(self, label: str, parents: list[int], leak: float, top: float) -> None:
        gathered = tuple(parents[:2])
        for parent in parents[2:]:
            every = _OFF_ON[:, None] * _OFF_ON[None, :]
            gathered = (self._table(gathered, 1.0 - every, every, label), parent)
        every = np.ones((2,) * len(gathered))
        for axis in range(len(gathered)):
            every = every * np.moveaxis(_OFF_ON.reshape((2,) + (1,) * (len(gathered) - 1)), 0, axis)
        off, on = np.where(every > 0.0, 1.0 - top, 1.0 - leak), np.where(every > 0.0, top, leak)
        self.variable[label] = self._table(gathered, off, on, label)


def _either(first: _Chance, second: _Chance) -> _Chance:
    """Chance that at least one of two independent events happens, as a sum of positive terms."""
    return first + (1.0 - first) * second


def _check_and(node: Node, place: str) -> None:
    for link in node.links:
        if link.strength != 1.0:
            raise DataError(
                f"The AND gate {node.id} in {place} has a link of strength {link.strength} "
                f"from {link.parent}; links of an AND gate have strength 1, "
                "and the node's own strength says how surely it acts."
            )
