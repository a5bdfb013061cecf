"""In which order to sum the variables out: small tables first, and as few rounds as that allows.

Finding the best order is NP-hard (Arnborg, Corneil and Proskurowski 1987; from memory).
A greedy rule takes the variable that does least harm, by the links that its neighbours lack among each other
("fill"), by the size of its table, or by both; which rule does best differs from network to network.
Optionally a round takes every variable that is cheap enough and has no neighbour in the same round,
so that a long chain falls in a logarithm of its length instead of link by link.

Sets of variables are whole numbers, one bit for each variable: that makes an order of hundreds of variables
a matter of milliseconds, and several can be tried.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations
from math import log2, prod
from types import MappingProxyType

__all__ = ["RULES", "Order", "elimination_order", "members"]

RULES: Mapping[str, Callable[[int, float], float]] = MappingProxyType(
    {
        "fill": lambda missing, _: missing,
        "spread": lambda missing, weight: missing / (weight + 1.0),
        "both": lambda missing, weight: missing + weight,
        "table": lambda _, weight: weight,
    }
)
"""What a greedy step minimises: a function of the links missing among the neighbours of a variable
and of the weight, which is the logarithm of the size of their table."""

_TIE, _SHUFFLE, _GOLDEN = 2**-10, 2**-12, 0.6180339887498949


@dataclass(frozen=True)
class Order:
    """Variables in order of elimination.

    Parameters
    ----------
    variables
        All variables.
    cliques
        For each turn, the bit set of the variable and the neighbours that it has when its turn comes.
    onward
        For each turn, the turn that its table is handed to; its own turn where nothing is left to hand on.
    size
        Entries of all tables.
    depth
        Tables in the longest line of handing on.
    """

    variables: tuple[int, ...]
    cliques: tuple[int, ...]
    onward: tuple[int, ...]
    size: int
    depth: int

    @property
    def width(self) -> int:
        """Variables in the largest clique, minus one; 0 for no variable at all."""
        return max((clique.bit_count() for clique in self.cliques), default=1) - 1


def members(bits: int) -> Iterator[int]:
    """Yield the members of a bit set in rising order."""
    while bits:
        low = bits & -bits
        yield low.bit_length() - 1
        bits ^= low


def elimination_order(
    cards: Sequence[int], scopes: Iterable[Sequence[int]], bound: int = 0, rule: str = "fill", seed: int = 0
) -> Order:
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
    rule
        A name in `RULES`.
    seed
        Breaks ties differently.
    """
    graph = _Graph(cards, scopes, RULES[rule], seed)
    order: list[int] = []
    cliques: list[int] = []
    while graph.score:
        for variable in graph.cheapest(log2(bound) if bound else 0.0):
            order.append(variable)
            cliques.append(graph.near[variable] | 1 << variable)
            graph.remove(variable)
    turn = {variable: index for index, variable in enumerate(order)}
    onward = tuple(
        min((turn[v] for v in members(clique ^ 1 << order[index])), default=index)
        for index, clique in enumerate(cliques)
    )
    size = sum(prod(cards[v] for v in members(clique)) for clique in cliques)
    return Order(tuple(order), tuple(cliques), onward, size, _depth(onward))


class _Graph:
    """The neighbours of each variable not yet eliminated, with the score of eliminating it.

    Counts are kept up to date link by link instead of being taken anew.
    """

    def __init__(
        self,
        cards: Sequence[int],
        scopes: Iterable[Sequence[int]],
        rule: Callable[[int, float], float],
        seed: int,
    ) -> None:
        self.rule = rule
        self.bits = [log2(card) for card in cards]
        self.near = [0] * len(cards)
        self.missing = [0] * len(cards)
        self.weight = list(self.bits)
        self.shuffle = [_SHUFFLE * (variable * seed * _GOLDEN % 1.0) for variable in range(len(cards))]
        for scope in scopes:
            for one, other in combinations(set(scope), 2):
                if not self.near[one] >> other & 1:
                    self._link(one, other)
        self.score = {variable: self._score(variable) for variable in range(len(cards))}

    def _score(self, variable: int) -> float:
        weight = self.weight[variable]
        return self.rule(self.missing[variable], weight) + _TIE * weight + self.shuffle[variable]

    def cheapest(self, limit: float) -> list[int]:
        """Pick the variables of the next round; no two of them are neighbours."""
        light = [v for v in self.score if self.weight[v] <= limit] if limit else []
        if not light:
            return [min(self.score, key=self.score.__getitem__)]
        picked: list[int] = []
        barred = 0
        for variable in sorted(light, key=self.score.__getitem__):
            if not barred >> variable & 1:
                picked.append(variable)
                barred |= self.near[variable]
        return picked

    def remove(self, variable: int) -> None:
        """Link the neighbours of a variable among each other and take it out."""
        around = self.near[variable]
        touched = around
        if self.missing[variable]:
            for one in members(around):
                for other in members(around & ~self.near[one] & -(2 << one)):
                    touched |= self._link(one, other)
        clique = around | 1 << variable
        for one in members(around):
            self.near[one] ^= 1 << variable
            self.missing[one] -= (self.near[one] & ~clique).bit_count()
            self.weight[one] -= self.bits[variable]
        del self.score[variable]
        for one in members(touched & ~(1 << variable)):
            self.score[one] = self._score(one)

    def _link(self, one: int, other: int) -> int:
        """Add a link and return the variables that see both its ends."""
        near, far = self.near[one], self.near[other]
        self.missing[one] += (near & ~far).bit_count()
        self.missing[other] += (far & ~near).bit_count()
        self.near[one] |= 1 << other
        self.near[other] |= 1 << one
        self.weight[one] += self.bits[other]
        self.weight[other] += self.bits[one]
        for between in members(near & far):
            self.missing[between] -= 1
        return near & far


def _depth(onward: Sequence[int]) -> int:
    level = [1] * len(onward)
    for turn, following in enumerate(onward):
        if following != turn:
            level[following] = max(level[following], level[turn] + 1)
    return max(level, default=0)
