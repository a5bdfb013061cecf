"""Trying several ways to compute one network and keeping the cheapest, with an effort that the outcome is worth.

Greedy rules are quick and short-sighted: ties broken otherwise may halve the work or double it.
"""

from collections.abc import Iterable, Iterator, Sequence
from itertools import islice
from typing import TypeVar

from clampgraph.diagnosis.inference.decomposition import Draft, decompose
from clampgraph.diagnosis.inference.ordering import Order, elimination_order
from clampgraph.diagnosis.inference.skeleton import Skeleton

__all__ = ["cheapest", "orders", "ways"]

_Way = TypeVar("_Way")

_MOST_TRIES = 12
_ROUND_COST = 64
"""What a round of evaluation costs, in products."""
_TRY_COST = 10_000
"""What a try costs, in products that could be compiled and used meanwhile."""
_LIGHT = 16
"""Entries of a table so small that its size hardly matters, only the round that it takes."""
_SEEDS = range(1, 5)


def cheapest(tries: Iterable[tuple[Order, _Way]]) -> tuple[Order, _Way]:
    """Return the cheapest of at least one orders, with what belongs to it.

    The search ends when it has taken as long as the best one found will take to compile and use.
    """
    made: list[tuple[Order, _Way]] = []
    for way in islice(tries, _MOST_TRIES):
        made.append(way)
        if (len(made) - 1) * _TRY_COST >= min(map(_cost, made)):
            break
    return min(made, key=_cost)


def _cost(way: tuple[Order, object]) -> int:
    order, _ = way
    return order.size + _ROUND_COST * order.depth


def orders(cards: Sequence[int], scopes: Sequence[Sequence[int]]) -> Iterator[tuple[Order, None]]:
    """Yield orders of variables that share factors."""
    for seed in _SEEDS:
        for bound, rule in ((0, "fill"), (_LIGHT, "spread"), (2 * _LIGHT, "fill")):
            yield elimination_order(cards, scopes, bound, rule, seed), None


def ways(skeleton: Skeleton) -> Iterator[tuple[Order, Draft]]:
    """Yield drafts of a network, each with an order of elimination."""
    cards, links = (2,) * len(skeleton.springs), skeleton.scopes
    for seed in _SEEDS:
        for outer in ("both", "spread", "table"):
            draft = decompose(skeleton, elimination_order(cards, links, 0, outer, seed))
            scopes = [piece.scope for piece in draft.pieces]
            for inner in ("spread", "fill"):
                yield elimination_order(draft.cards, scopes, _LIGHT, inner, seed), draft
