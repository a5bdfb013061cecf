"""Terms sorted so that a whole round of them is a handful of calls on long arrays.

Upward, a round computes its slots from slots of earlier rounds.
Downward, a round computes the derivatives of its slots from those of later rounds:
every use of a slot as an operand adds ``derivative[out] * weight * slot[other operand]``.
"""

from dataclasses import dataclass, fields
from itertools import pairwise, repeat

import numpy as np
from numpy.typing import NDArray

from clampgraph.diagnosis.inference.elimination import NOTHING, ONE, Index, Outcome, Terms

__all__ = ["Circuit", "Pull", "Round", "Run", "Uses", "lay_out"]


@dataclass(frozen=True)
class Run:
    """Neighbouring slots of a round with equally many operands, those with most terms first.

    `counts[k]` slots have more than `k` terms.
    The rows hold the first terms of all slots, then the second terms, and so on.
    """

    first: int
    row: int
    rows: int
    counts: tuple[int, ...]
    paired: bool


@dataclass(frozen=True)
class Pull:
    """Neighbouring slots that are used equally often, with or without another operand."""

    first: int
    row: int
    count: int
    times: int
    paired: bool


@dataclass(frozen=True)
class Uses:
    """How the derivatives of the slots from `first` to `stop` come about; uses of one slot stand together."""

    first: int
    stop: int
    out: Index
    other: Index
    weight: NDArray[np.float64]
    slot: Index
    pulls: tuple[Pull, ...]


@dataclass(frozen=True)
class Round:
    """The terms of one level, and the uses of its slots."""

    left: Index
    right: Index
    weight: NDArray[np.float64]
    runs: tuple[Run, ...]
    uses: Uses


@dataclass(frozen=True)
class Circuit:
    """A circuit ready to be evaluated.

    Parameters
    ----------
    slots
        How many numbers one case takes.
    rounds
        What to compute, in order.
    indicators
        The slot of the indicator of each state of each internal variable, in order.
    uses
        How the derivatives of the indicators come about.
    roots
        Slots whose product is the probability of the evidence.
    part
        For each internal variable, the position in `roots` of its part of the network.
    """

    slots: int
    rounds: tuple[Round, ...]
    indicators: Index
    uses: Uses
    roots: Index
    part: Index

    @property
    def terms(self) -> int:
        """How many products one case takes."""
        return sum(len(step.left) for step in self.rounds)


@dataclass(frozen=True)
class _Slots:
    """What each slot is sorted by: its level, its own terms, and its uses as an operand."""

    level: Index
    paired: Index
    terms: Index
    shared: Index
    times: Index

    def order(self) -> Index:
        order = np.lexsort((self.times, self.shared, -self.terms, self.paired, self.level))
        return order[self.times[order] > 0]

    def sorted(self, order: Index) -> "_Slots":
        return _Slots(*(getattr(self, column.name)[order] for column in fields(self)))


def lay_out(outcome: Outcome) -> Circuit:
    """Sort slots and terms by round, and within a round by how they are computed and used."""
    indicators, roots = np.arange(1, outcome.first[-1]), np.array(outcome.roots, np.intp)
    terms = _living(outcome.terms, outcome.level, roots)
    uses = _uses(terms, len(outcome.level), indicators, roots)
    slots = _slots(outcome.level, terms, uses)
    order = slots.order()
    slots = slots.sorted(order)
    renamed = np.full(len(outcome.level) + 1, NOTHING, np.intp)  # the last place stands for NOTHING
    renamed[order] = np.arange(len(order))
    terms, uses = _renamed(terms, renamed), _renamed(uses, renamed)
    out = terms.out
    terms = terms[np.lexsort((out, _ordinal(out), slots.paired[out], slots.level[out]))]
    uses = uses[np.argsort(uses.left, kind="stable")]
    stop = max(int(slots.level[-1]), 0) + 1
    rounds = _spans(slots.level, stop)
    wanted = [_uses_of(span, uses, slots) for span in rounds]
    written = [terms[rows] for rows in _spans(slots.level[terms.out], stop)]
    return Circuit(
        slots=len(order),
        rounds=tuple(map(_round, written[1:], rounds[1:], wanted[1:], repeat(slots))),
        indicators=renamed[indicators],
        uses=wanted[0],
        roots=renamed[roots],
        part=np.array(outcome.part, np.intp),
    )


