"""From noisy-OR and AND gates to tables of at most three variables, without a subtraction.

A gate with n parents becomes a tree of n - 1 tables:
each joins what was gathered so far with one more parent, or with what was gathered elsewhere
(causal independence, Heckerman and Breese 1996; from memory).
The tree follows an order in which the variables could be summed out if gates cost nothing:
what is summed out together is gathered together, so that the gate spans little of the network.
The shorter decompositions known from the literature carry a factor of -1
and lose digits exactly where diagnosis works: findings that are present although their causes are rare.
"""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from clampgraph.diagnosis.inference.ordering import Order
from clampgraph.diagnosis.inference.problem import Factor, Problem
from clampgraph.diagnosis.inference.skeleton import Skeleton, Spring, either
from clampgraph.diagnosis.network import Gate

__all__ = ["Draft", "Piece", "decompose"]

_OFF_ON = np.array([0.0, 1.0])
_Term = tuple[int, float]


@dataclass(frozen=True, slots=True)
class Piece:
    """A gate over at most two parents."""

    child: int
    gate: Gate
    terms: tuple[_Term, ...]
    leak: float = 0.0
    top: float = 1.0

    @property
    def scope(self) -> tuple[int, ...]:
        """The parents, then the child."""
        return (*(parent for parent, _ in self.terms), self.child)

    def factor(self) -> Factor:
        """Return the table of the gate."""
        if self.gate == "or":
            off, on = np.array(1.0 - self.leak), np.array(self.leak)
            for _, strength in self.terms:
                off = off[..., None] * (1.0 - strength * _OFF_ON)
                on = either(on[..., None], strength * _OFF_ON)
        else:
            every = np.zeros((2,) * len(self.terms), bool)
            every[(1,) * len(self.terms)] = True
            off, on = np.where(every, 1.0 - self.top, 1.0 - self.leak), np.where(every, self.top, self.leak)
        return Factor(self.scope, np.stack([off, on], axis=-1))


@dataclass(frozen=True, eq=False)
class Draft:
    """A network in small gates, whose tables are not filled in yet.

    The first variables are those of the skeleton; helpers follow.
    """

    skeleton: Skeleton
    labels: tuple[str, ...]
    pieces: tuple[Piece, ...]

    @property
    def cards(self) -> tuple[int, ...]:
        """Number of states of each variable."""
        return (2,) * len(self.labels)

    def problem(self) -> Problem:
        """Fill the tables in."""
        return Problem(
            cards=self.cards,
            labels=self.labels,
            factors=tuple(piece.factor() for piece in self.pieces),
            observed=self.skeleton.observed,
            place=self.skeleton.place,
        )


def decompose(skeleton: Skeleton, order: Order) -> Draft:
    """Write a network in small gates.

    Parameters
    ----------
    skeleton
        The distinct variables.
    order
        An order of their elimination, which the gates gather by.
    """
    gathering = _Gathering(skeleton, order)
    for turn, variable in enumerate(order.variables):
        gathering.take(turn, variable)
    return Draft(skeleton, tuple(gathering.labels), tuple(gathering.pieces))


class _Gathering:
    """Collects what turns each variable on while the turns pass; its own turn is the last that it waits for."""

    def __init__(self, skeleton: Skeleton, order: Order) -> None:
        self.springs, self.order = skeleton.springs, order
        self.labels = [spring.label for spring in skeleton.springs]
        self.pieces: list[Piece] = []
        self.turn = {variable: turn for turn, variable in enumerate(order.variables)}
        self.waiting: list[dict[int, list[_Term]]] = [{} for _ in order.variables]
        for child, spring in enumerate(self.springs):
            own = self.turn[child]
            for parent, strength in spring.terms.items():
                first = own if len(spring.terms) <= 2 else min(own, self.turn[parent])
                self._wait(first, child, (parent, strength))

    def _wait(self, turn: int, child: int, term: _Term) -> None:
        self.waiting[turn].setdefault(child, []).append(term)

    def take(self, turn: int, variable: int) -> None:
        """Join what came together at this turn, finish its variable and hand the rest on."""
        for child, terms in self.waiting[turn].items():
            if child != variable:
                (joined,) = self._joined(self.springs[child], terms, 1)
                self._wait(self.order.onward[turn], child, joined)
        spring = self.springs[variable]
        terms = self._joined(spring, self.waiting[turn].get(variable, []), 2)
        self.pieces.append(Piece(variable, spring.gate, tuple(terms), spring.leak, spring.top))

    def _joined(self, spring: Spring, terms: Iterable[_Term], most: int) -> list[_Term]:
        """Join terms, those first that are summed out first, until so many are left."""
        left = sorted(terms, key=lambda term: self.turn.get(term[0], -1))
        while len(left) > most:
            helper = len(self.labels)
            self.labels.append(spring.label)
            self.pieces.append(Piece(helper, spring.gate, tuple(left[:2])))
            left = [(helper, 1.0), *left[2:]]
        return left
