"""Plans of work: which groups can be fitted as a whole, what then has to be opened, and in which order."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from itertools import chain

from clampgraph.replacement.access import Opening, least_opening, opening_order
from clampgraph.replacement.facts import Item, Joint, Site, WorkStep

__all__ = ["Step", "Unit", "Work", "plan_work", "units_for", "ways_to_work"]


@dataclass(frozen=True, slots=True)
class Unit:
    """A group or exchange unit that fits the assembly as a whole, and the positions it fills."""

    item: Item
    positions: frozenset[str]


@dataclass(frozen=True, slots=True)
class Step:
    """One step: `kind` is before, open, renew, between, close or after; a renewal is timed by opening and closing."""

    kind: str
    label: str
    minutes: float
    tools: tuple[str, ...] = ()
    joint: str | None = None
    positions: tuple[str, ...] = ()


@dataclass(frozen=True)
class Work:
    """A plan of work in full: units fitted whole, what is opened, the steps, and the time with verification [min]."""

    units: tuple[Unit, ...]
    opening: Opening
    steps: tuple[Step, ...]
    minutes: float


def units_for(site: Site, accepted: Mapping[str, Iterable[str]], lines: frozenset[str]) -> tuple[Unit, ...]:
    """Return the groups and exchange units that fill positions with accepted items and serve at least one line.

    Parameters
    ----------
    site
        The assembly.
    accepted
        Numbers of the items that each position accepts.
    lines
        The positions to renew.
    """
    takes = {position: frozenset(items) for position, items in accepted.items()}
    found = []
    for _, item in sorted(site.catalogue.items.items()):
        if item.kind in ("group", "exchange-unit") and item.price is not None:
            places = _places(site, item, takes)
            if places is not None and places & lines:
                found.append(Unit(item, places))
    return tuple(found)


def _places(site: Site, unit: Item, takes: Mapping[str, frozenset[str]]) -> frozenset[str] | None:
    """Find a position for every piece that belongs at one; pieces without a component type are fittings."""
    taken: set[str] = set()
    for mpn, count in sorted(unit.contents.items()):
        piece = site.catalogue.items.get(mpn)
        if piece is None:
            return None
        if piece.type is None:
            continue
        places = (p for p in sorted(takes) if p not in taken and mpn in takes[p] and site.number(p) == count)
        place = next(places, None)
        if place is None:
            return None
        taken.add(place)
    return frozenset(taken)


def ways_to_work(units: tuple[Unit, ...]) -> tuple[tuple[Unit, ...], ...]:
    """Return every set of units no two of which fill the same position; the empty one first."""
    ways: list[tuple[Unit, ...]] = [()]
    for unit in units:
        ways.extend([(*way, unit) for way in ways if not any(u.positions & unit.positions for u in way)])
    return tuple(ways)


def plan_work(site: Site, lines: Iterable[str], units: tuple[Unit, ...] = (), treatment: tuple[Step, ...] = ()) -> Work:
    """Return the work to renew positions, with some of them filled by units that stay closed inside.

    `treatment` is work on what stays: to clean, to set.
    """
    whole = frozenset(chain.from_iterable(u.positions for u in units))
    # What lies between pieces of one unit stays closed; what holds a piece to the machine is opened all the same.
    closed = frozenset(
        j.id for j in site.joints.values() if len(j.joins) > 1 and any(j.joins <= u.positions for u in units)
    )
    opening = least_opening(site, frozenset(lines) | whole, closed)
    order, stuck = opening_order(site, opening.joints, opening.routes)
    joints = [site.joints[j] for j in (*order, *sorted(stuck))]
    steps = (
        *(_fixed(s) for s in _called(site, joints, "before")),
        *(_open(j) for j in joints),
        *_renewals(opening, units),
        *treatment,
        *(_fixed(s) for s in _called(site, joints, "between")),
        *(_close(j, whole) for j in reversed(joints)),
        *(_fixed(s) for s in _called(site, joints, "after")),
    )
    checks = sum(v.minutes for v in site.catalogue.verifications if not v.types or _has(site, v.types))
    return Work(units, opening, steps, sum(s.minutes for s in steps) + checks)


def _has(site: Site, types: frozenset[str]) -> bool:
    return any(types & set(lineage) for lineage in site.types.values())


def _called(site: Site, joints: Iterable[Joint], stage: str) -> list[WorkStep]:
    rules = {joint.rule for joint in joints}
    return [s for s in site.catalogue.steps if s.stage == stage and (not s.rules or s.rules & rules)]


def _fixed(step: WorkStep) -> Step:
    return Step(step.stage, step.label, step.minutes, step.tools)


def _open(joint: Joint) -> Step:
    return Step("open", f"open: {joint.label}", joint.open_minutes, joint.tools, joint.id, tuple(sorted(joint.joins)))


def _close(joint: Joint, whole: frozenset[str]) -> Step:
    minutes = joint.close_minutes_new if joint.joins & whole else joint.close_minutes
    tools = (*joint.tools, *(use.label for use in joint.uses))
    return Step("close", f"close: {joint.label}", minutes, tools, joint.id, tuple(sorted(joint.joins)))


def _renewals(opening: Opening, units: tuple[Unit, ...]) -> Iterable[Step]:
    whole = frozenset(chain.from_iterable(u.positions for u in units))
    for unit in units:
        yield Step("renew", f"exchange as a whole: {unit.item.label}", 0.0, (), None, tuple(sorted(unit.positions)))
    for position in sorted(opening.positions - whole):
        yield Step("renew", f"renew: {position}", 0.0, (), None, (position,))
