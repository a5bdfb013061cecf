"""The variables that a network really has, and the gate that each one comes from.

A node that merely repeats its single parent is the same variable as that parent.
So are two certain gates of one kind over the same parents: both say "any of these" or "all of these".
A derived network is full of both, as a deviation travels unchanged from port to port.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from clampgraph.diagnosis.network import Gate, Network, Node
from clampgraph.errors import DataError

__all__ = ["Skeleton", "Spring", "either", "skeleton"]

_Chance = TypeVar("_Chance", float, NDArray[np.float64])


@dataclass(frozen=True, eq=False, slots=True)
class Spring:
    """Where a variable springs from.

    It is on with the chance `leak` at least; each term, a parent with its strength, turns an `or` gate on.
    An `and` gate is on with the chance `top` if every parent is on; an `or` gate has a `top` of 1.
    """

    label: str
    gate: Gate
    terms: Mapping[int, float]
    leak: float
    top: float

    @property
    def certain(self) -> bool:
        """Whether the parents alone decide."""
        return bool(self.terms) and self.leak == 0.0 and self.top == 1.0 and min(self.terms.values()) == 1.0


@dataclass(frozen=True, eq=False)
class Skeleton:
    """The distinct variables of a network, parents before children.

    Parameters
    ----------
    springs
        What each variable springs from.
    observed
        For each node of the network, its variable.
    place
        Where the network comes from, for messages.
    """

    springs: tuple[Spring, ...]
    observed: tuple[int, ...]
    place: str

    @property
    def scopes(self) -> list[tuple[int, int]]:
        """The links: what the network looks like when gates cost nothing."""
        return [(parent, child) for child, spring in enumerate(self.springs) for parent in spring.terms]


def skeleton(network: Network) -> Skeleton:
    """Find the distinct variables of a network.

    Raises
    ------
    DataError
        If a link of an AND gate has a strength other than 1.
    """
    springs: list[Spring] = []
    variable: dict[str, int] = {}
    known: dict[tuple[str, frozenset[int]], int] = {}
    for node in network:
        spring = _spring(node, variable, network.place)
        if not spring.certain:
            variable[node.id] = len(springs)
        elif len(spring.terms) == 1:
            variable[node.id] = next(iter(spring.terms))
        else:
            variable[node.id] = known.setdefault((spring.gate, frozenset(spring.terms)), len(springs))
        if variable[node.id] == len(springs):
            springs.append(spring)
    return Skeleton(tuple(springs), tuple(variable.values()), network.place)


def _spring(node: Node, variable: Mapping[str, int], place: str) -> Spring:
    """Read a node; links from parents that are one variable are joined."""
    if node.gate == "and":
        _check_and(node, place)
        leak = node.leak if node.links else node.strength
        terms = dict.fromkeys((variable[link.parent] for link in node.links), 1.0)
        return Spring(node.id, "and", terms, leak, node.strength)
    terms = {}
    for link in node.links:
        if link.strength > 0.0:
            parent = variable[link.parent]
            terms[parent] = either(terms.get(parent, 0.0), link.strength)
    return Spring(node.id, "or", terms, node.leak, 1.0)


def either(first: _Chance, second: _Chance) -> _Chance:
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
