"""One tool change from rest to rest: arcs of smooth motion, joined where something happens.

Between two happenings the sense of motion, what moves, and which valves are open are fixed, so the equations are
smooth: friction has a constant sign and the stack stays on one branch. What ends an arc: contact with the drawbar,
the end of the stroke, the drawbar seating, the rod coming home, motion dying out, breaking loose again, a valve
switching. Impacts are plastic: rod and drawbar go on together, or the rod stops where the stack holds against it.
"""

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final

from clampgraph.physics.stroke.drives import Drive, drive_of
from clampgraph.physics.stroke.forces import resistance
from clampgraph.physics.stroke.integrate import Event, Rates, State, integrate
from clampgraph.physics.stroke.unit import Unit, Valve

if TYPE_CHECKING:
    from collections.abc import Callable

__all__ = ["Cycle", "Happening", "Phase", "Sample", "run"]

_NEAR: Final = 1e-9
_REST: Final = 3.0
_TAIL: Final = 0.2
_ARCS: Final = 400


@dataclass(frozen=True, slots=True)
class Sample:
    """State at one instant: time [s], travel [m], speed [m/s], gauge pressures [Pa], force of the drive [N]."""

    time: float
    travel: float
    speed: float
    pressure: float
    line_pressure: float
    force: float


@dataclass(frozen=True, slots=True)
class Happening:
    """What happened when [s], at which speed [m/s] and with how much energy of the moving parts [J]."""

    name: str
    time: float
    speed: float = 0.0
    energy: float = 0.0


@dataclass(frozen=True, slots=True)
class Phase:
    """A phase of the cycle, from start to end [s], and the travel of the rod at its end [m]."""

    name: str
    start: float
    end: float
    travel: float


@dataclass
class Cycle:
    """A simulated cycle: its unit, drive, phases, happenings and samples, and what leaked when [kg/s or m³/s]."""

    unit: Unit
    side: Drive
    phases: list[Phase] = field(default_factory=list)
    happenings: list[Happening] = field(default_factory=list)
    samples: list[Sample] = field(default_factory=list)
    first: State = field(default_factory=list)
    last: State = field(default_factory=list)
    rest_travel: float = 0.0
    rest_leak: float = 0.0
    held_leak: float = 0.0
    held: State = field(default_factory=list)

    def in_phases(self, name: str, *phases: str) -> list[Happening]:
        """Return the happenings of a name that fall into some phases."""
        spans = [(p.start, p.end) for p in self.phases if p.name in phases]
        return [h for h in self.happenings if h.name == name and any(a <= h.time <= b for a, b in spans)]

    def phase(self, name: str) -> Phase | None:
        """Return a phase by name, if the cycle has it."""
        return next((p for p in self.phases if p.name == name), None)


def run(unit: Unit) -> Cycle:
    """Simulate one tool change.

    Raises
    ------
    DataError
        If a volume or a mass is so small that the equations cannot be integrated.
    """
    mover = _Mover(unit)
    cycle = mover.cycle
    mover.advance(_REST, until_settled=True)
    cycle.rest_travel, cycle.rest_leak = mover.state[0], cycle.side.outflow(mover.opened, mover.state)
    mover.restart()
    if unit.timing.approach > 0.0:
        mover.enter("approach", unit.timing.approach)
    mover.enter("release", unit.timing.patience, goal="end of stroke")
    mover.enter("held", unit.timing.held)
    cycle.held_leak, cycle.held = cycle.side.outflow(mover.opened, mover.state), mover.state
    mover.enter("reclamp", unit.timing.patience, goal="home")
    mover.enter("clamped", _TAIL)
    cycle.last = mover.state
    return cycle


