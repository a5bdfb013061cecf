"""What presses on the piston: air in one or two volumes, or oil through a valve.

Both kinds of drive answer the same four questions: the state at ambient pressure, the flows at a state, the force on
the rod, and what has come in and gone out. States are lists of eight floats: travel [m], speed [m/s], two states of
the drive, what has been supplied and what has been let out (both [kg] of air or [m³] of oil), work of the drive [J]
and heat of friction [J].

Air is isothermal at the reference temperature: filling takes up to 1.4 times as long as without any exchange of heat,
so times come out on the slow side. Flow follows ISO 6358-1, laminar above a pressure ratio of 0.995.
"""

import math
from collections.abc import Callable
from typing import Final

from clampgraph.physics.stroke.integrate import State
from clampgraph.physics.stroke.unit import AirDrive, Feed, Mechanism, OilDrive, Orifice
from clampgraph.physics.valve_flow import P_0, RHO_0

__all__ = ["AirSide", "Drive", "OilSide", "air_flow", "drive_of"]

_LAMINAR: Final = 0.995
_RT: Final = P_0 / RHO_0
"""Pressure of reference air over its density [J/kg]; the standard's own figure, so that its flows close exactly."""
_SHUT: Final = Orifice(0.0, 0.3)
_FLIP: Final = 0.1
"""Share of the chamber's gauge pressure over which a diaphragm goes from shut to open (common practice)."""

Flows = Callable[[float, float, float, float], tuple[float, float, float, float]]
"""Rates of both states of the drive, of supply and of outflow, from travel, speed and both states."""


def air_flow(C: float, b: float, p1: float, p2: float) -> float:
    """Return the mass flow [kg/s] from p1 to p2 [Pa absolute]; zero if p2 is not lower."""
    if p2 >= p1:
        return 0.0
    r = p2 / p1
    if r <= b:
        return C * RHO_0 * p1
    if r < _LAMINAR:
        z = (r - b) / (1.0 - b)
        return C * RHO_0 * p1 * math.sqrt(1.0 - z * z)
    z = (_LAMINAR - b) / (1.0 - b)
    return C * RHO_0 * p1 * math.sqrt(1.0 - z * z) * (1.0 - r) / (1.0 - _LAMINAR)


class AirSide:
    """Air drive: the states are the masses of air in chamber and line [kg]."""

    scale = (1e-7, 1e-4, 2e-8, 2e-8, 1e-6, 1e-6, 2e-3, 2e-3)
    settled = (1e-6, 1e-6)

    def __init__(self, drive: AirDrive, mechanism: Mechanism) -> None:
        self.drive, self.area = drive, mechanism.area
        self.leak = drive.leak
        self.line = drive.line_volume

    def start(self) -> State:
        """Return the state at home and ambient pressure."""
        air = self.drive.ambient / _RT
        return [0.0, 0.0, air * self.drive.dead_volume, air * self.line, 0.0, 0.0, 0.0, 0.0]

    def pressure(self, state: State) -> float:
        """Return the pressure in the chamber above ambient [Pa]."""
        return state[2] * _RT / (self.drive.dead_volume + self.area * state[0]) - self.drive.ambient

    def line_pressure(self, state: State) -> float:
        """Return the pressure in the line above ambient [Pa]; that of the chamber where no line is apart."""
        return state[3] * _RT / self.line - self.drive.ambient if self.line else self.pressure(state)

    def force(self, state: State) -> float:
        """Return the push on the rod [N]."""
        return self.pressure(state) * self.area

    def stored(self, state: State) -> float:
        """Return the air in chamber and line [kg]."""
        return state[2] + state[3]

    def outflow(self, opened: frozenset[str], state: State) -> float:
        """Return what leaves to the atmosphere in this state [kg/s], standing leaks included."""
        return self.flows(opened)(state[0], state[1], state[2], state[3])[3] + self.drive.standing.get(opened, 0.0)

    def push(self, _opened: frozenset[str]) -> Callable[[float, float, float, float], float]:
        """Return the force on the rod as a function of travel, speed and both states [N]."""
        area, dead, ambient = self.area, self.drive.dead_volume, self.drive.ambient

        def force(x: float, _v: float, chamber: float, _line: float) -> float:
            return (chamber * _RT / (dead + area * x) - ambient) * area

        return force

    def flows(self, opened: frozenset[str]) -> Flows:
        """Return the flows while these valves are open."""
        feeds, vent = self.drive.feeds[opened], self.drive.vents.get(opened, _SHUT)
        return self._two_volumes(feeds, vent) if self.line else self._one_volume(feeds, vent)

    def _one_volume(self, feeds: tuple[Feed, ...], vent: Orifice) -> Flows:
        dead, area, ambient, leak = self.drive.dead_volume, self.area, self.drive.ambient, self.leak

        def flows(x: float, _v: float, chamber: float, _line: float) -> tuple[float, float, float, float]:
            p = chamber * _RT / (dead + area * x)
            fed = sum(air_flow(f.way.C, f.way.b, f.pressure, p) for f in feeds)
            out = air_flow(vent.C, vent.b, p, ambient) + air_flow(leak, 0.3, p, ambient)
            return fed - out, 0.0, fed, out

        return flows

    def _two_volumes(self, feeds: tuple[Feed, ...], vent: Orifice) -> Flows:
        d, area, leak, line_volume = self.drive, self.area, self.leak, self.line
        dead, ambient, port, dump = d.dead_volume, d.ambient, d.port, d.dump
        shut = 1.0 - d.seat

        def flows(x: float, _v: float, chamber: float, line: float) -> tuple[float, float, float, float]:
            p, q = chamber * _RT / (dead + area * x), line * _RT / line_volume
            fed = 0.0
            for feed in feeds:
                fed += air_flow(feed.way.C, feed.way.b, feed.pressure, q)
            forward = air_flow(port.C, port.b, q, p) if q > p else -air_flow(port.C * d.back, port.b, p, q)
            gauge = p - ambient
            lifted = 0.0 if gauge < 1.0 else min(1.0, max(0.0, (shut - (q - ambient) / gauge) / _FLIP))
            opening = lifted + (1.0 - lifted) * d.torn
            out = air_flow(dump.C * opening, dump.b, p, ambient) + air_flow(leak, 0.3, p, ambient)
            lost = air_flow(vent.C, vent.b, q, ambient)
            return forward - out, fed - forward - lost, fed, out + lost

        return flows


