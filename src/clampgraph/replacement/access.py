"""What has to come off: the closure of what opening joints spoils, over the cheapest ways in.

For a fixed choice of routes the closure is the least set that contains the wanted positions and, with every
position, the joints that hold it; with every joint, what must be open before it; with every open joint, the
positions that it spoils. It grows with the wanted positions and adds nothing when taken twice.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from clampgraph.replacement.facts import Joint, Site

__all__ = ["Opening", "before", "closure", "least_opening", "opening_order"]

_SAME = 1e-9
"""Minutes that differ by less are the same."""


@dataclass(frozen=True, slots=True)
class Opening:
    """The positions to renew, the joints to open on the chosen routes, and the minutes to open and close them.

    `stuck` joints wait for one another whatever route is taken: an error in the data, told and not hidden.
    """

    positions: frozenset[str]
    joints: frozenset[str]
    routes: Mapping[str, int]
    minutes: float
    stuck: frozenset[str]


def before(joint: Joint, routes: Mapping[str, int]) -> frozenset[str]:
    """Return the joints that must be open before a joint; of several routes only the chosen one counts."""
    if not joint.routes or (len(joint.routes) > 1 and joint.id not in routes):
        return joint.after
    return joint.after | joint.routes[routes.get(joint.id, 0)]


def closure(
    site: Site, wanted: Iterable[str], routes: Mapping[str, int], closed: frozenset[str] = frozenset()
) -> tuple[frozenset[str], frozenset[str]]:
    """Return all positions to renew and all joints to open when some positions are wanted.

    Parameters
    ----------
    site
        The assembly with its joints.
    wanted
        Positions to renew.
    routes
        Index of the chosen route by joint; where none is chosen of several, none is taken.
    closed
        Joints that stay closed because they lie inside a unit that is exchanged whole.
    """
    positions: set[str] = set()
    joints: set[str] = set()
    waiting = list(wanted)
    while waiting:
        position = waiting.pop()
        if position in positions:
            continue
        positions.add(position)
        reach = [j for j in site.holding[position] if j not in closed]
        while reach:
            joint = reach.pop()
            if joint not in joints:
                joints.add(joint)
                reach.extend(before(site.joints[joint], routes) - closed)
                waiting.extend(site.joints[joint].disturbs)
    return frozenset(positions), frozenset(joints)


def opening_order(
    site: Site, joints: frozenset[str], routes: Mapping[str, int]
) -> tuple[tuple[str, ...], frozenset[str]]:
    """Return joints in an order in which they can be opened, and those that wait for one another for ever."""
    order: list[str] = []
    left = set(joints)
    while left:
        ready = sorted(j for j in left if not before(site.joints[j], routes) & left)
        if not ready:
            return tuple(order), frozenset(left)
        order.extend(ready)
        left.difference_update(ready)
    return tuple(order), frozenset()


def least_opening(site: Site, wanted: Iterable[str], closed: frozenset[str] = frozenset()) -> Opening:
    """Return the opening of least time over all routes.

    Among openings of the same time the one with fewer positions wins, then the one whose names come first,
    so that the answer never depends on the order of the data.
    Branch and bound over routes: the closure only grows as routes are fixed, and so does its time.
    """
    targets = frozenset(wanted)
    best: tuple[tuple[object, ...], Opening] | None = None
    pending: list[dict[str, int]] = [{}]
    while pending:
        routes = pending.pop()
        found, forks = _settled(site, targets, routes, closed)
        if best is not None and not best[1].stuck and found.minutes > best[1].minutes + _SAME:
            continue
        if forks:
            joint = forks[0]
            pending.extend({**routes, joint: index} for index in range(len(site.joints[joint].routes)))
            continue
        key = _key(found)
        if best is None or key < best[0]:
            best = key, found
    return best[1] if best is not None else Opening(targets, frozenset(), {}, 0.0, frozenset())


def _key(found: Opening) -> tuple[object, ...]:
    return (
        len(found.stuck), round(found.minutes, 6), len(found.positions), sorted(found.positions),
        len(found.joints), sorted(found.joints), sorted(found.routes.items()),
    )  # fmt: skip


def _settled(
    site: Site, targets: frozenset[str], routes: Mapping[str, int], closed: frozenset[str]
) -> tuple[Opening, list[str]]:
    """Return the opening on the routes settled so far, and the joints whose route is still open, by name."""
    positions, joints = closure(site, targets, routes, closed)
    forks = sorted(j for j in joints if len(site.joints[j].routes) > 1 and j not in routes)
    minutes = sum(site.joints[j].minutes for j in joints)
    stuck = frozenset() if forks else opening_order(site, joints, routes)[1]
    used = {j: routes.get(j, 0) for j in joints if site.joints[j].routes}
    return Opening(positions, joints, used, minutes, stuck), forks