def _living(terms: Terms, level: Index, roots: Index) -> Terms:
    """Drop the terms whose result nobody uses."""
    terms = terms[np.argsort(level[terms.out], kind="stable")]
    live = np.zeros(len(level) + 1, bool)  # the last place stands for NOTHING
    live[roots] = True
    keep = np.zeros(len(terms.out), bool)
    for rows in reversed(_spans(level[terms.out], int(level.max()) + 1)):
        keep[rows] = used = live[terms.out[rows]]
        live[terms.left[rows][used]] = True
        live[terms.right[rows][used]] = True
    return terms[keep]


def _spans(rising: Index, stop: int) -> list[slice]:
    """Return where each number from 0 to below `stop` stands in a rising array."""
    bounds = np.searchsorted(rising, np.arange(stop + 1)).tolist()
    return [slice(*bound) for bound in pairwise(bounds)]


def _uses(terms: Terms, slots: int, indicators: Index, roots: Index) -> Terms:
    """Turn terms round: `left` is the slot that is used, `right` the other operand.

    A root is used once, by slot 0 whose derivative is 1.
    An indicator that nothing uses gets a use of weight 0, so that every slot has a derivative.
    """
    both = terms.right != NOTHING
    swapped = Terms(terms.out[both], terms.right[both], terms.left[both], terms.weight[both])
    used = np.zeros(slots + 1, bool)  # the last place stands for NOTHING
    used[terms.left] = used[terms.right] = True
    idle = indicators[~used[indicators]]
    ends = np.concatenate([roots, idle])
    weight = np.concatenate([np.ones(len(roots)), np.zeros(len(idle))])
    last = Terms(np.full_like(ends, ONE), ends, np.full_like(ends, NOTHING), weight)
    return Terms.joined([terms, swapped, last])


def _slots(level: Index, terms: Terms, uses: Terms) -> _Slots:
    many = len(level)
    level, paired, shared = level.copy(), np.zeros(many, np.intp), np.zeros(many, np.intp)
    paired[terms.out] = terms.right != NOTHING
    shared[uses.left] = uses.right != NOTHING
    count, times = np.bincount(terms.out, minlength=many), np.bincount(uses.left, minlength=many)
    level[ONE], times[ONE] = -1, 1  # slot 0 stays the first, and nobody asks for its derivative
    return _Slots(level, paired, count, shared, times)


def _renamed(terms: Terms, renamed: Index) -> Terms:
    return Terms(renamed[terms.out], renamed[terms.left], renamed[terms.right], terms.weight)


def _ordinal(out: Index) -> Index:
    """Count the terms of each slot from 0; they stand together."""
    place = np.arange(len(out))
    fresh = np.diff(out, prepend=NOTHING) != 0
    return place - np.maximum.accumulate(np.where(fresh, place, 0))


def _uses_of(span: slice, uses: Terms, slots: _Slots) -> Uses:
    begin, end = np.searchsorted(uses.left, [span.start, span.stop])
    part, times, shared = uses[begin:end], slots.times[span], slots.shared[span]
    starts = np.cumsum(times) - times
    change = np.flatnonzero(np.diff(times) | np.diff(shared)) + 1
    edges = [0, *change.tolist(), len(times)] if len(times) else []
    pulls = tuple(
        Pull(span.start + a, int(starts[a]), b - a, int(times[a]), bool(shared[a])) for a, b in pairwise(edges)
    )
    slot = np.repeat(np.arange(len(times)), times)
    return Uses(span.start, span.stop, part.out, np.maximum(part.right, ONE), part.weight, slot, pulls)


def _round(part: Terms, span: slice, uses: Uses, slots: _Slots) -> Round:
    runs: list[Run] = []
    row = 0
    for paired in (0, 1):
        same = span.start + np.flatnonzero(slots.paired[span] == paired)
        many = slots.terms[same]
        counts = tuple(int((many > k).sum()) for k in range(int(many.max(initial=0))))
        if counts:
            runs.append(Run(int(same[0]), row, sum(counts), counts, bool(paired)))
            row += sum(counts)
    return Round(part.left, np.maximum(part.right, ONE), part.weight, tuple(runs), uses)
