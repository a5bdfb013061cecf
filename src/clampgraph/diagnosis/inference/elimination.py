"""Summing variables out symbolically: the terms of an arithmetic circuit.

A slot is one number of the circuit; a term says ``slot[out] += weight * slot[left] * slot[right]``.
Entries that are zero whatever the evidence are never written, so determinism makes the circuit smaller
(Darwiche 2003; Chavira and Darwiche 2005; from memory).
"""

from collections.abc import Sequence
from dataclasses import dataclass, fields
from itertools import combinations
from typing import Generic, TypeVar

import numpy as np
from numpy.typing import NDArray

from clampgraph.diagnosis.inference.problem import Factor, Problem

__all__ = ["NOTHING", "ONE", "Index", "Outcome", "Terms", "eliminate"]

Index = NDArray[np.intp]

ONE = 0
"""The slot that always holds 1."""
NOTHING = -1
"""In place of a slot: a structural zero, or no right-hand operand."""


@dataclass(frozen=True)
class Terms:
    """Terms in columns."""

    out: Index
    left: Index
    right: Index
    weight: NDArray[np.float64]

    def __getitem__(self, rows: Index | NDArray[np.bool_] | slice) -> "Terms":
        return Terms(self.out[rows], self.left[rows], self.right[rows], self.weight[rows])

    @staticmethod
    def joined(parts: Sequence["Terms"]) -> "Terms":
        """Return the terms of all parts in one."""
        empty = Terms(*(np.empty(0, np.intp),) * 3, np.empty(0))
        columns = ([getattr(part, f.name) for part in (empty, *parts)] for f in fields(Terms))
        return Terms(*map(np.concatenate, columns))


@dataclass(frozen=True)
class Outcome:
    """A whole elimination.

    Parameters
    ----------
    terms
        What is to be computed.
    level
        For each slot, the number of rounds before it is known; 0 for slot 0 and for the evidence indicators.
    first
        For each internal variable, the slot of the indicator of its first state; the other states follow.
    roots
        The slots that hold the probability of the evidence, one for each connected part of the network.
    part
        For each internal variable, the position in `roots` of its connected part.
    """

    terms: Terms
    level: Index
    first: Index
    roots: tuple[int, ...]
    part: tuple[int, ...]


@dataclass(frozen=True)
class _Message:
    """One slot for each assignment of a scope."""

    scope: tuple[int, ...]
    values: Index
    level: int


_Item = TypeVar("_Item", Factor, _Message)
_Number = TypeVar("_Number", np.float64, np.intp)


class _Pool(Generic[_Item]):
    """Tables still to be multiplied, found by the variables that they speak of."""

    def __init__(self, count: int) -> None:
        self._items: dict[int, _Item] = {}
        self._of: list[set[int]] = [set() for _ in range(count)]

    def add(self, item: _Item) -> None:
        key = len(self._items)
        self._items[key] = item
        for variable in item.scope:
            self._of[variable].add(key)

    def take(self, variable: int) -> list[_Item]:
        """Remove and return what speaks of a variable."""
        keys = sorted(self._of[variable])
        for key in keys:
            for other in self._items[key].scope:
                self._of[other].discard(key)
        return [self._items[key] for key in keys]


def eliminate(problem: Problem, order: Sequence[int]) -> Outcome:
    """Sum the variables out in the given order and return the terms that this takes."""
    work = _Elimination(problem)
    for variable in order:
        work.sum_out(variable)
    return work.outcome(order)


