r"""Filling, venting and leaking of a chamber; what its air can do when it escapes.

With the reference air of ISO 8778 the gas constant, density and temperature multiply to 1 bar exactly, so a
chamber of volume V behind a conductance C has the time constant :math:`V/(C p_0)`. All pressures are
absolute.
"""

import math
from dataclasses import dataclass
from typing import Final

import numpy as np

from clampgraph.physics.bounds import Values, between, not_above, not_negative, positive
from clampgraph.physics.valve_flow import P_0, RHO_0, T_0

__all__ = [
    "KAPPA",
    "R_0",
    "Vessel",
    "adiabatic_fill_temperature",
    "fill_time",
    "leak_conductance",
    "leak_rate",
    "pressure_rate",
    "stored_energy",
    "vent_time",
]

KAPPA: Final = 1.4
"""Ratio of the specific heats of air."""
R_0: Final = P_0 / (RHO_0 * T_0)
"""Gas constant [J/(kg·K)] that goes with the reference air."""
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(48)


@dataclass(frozen=True, slots=True)
class Vessel:
    """A chamber and its only opening: volume V [m³], conductance C [m³/(s·Pa)], critical ratio b [-]."""

    V: float
    C: float
    b: float

    def __post_init__(self) -> None:
        positive("m³", V=self.V)
        positive("m³/(s·Pa)", C=self.C)
        between(0.05, 0.6, "", b=self.b)

    @property
    def time_constant(self) -> float:
        """Time [s] in which a choked fill raises the pressure by the supply's."""
        return self.V / (self.C * P_0)


def fill_time(vessel: Vessel, *, p_s: float, p_i: float, p_f: float) -> float:
    r"""Compute the time that filling a chamber takes.

    .. math::

        t_{choked} &= \frac{V}{C p_0}(r_2 - r_1) \\
        t_{sub} &= \frac{V}{C p_0}(1-b)\left[\arcsin\frac{r_2-b}{1-b}-\arcsin\frac{r_1-b}{1-b}\right],\quad
        r = p/p_s

    Parameters
    ----------
    vessel : Vessel
        Chamber and opening; critical ratio 0.05 to 0.6.
    p_s : float
        Absolute pressure of the supply [Pa], above zero.
    p_i : float
        Absolute pressure at the start [Pa], zero (empty) to p_f.
    p_f : float
        Absolute pressure at the end [Pa], at most p_s.

    Returns
    -------
    float
        Time [s].

    Raises
    ------
    QuantityError
        If a pressure is outside its range; a chamber cannot fill above its supply.

    Notes
    -----
    Isothermal at 20 °C, which is the upper bound; a fast fill heats the air and takes down to 1/1.4 of it.
    The volume stands still. Reaching the supply pressure takes a finite time, because the ellipse is
    followed to its end; the laminar line of `flow_factor` would take a little longer over the last part.

    Examples
    --------
    >>> vessel = Vessel(V=1e-3, C=1e-8, b=0.3)
    >>> round(fill_time(vessel, p_s=7e5, p_i=1e5, p_f=6.3e5), 6)
    0.877931

    References
    ----------
    ISO 6358-1 for the flow; the integral is derived.
    """
    positive("Pa", p_s=p_s)
    not_negative("Pa", p_i=p_i)
    not_above("Pa", ("p_i", p_i), ("p_f", p_f))
    not_above("Pa", ("p_f", p_f), ("p_s", p_s))
    b, start, end = vessel.b, p_i / p_s, p_f / p_s
    choked = max(min(end, b) - start, 0.0)
    subsonic = (1 - b) * (_angle(end, b) - _angle(start, b))
    return vessel.time_constant * (choked + subsonic)


