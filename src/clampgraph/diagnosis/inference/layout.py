"""Terms sorted so that a whole round of them is a handful of calls on long arrays.

Upward, a round computes its slots from slots of earlier rounds.
Downward, a round computes the derivatives of its slots from those of later rounds:
every use of a slot as an operand adds ``derivative[out] * weight * slot[other operand]``.
"""

from dataclasses import dataclass, fields
from functools import cached_property
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from clampgraph.diagnosis.inference.elimination import NOTHING, ONE, Index, Outcome, Terms

__all__ = ["Circuit", "Place", "Pull", "Round", "Run", "lay_out"]

Place = NDArray[np.int32]
"""Slots, in half the room of an index."""


@dataclass(frozen=True)
class Run:
    """Neighbouring slots of a round with equally many operands, those with most terms first.

    `counts[k]` slots have more than `k` terms.
    The rows hold the first terms of all slots, then the second terms, and so on.
    """

    first: int
    row: int
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
class Round:
    """The terms of one level, and the uses of its slots: where they stand in the columns, and how they are run."""

    terms: slice
    runs: tuple[Run, ...]
    slots: slice
    uses: slice
    pulls: tuple[Pull, ...]


@dataclass(frozen=True, eq=False)
class Circuit:
    """A circuit ready to be evaluated.

    Parameters
    ----------
    slots
        How many numbers one case takes.
    rounds
        What to compute, in order; the first has no terms, and its slots are the evidence indicators.
    left, right, weight
        The operands of each term, round by round.
    out, other, share, slot
        How derivatives come about: for each use of a slot, the slot that it served, the other operand and the weight;
        and which slot it is, counted from the first of its round. Uses of one slot stand together.
    indicators
        The slot of the indicator of each state of each internal variable, in order.
    roots
        Slots whose product is the probability of the evidence.
    part
        For each internal variable, the position in `roots` of its part of the network.
    """

    slots: int
    rounds: tuple[Round, ...]
    left: Place
    right: Place
    weight: NDArray[np.float64]
    out: Place
    other: Place
    share: NDArray[np.float64]
    slot: Place
    indicators: Index
    roots: Index
    part: Index

    @property
    def terms(self) -> int:
        """How many products one case takes."""
        return len(self.left)

    @cached_property
    def strips(self) -> Index:
        """The runs term by term, in order: first slot, first row, slots, and 1 for first terms."""
        found = []
        for run in (run for step in self.rounds for run in step.runs):
            row = run.row
            for term, count in enumerate(run.counts):
                found.append((run.first, row, count, term == 0))
                row += count
        return np.array(found, np.intp).reshape(-1, 4)

    @cached_property
    def draws(self) -> Index:
        """The pulls in the order of the way down: first slot, first row, slots, times."""
        found = [
            (pull.first, pull.row, pull.count, pull.times) for step in reversed(self.rounds) for pull in step.pulls
        ]
        return np.array(found, np.intp).reshape(-1, 4)


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
    rounds = tuple(
        _round(span, written, uses, slots)
        for span, written in zip(_spans(slots.level, stop), _spans(slots.level[terms.out], stop), strict=True)
    )
    starts = np.array([step.slots.start for step in rounds])
    return Circuit(
        slots=len(order),
        rounds=rounds,
        left=terms.left.astype(np.int32),
        right=np.maximum(terms.right, ONE).astype(np.int32),
        weight=terms.weight,
        out=uses.out.astype(np.int32),
        other=np.maximum(uses.right, ONE).astype(np.int32),
        share=uses.weight,
        slot=(uses.left - starts[slots.level[uses.left]]).astype(np.int32),
        indicators=renamed[indicators],
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


def _round(span: slice, written: slice, uses: Terms, slots: _Slots) -> Round:
    begin, end = np.searchsorted(uses.left, [span.start, span.stop]).tolist()
    runs, pulls = _runs(written.start, span, slots), _pulls(begin, span, slots)
    return Round(written, runs, span, slice(begin, end), pulls)


def _pulls(begin: int, span: slice, slots: _Slots) -> tuple[Pull, ...]:
    times, shared = slots.times[span], slots.shared[span]
    starts = begin + np.cumsum(times) - times
    change = np.flatnonzero(np.diff(times) | np.diff(shared)) + 1
    edges = [0, *change.tolist(), len(times)] if len(times) else []
    return tuple(
        Pull(span.start + a, int(starts[a]), b - a, int(times[a]), bool(shared[a])) for a, b in pairwise(edges)
    )


def _runs(row: int, span: slice, slots: _Slots) -> tuple[Run, ...]:
    runs: list[Run] = []
    for paired in (0, 1):
        same = span.start + np.flatnonzero(slots.paired[span] == paired)
        many = slots.terms[same]
        counts = tuple(int((many > k).sum()) for k in range(int(many.max(initial=0))))
        if counts:
            runs.append(Run(int(same[0]), row, counts, bool(paired)))
            row += sum(counts)
    return tuple(runs)