class OilSide:
    """Oil drive: the first state is the gauge pressure in the line [Pa], the second the oil past the seal [m³]."""

    scale = (1e-7, 1e-4, 2e3, 1e-7, 1e-7, 1e-7, 2e-3, 2e-3)
    settled = (1e4, 1.0)

    def __init__(self, drive: OilDrive, mechanism: Mechanism) -> None:
        self.drive, self.area = drive, mechanism.area

    def start(self) -> State:
        """Return the state at home with the line at the pressure of the pump."""
        return [0.0, 0.0, self.drive.pressure, 0.0, 0.0, 0.0, 0.0, 0.0]

    def line_pressure(self, state: State) -> float:
        """Return the pressure in the line [Pa gauge]."""
        return state[2]

    def _capacity(self, p: float) -> float:
        d = self.drive
        charge = d.precharge + P_0
        return d.softness + (d.gas * charge / (p + P_0) ** 2 if p > d.precharge and d.gas > 0.0 else 0.0)

    def stored(self, state: State) -> float:
        """Return the oil that line, accumulator and cylinder have taken up [m³]."""
        d, p = self.drive, state[2]
        charged = d.gas * (1.0 - (d.precharge + P_0) / (p + P_0)) if p > d.precharge and d.gas > 0.0 else 0.0
        return d.softness * p + charged + (self.area - d.rear_area) * state[0]

    def outflow(self, opened: frozenset[str], state: State) -> float:
        """Return what leaks to the tank in this state [m³/s]."""
        return self.drive.leak * state[2] if self.drive.feeds.get(opened, 0.0) > 0.0 else 0.0

    def push(self, opened: frozenset[str]) -> Callable[[float, float, float, float], float]:
        """Return the force on the rod as a function of travel, speed and both states [N]."""
        area, K, back = self.area, self.drive.feeds.get(opened, 0.0), self.drive.vents.get(opened, 0.0)
        leak, rear = self.drive.leak, self.drive.rear_area

        def force(_x: float, v: float, p: float, _lost: float) -> float:
            if K > 0.0:
                flow = area * v + leak * p
                drop = flow * abs(flow) / K**2
                return area * max(0.0, p - drop) if v >= 0.0 else area * (p - drop)
            # The way back is closed where no valve opens it: a stiff column of oil then holds the rod.
            return (area * (area * v / back) ** 2 if v < 0.0 and back > 0.0 else 0.0) - rear * p

        return force

    def flows(self, opened: frozenset[str]) -> Flows:
        """Return the flows while these valves are open."""
        d, area = self.drive, self.area
        fed = d.feeds.get(opened, 0.0) > 0.0

        def flows(_x: float, v: float, p: float, _lost: float) -> tuple[float, float, float, float]:
            pumped = d.pump_flow * min(1.0, max(0.0, (d.pressure - p) / (d.droop * d.pressure)))
            lost = d.leak * p if fed else 0.0
            taken = area * v if fed else -d.rear_area * v
            out = lost + (d.rear_area * v if fed else -area * v)
            return (pumped - taken - lost) / self._capacity(p), lost, pumped, out

        return flows


Drive = AirSide | OilSide


def drive_of(drive: AirDrive | OilDrive, mechanism: Mechanism) -> Drive:
    """Return the drive that can answer for its data."""
    return AirSide(drive, mechanism) if isinstance(drive, AirDrive) else OilSide(drive, mechanism)