def vent_time(vessel: Vessel, *, p_i: float, p_f: float, p_a: float = 101325.0, n: float = 1.0) -> float:
    r"""Compute the time that venting a chamber takes.

    .. math::

        t = \frac{V}{n\,C p_0}\int_{p_f}^{p_i}
            \left(\frac{p}{p_i}\right)^{-\frac{n-1}{2n}}\frac{dp}{p\,\psi(p_a/p, b)}

    Parameters
    ----------
    vessel : Vessel
        Chamber and opening; critical ratio 0.05 to 0.6.
    p_i : float
        Absolute pressure at the start [Pa], not below p_f.
    p_f : float
        Absolute pressure at the end [Pa], not below p_a.
    p_a : float
        Absolute pressure outside [Pa], above zero.
    n : float
        Polytropic exponent [-]: 1 for a slow vent (isothermal), 1.4 for a fast one.

    Returns
    -------
    float
        Time [s].

    Raises
    ------
    QuantityError
        If a value is outside its range; a chamber cannot vent below the air outside.

    Notes
    -----
    The choked part has a closed form. In the subsonic part the ellipse of ISO 6358 makes the integrand smooth
    in the angle whose sine is its argument, where a Gauss rule of 48 points is exact to many digits.
    The air is at 20 °C at the start and the volume stands still.

    Examples
    --------
    >>> vessel = Vessel(V=1e-3, C=1e-8, b=0.3)
    >>> round(vent_time(vessel, p_i=7e5, p_f=3.5e5, p_a=1e5), 4)
    0.6931

    References
    ----------
    ISO 6358-1 for the flow; the integral is derived.
    """
    positive("Pa", p_a=p_a)
    not_above("Pa", ("p_a", p_a), ("p_f", p_f))
    not_above("Pa", ("p_f", p_f), ("p_i", p_i))
    between(1.0, KAPPA, "", n=n)
    between(0.0, 1e9, "Pa", p_i=p_i)
    b, exponent = vessel.b, (n - 1) / (2 * n)
    knee = min(max(p_a / b, p_f), p_i)
    choked = math.log(p_i / knee) if exponent == 0 else ((p_i / knee) ** exponent - 1) / exponent
    low, high = _angle(p_a / knee, b), _angle(p_a / p_f, b)
    angles = (high - low) / 2 * _NODES + (high + low) / 2
    ratios = b + (1 - b) * np.sin(angles)
    integrand = (1 - b) / ratios * (ratios * p_i / p_a) ** exponent
    subsonic = (high - low) / 2 * float(_WEIGHTS @ integrand)
    return vessel.time_constant / n * (choked + subsonic)


def _angle(r: float, b: float) -> float:
    """Return the angle on the ellipse of ISO 6358: 0 when choked, a right angle at equal pressures."""
    return math.asin(min(max((r - b) / (1 - b), 0.0), 1.0))


def pressure_rate(*, p: Values, V: Values, q: Values, dV: Values = 0.0, n: Values = 1.0) -> Values:
    r"""Compute how fast the pressure in a chamber changes: the right-hand side of its differential equation.

    .. math:: \frac{dp}{dt} = \frac{n}{V}\left(R T \dot m - p\,\frac{dV}{dt}\right)

    Parameters
    ----------
    p : float or array
        Absolute pressure in the chamber [Pa], zero or more.
    V : float or array
        Volume, dead volume included [m³], above zero.
    q : float or array
        R T times the mass flow in, less that out [W]; T is that of the air that flows.
    dV : float or array
        Rate of change of the volume [m³/s].
    n : float or array
        Polytropic exponent [-]: 1 isothermal, 1.4 adiabatic.

    Returns
    -------
    float or array
        Rate of change of the pressure [Pa/s], of the broadcast shape.

    Raises
    ------
    QuantityError
        If a value is outside its range; a chamber without any dead volume has no finite rate.

    Notes
    -----
    With n = 1.4 this is the energy balance without heat through the wall.

    Examples
    --------
    >>> round(pressure_rate(p=1e5, V=1e-3, q=R_0 * T_0 * 0.008295))
    700000

    References
    ----------
    Mass and energy balance of an ideal gas.
    """
    not_negative("Pa", p=p)
    positive("m³", V=V)
    between(-1e12, 1e12, "W", q=q)
    between(-1e6, 1e6, "m³/s", dV=dV)
    between(1.0, KAPPA, "", n=n)
    return n / V * (q - p * dV)


def adiabatic_fill_temperature(*, T: Values) -> Values:
    r"""Compute the air temperature in an empty chamber after a sudden fill.

    .. math:: T_{end} = \kappa\,T

    Parameters
    ----------
    T : float or array
        Temperature of the supply [K], 200 to 500.

    Returns
    -------
    float or array
        Temperature [K], of the shape of T.

    Raises
    ------
    QuantityError
        If the temperature is outside its range.

    Notes
    -----
    Without heat through the wall: an upper bound that real chambers stay well below.

    Examples
    --------
    >>> round(adiabatic_fill_temperature(T=293.15), 1)
    410.4

    References
    ----------
    Energy balance of an ideal gas (textbook, from memory).
    """
    between(200.0, 500.0, "K", T=T)
    return KAPPA * T