class _Mover:
    """The moving state of a cycle; `motion` is 1 outwards, -1 homewards, 0 at a standstill."""

    def __init__(self, unit: Unit) -> None:
        self.unit, self.mech = unit, unit.mechanism
        self.side = drive_of(unit.drive, unit.mechanism)
        self.cycle = Cycle(unit, self.side)
        self.time, self.state, self.motion = 0.0, self.side.start(), 0
        self.opened: frozenset[str] = frozenset()
        self.commanded: frozenset[str] = frozenset()
        self.pending: list[tuple[float, Valve, bool]] = []
        self.reached: set[str] = set()

    def restart(self) -> None:
        """Set clock and accounts to zero: the cycle begins here."""
        self.time, self.cycle.happenings, self.cycle.samples = 0.0, [], []
        self.state = [*self.state[:4], 0.0, 0.0, 0.0, 0.0]
        self.cycle.first = self.state
        self._sample(0.0, self.state)

    def enter(self, phase: str, seconds: float, goal: str = "") -> None:
        """Command the valves of a phase and move on until its goal is reached or its time is over."""
        start = self.time
        wanted = frozenset(v.name for v in self.unit.valves if phase in v.phases)
        for valve in self.unit.valves:
            if (valve.name in wanted) != (valve.name in self.commanded):
                on = valve.name in wanted
                self.pending.append((start + (valve.on if on else valve.off), valve, on))
        self.pending.sort(key=lambda entry: entry[0])
        self.commanded = wanted
        self.reached.clear()
        self.advance(start + seconds, goal=goal)
        self.cycle.phases.append(Phase(phase, start, self.time, self.state[0]))

    def advance(self, until: float, goal: str = "", *, until_settled: bool = False) -> None:
        """Move on to a time, or until the goal is reached or everything stands still."""
        if goal and self._is_at(goal):
            return
        for _ in range(_ARCS):
            self._switch()
            if self.time >= until or (goal and goal in self.reached):
                return
            horizon = min([until, *(t for t, _, _ in self.pending)])
            if self.motion == 0:
                self.motion = self._breaks_loose()
            if self.motion != 0:
                self._move(horizon)
            elif self._stand(horizon) and until_settled:
                return
        # A rod that hops in ever smaller steps rests for the remainder.
        self.motion, self.state = 0, [self.state[0], 0.0, *self.state[2:]]
        self._pass_time(until)

    def _is_at(self, goal: str) -> bool:
        place = self.mech.stroke if goal == "end of stroke" else 0.0
        if abs(self.state[0] - place) > _NEAR or (goal == "home" and self.commanded):
            return False
        standing = self.motion == 0 and self._breaks_loose() == 0
        return standing and (goal == "end of stroke" or self.side.line_pressure(self.state) < 1e4)

    def _switch(self) -> None:
        while self.pending and self.pending[0][0] <= self.time + 1e-12:
            _, valve, on = self.pending.pop(0)
            self.opened = self.opened | {valve.name} if on else self.opened - {valve.name}
            self._happen(f"{valve.name} {'opens' if on else 'closes'}")

    def _happen(self, name: str, speed: float = 0.0, energy: float = 0.0) -> None:
        self.cycle.happenings.append(Happening(name, self.time, speed, energy))

    def _sample(self, time: float, state: State) -> None:
        push = self.side.push(self.opened)(state[0], state[1], state[2], state[3])
        chamber = push / self.mech.area
        self.cycle.samples.append(Sample(time, state[0], state[1], chamber, self.side.line_pressure(state), push))

    # What holds the rod, and when it breaks loose.

    def _margins(self) -> tuple[Event | None, Event | None]:
        """Return by how much the drive exceeds what holds the rod, outwards and homewards [N]."""
        mech, x, share = self.mech, self.state[0], self.mech.pressure_drag / self.mech.area
        push = self.side.push(self.opened)
        outwards: Event | None = None
        homewards: Event | None = None
        if x < mech.stroke - _NEAR:
            touching = x >= mech.gap - _NEAR
            held = resistance(mech, 1, joined=touching)(x) + self._friction(joined=touching)
            outwards = lambda y: push(x, 0.0, y[2], y[3]) * (1.0 - share) - held  # noqa: E731  # one of two alike
        if x > _NEAR:
            lifted = x > mech.gap + _NEAR
            back = resistance(mech, -1, joined=lifted)(x) - self._friction(joined=lifted)
            homewards = lambda y: back - push(x, 0.0, y[2], y[3]) * (1.0 + share)  # noqa: E731  # the other one
        return outwards, homewards

    def _friction(self, *, joined: bool) -> float:
        return self.mech.friction + (self.mech.drawbar_friction if joined else 0.0)

    def _breaks_loose(self) -> int:
        outwards, homewards = self._margins()
        if outwards is not None and outwards(self.state) > 0.0:
            return 1
        return -1 if homewards is not None and homewards(self.state) > 0.0 else 0

    # Standing still: only the drive changes.

    def _stand(self, horizon: float) -> bool:
        """Let the drive settle; return whether nothing changes any more."""
        flows, x = self.side.flows(self.opened), self.state[0]
        first, second = self.side.settled

        def calm(y: State) -> float:
            a, b, _, _ = flows(x, 0.0, y[2], y[3])
            return 1.0 - max(abs(a) / first, abs(b) / second)

        def rates(y: State) -> State:
            a, b, fed, out = flows(x, 0.0, y[2], y[3])
            return [0.0, 0.0, a, b, fed, out, 0.0, 0.0]

        if calm(self.state) >= 0.0:
            self._pass_time(horizon)
            return True
        events = [event for event in self._margins() if event is not None]
        ended = self._integrate(rates, horizon, [*events, calm])
        if ended is not None and ended < len(events):
            outwards = events[ended] is events[0] and self.state[0] < self.mech.stroke - _NEAR
            self.motion = 1 if outwards else -1
        return False

    def _pass_time(self, until: float) -> None:
        """Let time pass in a steady state: what comes in goes out, and only the accounts go on."""
        _, _, fed, _ = self.side.flows(self.opened)(self.state[0], 0.0, self.state[2], self.state[3])
        through = fed * (until - self.time)
        self._sample(self.time, self.state)
        self.state = [*self.state[:4], self.state[4] + through, self.state[5] + through, *self.state[6:]]
        self.time = until
        self._sample(until, self.state)

    # Moving: rod alone, or rod and drawbar together.

    def _move(self, horizon: float) -> None:
        mech, motion = self.mech, self.motion
        joined = self.state[0] > mech.gap + _NEAR or (self.state[0] >= mech.gap - _NEAR and motion > 0)
        ends: list[tuple[Event, Callable[[], None]]] = []
        if motion > 0:
            if not joined and mech.gap < mech.stroke:
                ends.append((lambda y: y[0] - mech.gap, self._touch))
            ends.append((lambda y: y[0] - mech.stroke, lambda: self._stop_at(mech.stroke, "end of stroke")))
            ends.append((lambda y: -y[1] - _NEAR, self._die_out))
        else:
            place = (lambda y: mech.gap - y[0], self._seat) if joined else (
                lambda y: -y[0], lambda: self._stop_at(0.0, "home"))  # fmt: skip
            ends += [place, (lambda y: y[1] - _NEAR, self._die_out)]
        ended = self._integrate(self._moving(joined=joined), horizon, [event for event, _ in ends])
        if ended is not None:
            ends[ended][1]()

    def _moving(self, *, joined: bool) -> Rates:
        motion, mech = self.motion, self.mech
        push, flows = self.side.push(self.opened), self.side.flows(self.opened)
        resist, elastic = resistance(mech, motion, joined=joined), resistance(mech, 0, joined=joined)
        drag, damping = motion * self._friction(joined=joined), mech.damping
        pressed = motion * mech.pressure_drag / mech.area
        mass = mech.mass + (mech.drawbar_mass if joined else 0.0)

        def rates(y: State) -> State:
            x, v, a, b = y[0], y[1], y[2], y[3]
            force, back = push(x, v, a, b), resist(x)
            lost = drag + pressed * force + damping * v
            da, db, fed, out = flows(x, v, a, b)
            return [v, (force - back - lost) / mass, da, db, fed, out, force * v, (back - elastic(x) + lost) * v]

        return rates

    def _integrate(self, rates: Rates, horizon: float, events: list[Event]) -> int | None:
        arc = integrate(rates, self.state, (self.time, horizon), events, self.side.scale)
        for time, state in zip(arc.times, arc.states, strict=True):
            self._sample(time, state)
        if arc.times:
            self.time, self.state = arc.times[-1], arc.states[-1]
        return arc.event

    def _set(self, travel: float, speed: float, heat: float) -> None:
        self.state = [travel, speed, *self.state[2:7], self.state[7] + heat]

    def _touch(self) -> None:
        """Meet the drawbar: go on together if the drive can lift it, else stop where it stands."""
        mech, v = self.mech, self.state[1]
        energy = 0.5 * mech.mass * v * v
        self._happen("contact", v, energy)
        self._set(mech.gap, 0.0, 0.0)
        if self._breaks_loose() > 0:
            both = mech.mass + mech.drawbar_mass
            self._set(mech.gap, v * mech.mass / both, energy * mech.drawbar_mass / both)
        else:
            self.motion = 0
            self._set(mech.gap, 0.0, energy)

    def _seat(self) -> None:
        """Leave the drawbar on its seat; the rod goes on alone, unless the drive still presses it on."""
        mech, v = self.mech, self.state[1]
        seated, alone = 0.5 * mech.drawbar_mass * v * v, 0.5 * mech.mass * v * v
        self._happen("drawbar seats", -v, seated + alone)
        self._set(mech.gap, 0.0, 0.0)
        if self._breaks_loose() < 0:
            self._set(mech.gap - 2 * _NEAR, v, seated)
        else:
            self.motion = 0
            self._set(mech.gap, 0.0, seated + alone)

    def _stop_at(self, place: float, name: str) -> None:
        v = self.state[1]
        mass = self.mech.mass + (self.mech.drawbar_mass if place > self.mech.gap else 0.0)
        energy = 0.5 * mass * v * v
        self._happen(name, abs(v), energy)
        self._set(place, 0.0, energy)
        self.motion = 0
        self.reached.add(name)

    def _die_out(self) -> None:
        self._set(self.state[0], 0.0, 0.0)
        self.motion = 0
