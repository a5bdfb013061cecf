"""One job reasoned about: what is renewed with which item, what it takes, and what is bought."""

import math
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property

from clampgraph.replacement.change import Change, stand_ins
from clampgraph.replacement.facts import Item, Site
from clampgraph.replacement.order import Demand, Offer, Order, Plan, cheapest_order
from clampgraph.replacement.renewal import Economy, Renewal
from clampgraph.replacement.work import Step, Unit, Work, plan_work, units_for, ways_to_work

__all__ = ["Job", "used_up"]


@dataclass(frozen=True)
class Job:
    """A consistent choice of items, the renewals worth their while, and what follows from both.

    `treatment` is work on a part that stays: to clean, to set.
    """

    site: Site
    change: Change
    fixed: Mapping[str, Item]
    renewals: tuple[Renewal, ...]
    stock: Mapping[str, int]
    economy: Economy
    treatment: tuple[Step, ...] = ()

    @cached_property
    def base(self) -> Work:
        """The work with single parts: everything that must and should be renewed."""
        advised = frozenset(r.position for r in self.renewals)
        return plan_work(self.site, self.change.opening.positions | advised, (), self.treatment)

    @cached_property
    def accepted(self) -> Mapping[str, tuple[str, ...]]:
        """The items that each position of the assembly accepts, the preferred one first."""
        around = {**self.site.fitted, **self.change.items}
        return {
            position: (item.mpn,)
            if position in self.fixed
            else tuple(i.mpn for i in stand_ins(self.site, position, item, around))
            for position, item in sorted(around.items())
        }

    @cached_property
    def ways(self) -> Mapping[frozenset[str], tuple[Unit, ...]]:
        """Every way to fit groups as a whole, by the numbers of the groups."""
        if not self.base.opening.positions:
            return {frozenset(): ()}
        units = units_for(self.site, self.accepted, self.base.opening.positions)
        return {frozenset(u.item.mpn for u in way): way for way in ways_to_work(units)}

    def work(self, plan: Plan) -> Work:
        """Return the work of a plan in full."""
        return self._work(self.ways[plan.groups])

    def _work(self, way: tuple[Unit, ...]) -> Work:
        return plan_work(self.site, self.base.opening.positions, way, self.treatment)

    @cached_property
    def order(self) -> Order:
        """The cheapest order."""
        whole = {mpn for groups in self.ways for mpn in groups}
        offers = [
            Offer(i.mpn, i.price, i.contents or {i.mpn: 1}, i.mpn in whole)
            for i in self.site.catalogue.items.values()
            if i.price is not None and (i.kind in ("single", "kit") or i.mpn in whole)
        ]
        plans = [Plan(groups, self._work(way).minutes) for groups, way in self.ways.items()]
        return cheapest_order(self._demands(), offers, plans, self.stock, self.economy.per_minute)

    def _demands(self) -> list[Demand]:
        lines = [
            Demand(p, self.accepted.get(p, (f"nothing listed for {p}",)), self.site.number(p))
            for p in sorted(self.base.opening.positions)
        ]
        packs = self.site.catalogue.packs
        for consumable, count in used_up(self.site, self.base.opening.joints).items():
            accepts = tuple(i.mpn for i in packs.get(consumable, ())) or (f"nothing listed for {consumable}",)
            lines.append(Demand(consumable, accepts, count))
        return lines

    def serves(self, order: Order, mpn: str) -> tuple[str, ...]:
        """Name the positions and consumables that a thing bought serves."""
        contents = self.site.catalogue.items[mpn].contents or {mpn: 1}
        return tuple(line for line, got in sorted(order.supply.items()) if set(got) & set(contents))


def used_up(site: Site, joints: Iterable[str]) -> dict[str, int]:
    """Count the packs of every consumable that closing joints uses up; shares are added up first."""
    shares: dict[str, list[float]] = defaultdict(list)
    for joint in joints:
        for use in site.joints[joint].uses:
            shares[use.consumable].append(use.share)
    return dict(Counter({name: math.ceil(round(math.fsum(these), 9)) for name, these in sorted(shares.items())}))