def leak_rate(*, V: Values, p_1: Values, p_2: Values, t: Values) -> Values:
    r"""Compute the mean leak from a pressure decay test, as flow of reference air.

    .. math:: q = \frac{V\,(p_1-p_2)}{p_0\,t}

    Parameters
    ----------
    V : float or array
        Volume that was shut off, hoses included [m³], above zero.
    p_1 : float or array
        Absolute pressure at the start [Pa], above zero.
    p_2 : float or array
        Absolute pressure at the end [Pa], zero to p_1.
    t : float or array
        Time between the readings [s], above zero.

    Returns
    -------
    float or array
        Leak [m³/s] of reference air, of the broadcast shape; zero if the pressure held.

    Raises
    ------
    QuantityError
        If a value is outside its range; a rise means an open supply, or warming air.

    Notes
    -----
    Air at 20 °C throughout: wait until it has settled, for 3 K are one per cent of the pressure.

    Examples
    --------
    >>> round(leak_rate(V=1e-3, p_1=7e5, p_2=6.4e5, t=60.0) * 6e4, 2)
    0.6

    References
    ----------
    Ideal gas at constant temperature; ISO 8778 for the reference air.
    """
    positive("m³", V=V)
    positive("Pa", p_1=p_1)
    not_negative("Pa", p_2=p_2)
    not_above("Pa", ("p_2", p_2), ("p_1", p_1))
    positive("s", t=t)
    return V * (p_1 - p_2) / (P_0 * t)


def leak_conductance(*, V: Values, p_1: Values, p_2: Values, t: Values) -> Values:
    r"""Compute the conductance of a leak from a pressure decay test.

    .. math:: C = \frac{V}{p_0\,t}\ln\frac{p_1}{p_2}

    Parameters
    ----------
    V : float or array
        Volume that was shut off, hoses included [m³], above zero.
    p_1 : float or array
        Absolute pressure at the start [Pa], above zero.
    p_2 : float or array
        Absolute pressure at the end [Pa], at least 2 bar and at most p_1.
    t : float or array
        Time between the readings [s], above zero.

    Returns
    -------
    float or array
        Sonic conductance [m³/(s·Pa)], of the broadcast shape; zero if the pressure held.

    Raises
    ------
    QuantityError
        If a value is outside its range.

    Notes
    -----
    The leak must be choked throughout, hence the 2 bar: about twice the air outside, for a critical
    ratio of 0.5. Air at 20 °C.

    Examples
    --------
    >>> f"{leak_conductance(V=1e-3, p_1=7e5, p_2=6.4e5, t=60.0):.3g}"
    '1.49e-11'

    References
    ----------
    ISO 6358-1 for the flow; the integral is derived.
    """
    positive("m³", V=V)
    positive("Pa", p_1=p_1)
    between(2e5, 1e9, "Pa", p_2=p_2)
    not_above("Pa", ("p_2", p_2), ("p_1", p_1))
    positive("s", t=t)
    conductance: Values = V / (P_0 * t) * np.log(p_1 / p_2)
    return conductance


def stored_energy(*, p: Values, V: Values, p_a: Values = 101325.0) -> Values:
    r"""Compute the energy that the air of a chamber can give up on its way out.

    .. math:: E = p V\ln\frac{p}{p_a} - (p - p_a) V

    Parameters
    ----------
    p : float or array
        Absolute pressure in the chamber [Pa], not below p_a.
    V : float or array
        Volume [m³], zero or more.
    p_a : float or array
        Absolute pressure outside [Pa], above zero.

    Returns
    -------
    float or array
        Energy [J], of the broadcast shape.

    Raises
    ------
    QuantityError
        If a value is outside its range.

    Notes
    -----
    Isothermal: the upper bound, for judging the hazard. The energy of a spring stack comes on top.

    Examples
    --------
    >>> round(stored_energy(p=7e5, V=1e-3, p_a=1e5))
    762

    References
    ----------
    Exergy of an ideal gas at the temperature of its surroundings.
    """
    positive("Pa", p_a=p_a)
    between(0.0, 1e9, "Pa", p=p)
    not_above("Pa", ("p_a", p_a), ("p", p))
    not_negative("m³", V=V)
    energy: Values = p * V * np.log(p / p_a) - (p - p_a) * V
    return energy
