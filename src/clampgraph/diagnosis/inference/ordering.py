"""In which order to sum the variables out: small tables first, and as few rounds as that allows.

Finding the best order is NP-hard (Arnborg, Corneil and Proskurowski 1987; from memory).
The greedy rule takes the variable whose neighbours lack the fewest links among each other ("min-fill").
A round takes every variable that is cheap enough and has no neighbour in the same round,
so that a long chain falls in a logarithm of its length instead of link by link.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import combinations
from math import prod

__all__ = ["Order", "elimination_order"]


@dataclass(frozen=True)
class Order:
    """Variables in order of elimination, and the clique that each one forms when its turn comes."""

    variables: tuple[int, ...]
    cliques: tuple[frozenset[int], ...]
    size: int
    depth: int

    @property
    def width(self) -> int:
        """Variables in the largest clique, minus one; 0 for no variable at all."""
        return max((len(clique) for clique in self.cliques), default=1) - 1


def elimination_order(cards: Sequence[int], scopes: Iterable[Sequence[int]], bound: int) -> Order:
    """Return a greedy order.

    Parameters
    ----------
    cards
        Number of states of each variable.
    scopes
        Variables that share a factor.
    bound
        Largest clique table, in entries, that may be eliminated together with others in one round;
        0 for one variable a round.
    """
    graph = _Graph(cards, scopes)
    order: list[int] = []
    cliques: list[frozenset[int]] = []
    while graph.near:
        for variable in graph.cheapest(bound):
            order.append(variable)
            cliques.append(frozenset({variable, *graph.near[variable]}))
            graph.remove(variable)
    size = sum(prod(cards[v] for v in clique) for clique in cliques)
    return Order(tuple(order), tuple(cliques), size, _depth(order, cliques))


class _Graph:
    """The neighbours of each variable not yet eliminated, with the price of eliminating it."""

    def __init__(self, cards: Sequence[int], scopes: Iterable[Sequence[int]]) -> None:
        self.cards = cards
        self.near: dict[int, set[int]] = {variable: set() for variable in range(len(cards))}
        for scope in scopes:
            for one, other in combinations(set(scope), 2):
                self.near[one].add(other)
                self.near[other].add(one)
        self.price = {variable: self._price(variable) for variable in self.near}

    def _price(self, variable: int) -> tuple[int, int, int]:
        near = self.near[variable]
        missing = sum(len(near) - len(near & self.near[other]) - 1 for other in near) // 2
        return missing, prod(self.cards[v] for v in near) * self.cards[variable], variable

    def cheapest(self, bound: int) -> list[int]:
        """Pick the variables of the next round; no two of them are neighbours."""
        best = min(self.price.values())
        if best[1] > bound:
            return [best[2]]
        picked: list[int] = []
        barred: set[int] = set()
        for _, size, variable in sorted(self.price.values()):
            if size <= bound and variable not in barred:
                picked.append(variable)
                barred |= self.near[variable]
        return picked

    def remove(self, variable: int) -> None:
        near = self.near.pop(variable)
        del self.price[variable]
        stale = set(near)
        for one in near:
            fresh = near - self.near[one] - {one}
            self.near[one] |= fresh
            self.near[one].discard(variable)
            if fresh:
                stale |= self.near[one]
        for one in stale:
            self.price[one] = self._price(one)


def _depth(order: Sequence[int], cliques: Sequence[frozenset[int]]) -> int:
    turn = {variable: index for index, variable in enumerate(order)}
    level = [1] * len(order)
    for index, clique in enumerate(cliques):
        rest = [turn[v] for v in clique if turn[v] != index]
        if rest:
            level[min(rest)] = max(level[min(rest)], level[index] + 1)
    return max(level, default=0)