class _Elimination:
    def __init__(self, problem: Problem) -> None:
        self.cards = problem.cards
        self.first = np.cumsum([1, *self.cards], dtype=np.intp)
        self.slots = int(self.first[-1])
        self.levels: list[Index] = [np.zeros(self.slots, np.intp)]
        self.terms: list[Terms] = []
        self.roots: dict[int, int] = {}
        self.onward: dict[int, int] = {}
        self.constants = _Pool[Factor](len(self.cards))
        self.messages = _Pool[_Message](len(self.cards))
        for factor in problem.factors:
            self.constants.add(factor)
        for variable in sorted(set(problem.observed)):
            indicators = np.arange(self.first[variable], self.first[variable + 1])
            self.messages.add(_Message((variable,), indicators, 0))

    def sum_out(self, variable: int) -> None:
        messages, constants = self.messages.take(variable), self.constants.take(variable)
        while len(messages) > 2:
            pair = min(combinations(messages, 2), key=self._size)
            messages = [m for m in messages if m is not pair[0] and m is not pair[1]]
            messages.append(self._write(pair, (), ()))
        scope = _scope(messages, constants) - {variable}
        if scope:
            self.onward[variable] = min(scope)
        if messages:
            result = self._write(messages, constants, (variable,))
            if scope:
                self.messages.add(result)
            else:
                self.roots[variable] = int(result.values)
        elif scope:
            values = self._product(constants, (*sorted(scope), variable)).sum(axis=-1)
            self.constants.add(Factor(tuple(sorted(scope)), values))

    def _size(self, tables: Sequence[_Message]) -> tuple[int, int]:
        scope = _scope(tables, ())
        return int(np.prod([self.cards[v] for v in scope])), max(table.level for table in tables)

    def _product(self, constants: Sequence[Factor], scope: tuple[int, ...]) -> NDArray[np.float64]:
        values = np.ones([self.cards[v] for v in scope])
        for factor in constants:
            values = values * _aligned(factor.values, factor.scope, scope)
        return values

    def _write(self, messages: Sequence[_Message], constants: Sequence[Factor], summed: tuple[int, ...]) -> _Message:
        """Write the terms of a product of one or two messages and constants, summed over variables."""
        kept = tuple(sorted(_scope(messages, constants) - set(summed)))
        weight = self._product(constants, kept + summed)
        operands = [
            np.broadcast_to(_aligned(message.values, message.scope, kept + summed), weight.shape)
            for message in messages
        ]
        live = weight > 0.0
        for operand in operands:
            live &= operand != NOTHING
        shape = weight.shape[: len(kept)]
        present = live.reshape(*shape, -1).any(axis=-1)
        count = int(np.count_nonzero(present))
        values = np.full(shape, NOTHING, np.intp)
        values[present] = np.arange(self.slots, self.slots + count)
        out = np.broadcast_to(values.reshape(shape + (1,) * len(summed)), weight.shape)[live]
        left = operands[0][live]
        right = operands[1][live] if len(operands) > 1 else np.full_like(left, NOTHING)
        self.terms.append(Terms(out, left, right, weight[live]))
        level = 1 + max(message.level for message in messages)
        self.levels.append(np.full(count, level, np.intp))
        self.slots += count
        return _Message(kept, values, level)

    def outcome(self, order: Sequence[int]) -> Outcome:
        position = {variable: index for index, variable in enumerate(self.roots)}
        part = dict.fromkeys(order, 0) | position
        for variable in reversed(order):
            if variable in self.onward:
                part[variable] = part[self.onward[variable]]
        return Outcome(
            Terms.joined(self.terms),
            np.concatenate(self.levels),
            self.first,
            tuple(self.roots.values()),
            tuple(part[variable] for variable in range(len(order))),
        )


def _scope(messages: Sequence[_Message], constants: Sequence[Factor]) -> set[int]:
    spoken = [*(m.scope for m in messages), *(c.scope for c in constants)]
    return {variable for scope in spoken for variable in scope}


def _aligned(values: NDArray[_Number], scope: tuple[int, ...], wider: tuple[int, ...]) -> NDArray[_Number]:
    """Turn the axes of a table so that it broadcasts over a wider scope."""
    turned = values.transpose(sorted(range(len(scope)), key=lambda axis: wider.index(scope[axis])))
    shape = iter(turned.shape)
    return turned.reshape([next(shape) if variable in scope else 1 for variable in wider])
