"""What a cycle shows: times, speeds, forces, travels, air and leaks, and how well the books close."""

from dataclasses import dataclass
from typing import Final

from clampgraph.physics.stroke.cycle import Cycle
from clampgraph.physics.stroke.drives import AirSide
from clampgraph.physics.stroke.forces import clamping_force, needed_force, stored_energy
from clampgraph.physics.valve_flow import RHO_0

__all__ = ["DIMENSIONS", "Book", "books", "observe"]

MASS_LIMIT: Final = 1e-9
"""Share of what was supplied by which the account of air may be off."""
VOLUME_LIMIT: Final = 1e-3
"""The same for oil, whose pressure is integrated and not its volume."""
ENERGY_LIMIT: Final = 5e-3
"""Share of the work of the drive by which the account of energy may be off."""

DIMENSIONS: Final = {
    "contact-speed": "speed",
    "impact-energy": "energy",
    "approach-travel": "length",
    "approach-share": "ratio",
    "release-time": "time",
    "return-time": "time",
    "cycle-time": "time",
    "end-speed": "speed",
    "home-speed": "speed",
    "home-energy": "energy",
    "peak-force": "force",
    "steady-force": "force",
    "needed-force": "force",
    "force-margin": "force",
    "relative-margin": "ratio",
    "drawbar-travel": "length",
    "push-out": "length",
    "gap-at-rest": "length",
    "home-travel": "length",
    "unreturned-share": "ratio",
    "taper-force": "force",
    "clamping-force": "force",
    "supply-pressure": "gauge-pressure",
    "approach-pressure": "gauge-pressure",
    "air-per-cycle": "volume",
    "oil-per-cycle": "volume",
    "leak-at-rest": "flow",
    "leak-while-held": "flow",
}
"""Dimension of every observable; one that a unit or a cycle does not have is left out."""


@dataclass(frozen=True, slots=True)
class Book:
    """One account of conservation: its relative error, and the error that is allowed."""

    name: str
    error: float
    limit: float


def observe(cycle: Cycle) -> dict[str, float]:
    """Return what the cycle shows, by name, in SI units.

    A time is missing when its end was never reached, a contact speed when nothing was touched.
    """
    mech = cycle.unit.mechanism
    found = _motion(cycle) | _forces(cycle)
    out = (cycle.phase("held") or cycle.phases[-1]).travel
    drawbar = max(0.0, out - mech.gap)
    found["drawbar-travel"] = drawbar
    found["push-out"] = max(0.0, drawbar - mech.opening)
    found["gap-at-rest"] = max(0.0, mech.gap - max(cycle.last[0], cycle.rest_travel))
    found["home-travel"] = cycle.last[0]
    found["unreturned-share"] = cycle.last[0] / farthest if (farthest := max(s.travel for s in cycle.samples)) else 0.0
    found["taper-force"] = mech.taper_force
    found["clamping-force"] = clamping_force(mech) if cycle.last[0] <= mech.gap else 0.0
    spent = cycle.last[4] - cycle.first[4]
    if isinstance(cycle.side, AirSide):
        drive = cycle.side.drive
        sources = sorted({feed.pressure - drive.ambient for feeds in drive.feeds.values() for feed in feeds})
        if sources:
            found["supply-pressure"] = sources[-1]
        if len(sources) > 1:
            found["approach-pressure"] = sources[0]
        found["air-per-cycle"] = spent / RHO_0
        found["leak-at-rest"] = cycle.rest_leak / RHO_0
        found["leak-while-held"] = cycle.held_leak / RHO_0
    else:
        found["supply-pressure"] = cycle.side.drive.pressure
        found["oil-per-cycle"] = spent
        found["leak-while-held"] = cycle.held_leak
    return found


def _motion(cycle: Cycle) -> dict[str, float]:
    found: dict[str, float] = {}
    approach, release, reclamp = (cycle.phase(name) for name in ("approach", "release", "reclamp"))
    if approach is not None:
        gap = cycle.unit.mechanism.gap
        found["approach-travel"] = min(approach.travel, gap)
        found["approach-share"] = min(approach.travel / gap, 1.0) if gap > 0.0 else 1.0
    contacts = cycle.in_phases("contact", "approach", "release")
    if contacts:
        hardest = max(contacts, key=lambda h: h.speed)
        found["contact-speed"], found["impact-energy"] = hardest.speed, hardest.energy
    if release is not None and release.end == release.start:
        found["release-time"] = release.end
    for end in cycle.in_phases("end of stroke", "release")[-1:]:
        found["release-time"], found["end-speed"] = end.time, end.speed
    for home in cycle.in_phases("home", "reclamp")[-1:]:
        if reclamp is not None:
            found["return-time"], found["cycle-time"] = home.time - reclamp.start, home.time
            found["home-speed"], found["home-energy"] = home.speed, home.energy
    return found


def _forces(cycle: Cycle) -> dict[str, float]:
    mech = cycle.unit.mechanism
    needed = needed_force(mech)
    held = cycle.phase("held") or cycle.phases[-1]
    steady = next(s.force for s in reversed(cycle.samples) if s.time <= held.end)
    margin = steady * (1.0 - mech.pressure_drag / mech.area) - needed
    return {
        "peak-force": max(s.force for s in cycle.samples),
        "steady-force": steady,
        "needed-force": needed,
        "force-margin": margin,
        "relative-margin": margin / needed,
    }


def books(cycle: Cycle) -> tuple[Book, ...]:
    """Return the accounts of mass (or volume) and energy over the whole cycle."""
    first, last, side, mech = cycle.first, cycle.last, cycle.side, cycle.unit.mechanism
    kept = side.stored(last) - side.stored(first)
    supplied, let_out = last[4] - first[4], last[5] - first[5]
    size = max(supplied, side.stored(first), 1e-12)
    energy = stored_energy(mech)
    moving = 0.5 * (mech.mass + mech.drawbar_mass) * last[1] ** 2
    work, heat = last[6] - first[6], last[7] - first[7]
    gained = energy(last[0]) - energy(first[0]) + moving
    turnover = max(heat, abs(work), energy(max(s.travel for s in cycle.samples)), 1e-3)
    name, limit = ("mass", MASS_LIMIT) if isinstance(side, AirSide) else ("volume", VOLUME_LIMIT)
    return (
        Book(name, abs(supplied - let_out - kept) / size, limit),
        Book("energy", abs(work - heat - gained) / turnover, ENERGY_LIMIT),
    )
