"""Which neighbours must change with an item: the least-cost consistent choice."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from clampgraph.replacement.access import Opening, least_opening
from clampgraph.replacement.facts import Item, Requirement, Site
from clampgraph.replacement.fit import compare, judge

__all__ = ["Change", "candidates", "least_change", "stand_ins"]


@dataclass(frozen=True)
class Change:
    """A consistent choice: items at positions where they differ from what was fitted, and what has to be opened.

    `because` names, for every position that had to follow, the requirement that its old item would break.
    """

    items: Mapping[str, Item]
    because: Mapping[str, Requirement]
    opening: Opening
    cost: float


def candidates(site: Site, position: str) -> tuple[Item, ...]:
    """Return the items on sale that meet all that a position asks for by itself, by number."""
    kinds = set(site.types[position])
    own = [r for r in site.asked[position] if r.position == position and r.neighbour is None]
    return tuple(
        item
        for _, item in sorted(site.catalogue.items.items())
        if item.price is not None
        and item.type in kinds
        and all(compare(site.catalogue, r, r.value, item.features.get(r.feature)) for r in own)
    )


def stand_ins(site: Site, position: str, item: Item, around: Mapping[str, Item]) -> tuple[Item, ...]:
    """Return the items that can take the place of one without any neighbour noticing, the item itself first.

    They fit by every feature, and offer the neighbours exactly what the item offers.
    """
    shared = {r.feature for r in site.asked[position] if r.neighbour is not None}
    kinds = set(site.types[position])
    found = [item]
    for _, other in sorted(site.catalogue.items.items()):
        if other.mpn == item.mpn or other.type not in kinds or other.price is None:
            continue
        if all(other.features.get(f) == item.features.get(f) for f in shared) and all(
            v.verdict == "fits" for v in judge(site, position, other, around)
        ):
            found.append(other)
    return tuple(found)


def least_change(site: Site, fixed: Mapping[str, Item], wanted: Iterable[str], rate: float) -> Change | None:
    """Return the cheapest choice of items that leaves no requirement between neighbours broken.

    Parameters
    ----------
    site
        The assembly with its requirements and joints.
    fixed
        Items that go in whatever it costs, by position.
    wanted
        Positions to renew; those of `fixed` count among them.
    rate
        Labour [EUR/min].

    Returns
    -------
    Change or None
        None if no choice of items on sale is consistent.

    Notes
    -----
    Branch and bound over the requirements that are broken.
    Prices of chosen items and the time of the cheapest opening bound the cost from below, for both only grow.
    Every position is chosen at most once on a branch, so the search ends.
    """
    targets = frozenset(wanted) | frozenset(fixed)
    best: tuple[tuple[object, ...], Change] | None = None
    pending: list[tuple[dict[str, Item], dict[str, Requirement]]] = [(dict(fixed), {})]
    while pending:
        chosen, because = pending.pop()
        opening = least_opening(site, targets | frozenset(chosen))
        floor = rate * opening.minutes + sum(_price(site, p, i) for p, i in chosen.items())
        if best is not None and floor > best[1].cost + 1e-9:
            continue
        broken = next(_broken(site, fixed, chosen), None)
        if broken is None:
            rest = [p for p in opening.positions if p not in chosen and p in site.fitted]
            cost = floor + sum(_price(site, p, site.fitted[p]) for p in rest)
            key = (round(cost, 6), len(chosen), sorted((p, i.mpn) for p, i in chosen.items()))
            if best is None or key < best[0]:
                best = key, Change(chosen, because, opening, cost)
            continue
        for place, item in _mends(site, broken, chosen):
            pending.append(({**chosen, place: item}, {**because, place: broken}))
    return None if best is None else best[1]


def _price(site: Site, position: str, item: Item) -> float:
    return (item.price or 0.0) * site.number(position)


def _broken(site: Site, fixed: Mapping[str, Item], chosen: Mapping[str, Item]) -> Iterator[Requirement]:
    """Give the requirements that the chosen items break; what was chosen here must keep them for certain."""
    for requirement in site.requirements:
        pair = (requirement.position, requirement.neighbour or requirement.position)
        if requirement.neighbour is None or not any(p in chosen for p in pair):
            continue
        holds = _holds(site, requirement, {**site.fitted, **chosen})
        if holds is False or (holds is None and any(p in chosen and p not in fixed for p in pair)):
            yield requirement


def _holds(site: Site, requirement: Requirement, around: Mapping[str, Item]) -> bool | None:
    own, other = around.get(requirement.position), around.get(requirement.neighbour or "")
    return compare(
        site.catalogue,
        requirement,
        other.features.get(requirement.feature) if other is not None else None,
        own.features.get(requirement.feature) if own is not None else None,
    )


def _mends(site: Site, broken: Requirement, chosen: Mapping[str, Item]) -> Iterator[tuple[str, Item]]:
    for place in (broken.position, broken.neighbour or ""):
        if place in chosen or place not in site.fitted:
            continue
        for item in reversed(candidates(site, place)):
            if _holds(site, broken, {**site.fitted, **chosen, place: item}):
                yield place, item
