"""Minimal cut sets of a fault tree: the smallest sets of events that together bring its top event about.

The tree is read from its events upward.
Each gate gets the family of its minimal cut sets: an OR gate unites the families of its inputs,
an AND gate joins one set from each; what contains another set is absorbed.
Sets above the order asked for are left out on the way, which changes none of the others:
joining never makes a set smaller, and a set is absorbed only by a smaller one.
A gate with several parents is worked out once, so the effort grows with the number of cut sets,
not with the number of paths.

Sets are kept as whole numbers, one bit for each event; a set of k events has 2^k - 2 proper subsets to look up,
which for the orders that matter is less than comparing it with every other set.

References
----------
- IEC 61025, Fault tree analysis (clause from memory: minimal cut sets).
- J. B. Fussell and W. E. Vesely, A new methodology for obtaining cut sets for fault trees, 1972 (from memory):
  the top-down form of the same algebra.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from clampgraph.errors import DataError, WrongCallError

__all__ = ["Branch", "minimal_cut_sets"]

_LARGE = 10
"""Above this order a set is compared with the smaller ones, for it has too many subsets to look up."""


@dataclass(frozen=True, slots=True)
class Branch:
    """A gate of the tree: `or` or `and` over the ids of gates and events."""

    gate: str
    inputs: tuple[str, ...]


def minimal_cut_sets(
    gates: Mapping[str, Branch], tops: Iterable[str], order: int | None = None
) -> dict[str, tuple[tuple[str, ...], ...]]:
    """Return the minimal cut sets of each top event.

    Parameters
    ----------
    gates
        The gates by id, inputs before the gates that use them; every other id is a basic event.
        An OR gate without inputs never happens.
    tops
        Ids of gates or events.
    order
        The largest number of events in a set, at least 1; None for all sets.

    Returns
    -------
    dict
        For each top event its cut sets, small ones first, then in alphabetical order.

    Raises
    ------
    WrongCallError
        If the order is less than 1.
    DataError
        If an AND gate has no inputs, or a gate stands before one of its inputs.

    Examples
    --------
    >>> gates = {"both": Branch("and", ("pump-a", "pump-b")), "no-flow": Branch("or", ("both", "pipe"))}
    >>> minimal_cut_sets(gates, ["no-flow"])["no-flow"]
    (('pipe',), ('pump-a', 'pump-b'))
    """
    if order is not None and order < 1:
        raise WrongCallError(f"The order of a cut set is {order}; ask for 1 or more events in a set.")
    events: dict[str, int] = {}
    families: dict[str, list[int]] = {}
    wanted = list(dict.fromkeys(tops))

    def family(name: str) -> list[int]:
        if name in gates and name not in families:
            raise DataError(f"The gate {name} is used before it is described; name inputs before the gates they feed.")
        return families[name] if name in gates else [1 << events.setdefault(name, len(events))]

    for name, branch in gates.items():
        families[name] = _combine(name, branch.gate, [family(i) for i in branch.inputs], order)
    found = {top: family(top) for top in wanted}
    names = sorted(events, key=events.__getitem__)
    return {top: _named(sets, names) for top, sets in found.items()}


def _combine(name: str, gate: str, inputs: Sequence[list[int]], order: int | None) -> list[int]:
    if len(inputs) == 1:
        return inputs[0]
    if gate == "or":
        return _absorbed({s for sets in inputs for s in sets})
    if not inputs:
        raise DataError(f"The AND gate {name} has no inputs; it would always be on.")
    joined = min(inputs, key=len)
    for sets in sorted(inputs, key=len)[1:]:
        products = {a | b for a in joined for b in sets}
        joined = _absorbed(p for p in products if order is None or p.bit_count() <= order)
    return joined


def _absorbed(sets: Iterable[int]) -> list[int]:
    """Drop every set that contains another one."""
    kept: set[int] = set()
    single = 0
    for members in sorted(sets, key=int.bit_count):
        size = members.bit_count()
        if size > 1 and members & single:
            continue
        if size > _LARGE:
            covered = any(smaller & members == smaller for smaller in kept)
        else:
            covered = any(part in kept for part in _proper_parts(members))
        if not covered:
            kept.add(members)
            single |= members if size == 1 else 0
    return list(kept)


def _proper_parts(members: int) -> Iterator[int]:
    part = (members - 1) & members
    while part:
        yield part
        part = (part - 1) & members


def _named(sets: Iterable[int], names: Sequence[str]) -> tuple[tuple[str, ...], ...]:
    found = (tuple(sorted(name for bit, name in enumerate(names) if members >> bit & 1)) for members in sets)
    return tuple(sorted(found, key=lambda members: (len(members), members)))
