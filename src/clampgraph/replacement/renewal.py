r"""What should be renewed in the same visit: the chance to fail within a horizon against the price of now.

The stated rate :math:`\lambda` of a failure mode is taken as its average over a service life L; with a Weibull
shape :math:`\beta` the failures to expect between the ages a and a + h are

.. math:: H = \lambda L\left[\left(\tfrac{a+h}{L}\right)^\beta-\left(\tfrac{a}{L}\right)^\beta\right]

and the chance of at least one is :math:`1-e^{-H}`. Only modes that are ended by a new part count.
"""

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from clampgraph.assembly.knowledge import ComponentType
from clampgraph.replacement.access import Opening, least_opening
from clampgraph.replacement.facts import Site, Wear

__all__ = ["Economy", "Renewal", "chance_to_fail", "worth_renewing"]

_NEW_PART = ("replace", "rebuild")


@dataclass(frozen=True, slots=True)
class Economy:
    """What time, visits and years cost: labour [EUR/h], another visit [EUR], horizon [yr]."""

    labour_rate: float
    visit: float
    horizon: float

    @property
    def per_minute(self) -> float:
        """Labour rate [EUR/min]."""
        return self.labour_rate / 60.0


@dataclass(frozen=True, slots=True)
class Renewal:
    """The arithmetic of one renewal: what it costs now, and what waiting is expected to cost."""

    position: str
    age: float
    chance: float
    price: float
    minutes_now: float
    minutes_later: float
    now: float
    later: float
    shared: tuple[str, ...]

    @property
    def worthwhile(self) -> bool:
        """Whether waiting is expected to cost more."""
        return self.later > self.now


def chance_to_fail(kind: ComponentType, wear: Mapping[str, Wear], age: float, horizon: float) -> float:
    """Return the chance that a component of an age [yr] needs a new part within a horizon [yr].

    Examples
    --------
    A type without failure modes never fails:

    >>> chance_to_fail(ComponentType("", "", "", "", "", "", ()), {}, 10.0, 3.0)
    0.0
    """
    expected = 0.0
    for mode in kind.modes.values():
        pattern = wear.get(mode.mechanism)
        if pattern is not None and any(r.action.startswith(_NEW_PART) for r in mode.remedies):
            grown = ((age + horizon) / pattern.life) ** pattern.shape - (age / pattern.life) ** pattern.shape
            expected += mode.rate * pattern.life * grown
    return -math.expm1(-expected)


def worth_renewing(site: Site, opening: Opening, ages: Mapping[str, float], economy: Economy) -> tuple[Renewal, ...]:
    """Weigh every position that shares a medium with a renewed one and is not renewed itself, the best saving first.

    Each is weighed by itself against the job as it stands, so the order of weighing changes nothing.
    """
    shared = {medium for p in opening.positions for medium in _media(site, p)}
    found = []
    for position in sorted(site.fitted):
        media = tuple(sorted(shared & _media(site, position)))
        if position not in opening.positions and media and site.fitted[position].price is not None:
            age = ages.get(position, site.assembly.exposure)
            found.append(_weigh(site, opening, (position, age, media), economy))
    return tuple(sorted(found, key=lambda r: (round(r.now - r.later, 6), r.position)))


def _media(site: Site, position: str) -> set[str]:
    return {port.medium for port in site.assembly.positions[position].type.ports.values()}


def _weigh(site: Site, opening: Opening, place: tuple[str, float, tuple[str, ...]], economy: Economy) -> Renewal:
    position, age, media = place
    kind = site.assembly.positions[position].type
    chance = chance_to_fail(kind, site.catalogue.wear, age, economy.horizon)
    together = least_opening(site, opening.positions | {position})
    alone = least_opening(site, (position,))
    more = together.minutes - opening.minutes
    price_now = _price(site, together.positions - opening.positions)
    now = price_now + economy.per_minute * more
    later = chance * (economy.visit + _price(site, alone.positions) + economy.per_minute * alone.minutes)
    return Renewal(position, age, chance, price_now, more, alone.minutes, now, later, media)


def _price(site: Site, positions: Iterable[str]) -> float:
    return sum((site.fitted[p].price or 0.0) * site.number(p) for p in sorted(positions) if p in site.fitted)
