r"""Air flow through valves, tubes and leaks by sonic conductance and critical ratio (ISO 6358-1).

Up to the critical pressure ratio b the flow depends on the upstream pressure alone; above it an ellipse leads
down to no flow at equal pressures. The ellipse ends with an infinite slope, so its last part is replaced by a
straight line: small differences flow laminar anyway, and a simulation stays well behaved. Pressures are
absolute.
"""

import math
from typing import Final, NamedTuple

import numpy as np

from clampgraph.physics.bounds import Values, between, not_above, not_negative, positive

__all__ = [
    "KV_PER_CV",
    "LAMINAR_RATIO",
    "P_0",
    "RHO_0",
    "T_0",
    "Estimate",
    "conductance_from_cv",
    "conductance_from_kv",
    "critical_ratio",
    "effective_area",
    "flow_factor",
    "free_air_flow",
    "mass_flow",
    "parallel_conductance",
    "series_conductance",
]

P_0: Final = 1e5
"""Reference pressure [Pa] (ISO 8778)."""
T_0: Final = 293.15
"""Reference temperature [K] (ISO 8778)."""
RHO_0: Final = 1.185
"""Density of reference air [kg/m³] as ISO 6358 uses it; humid-air models give 0.25 per cent less."""
LAMINAR_RATIO: Final = 0.999
"""Pressure ratio above which the straight line replaces the ellipse."""
KV_PER_CV: Final = 0.865
"""Kv [m³/h] of a valve with Cv = 1 (IEC 60534-1)."""

_C_PER_KV: Final = 4.57e-8
_CONVERSION_ERROR: Final = 0.15


class Estimate(NamedTuple):
    """A converted value with the range that its conversion leaves open."""

    value: Values
    low: Values
    high: Values


def flow_factor(*, r: Values, b: Values) -> Values:
    r"""Compute the share of the choked flow at a pressure ratio.

    .. math::

        \psi = \begin{cases} 1 & r \le b \\ \sqrt{1-\left(\frac{r-b}{1-b}\right)^2} & b < r < \lambda \\
        \psi(\lambda)\,\frac{1-r}{1-\lambda} & r \ge \lambda \end{cases}

    Parameters
    ----------
    r : float or array
        Downstream over upstream absolute pressure [-], 0 to 1.
    b : float or array
        Critical pressure ratio [-], 0 to 0.6.

    Returns
    -------
    float or array
        Flow factor [-], 1 when choked, 0 at equal pressures, of the broadcast shape.

    Raises
    ------
    QuantityError
        If a ratio is outside its range.

    Notes
    -----
    The line starts at 0.999; the ellipse is left by less than 0.1 per cent of the choked flow elsewhere.

    Examples
    --------
    >>> float(flow_factor(r=0.3, b=0.35)), round(float(flow_factor(r=0.9, b=0.3)), 4)
    (1.0, 0.5151)

    References
    ----------
    ISO 6358-1:2013; the laminar part from memory.
    """
    between(0.0, 1.0, "", r=r)
    between(0.0, 0.6, "", b=b)
    ellipse = _ellipse(np.clip(r, b, LAMINAR_RATIO), b)
    line = np.minimum(1.0, (1.0 - r) / (1.0 - LAMINAR_RATIO))
    factor: Values = ellipse * line
    return factor


def _ellipse(r: Values, b: Values) -> Values:
    share: Values = np.sqrt(1.0 - ((r - b) / (1.0 - b)) ** 2)
    return share


def mass_flow(*, C: Values, b: Values, p1: Values, p2: Values, T1: Values = T_0) -> Values:
    r"""Compute the mass flow through a component.

    .. math:: \dot m = C\,\rho_0\,p_1\sqrt{\frac{T_0}{T_1}}\;\psi\!\left(\frac{p_2}{p_1}, b\right)

    Parameters
    ----------
    C : float or array
        Sonic conductance [m³/(s·Pa)], zero (shut) or more.
    b : float or array
        Critical pressure ratio [-], 0 to 0.6; real valves have 0.1 to 0.5.
    p1 : float or array
        Upstream absolute pressure [Pa], above zero.
    p2 : float or array
        Downstream absolute pressure [Pa], zero to p1.
    T1 : float or array
        Upstream temperature [K], 100 to 500.

    Returns
    -------
    float or array
        Mass flow [kg/s], of the broadcast shape.

    Raises
    ------
    QuantityError
        If a value is outside its range, or p2 is above p1: then the flow runs the other way.

    Notes
    -----
    See `flow_factor` for the laminar part near equal pressures; subsonic index 0.5, no cracking pressure.

    Examples
    --------
    >>> round(float(mass_flow(C=1e-8, b=0.35, p1=7e5, p2=1e5)), 6)
    0.008295

    References
    ----------
    ISO 6358-1:2013.
    """
    not_negative("m³/(s·Pa)", C=C)
    positive("Pa", p1=p1)
    not_negative("Pa", p2=p2)
    not_above("Pa", ("p2", p2), ("p1", p1))
    between(100.0, 500.0, "K", T1=T1)
    flow: Values = C * RHO_0 * p1 * np.sqrt(T_0 / T1) * flow_factor(r=p2 / p1, b=b)
    return flow


def free_air_flow(*, m: Values) -> Values:
    r"""Compute the flow of reference air (ANR) that a mass flow is.

    .. math:: q_V = \dot m / \rho_0

    Parameters
    ----------
    m : float or array
        Mass flow [kg/s], zero or more.

    Returns
    -------
    float or array
        Volume flow of reference air [m³/s], of the shape of m.

    Raises
    ------
    QuantityError
        If the flow is negative or not finite.

    Notes
    -----
    A litre ANR (20 °C, 1 bar) is not a normal litre (0 °C, 1.013 bar), which holds nine per cent more air.

    Examples
    --------
    >>> round(free_air_flow(m=0.008295) * 6e4)
    420

    References
    ----------
    ISO 8778.
    """
    not_negative("kg/s", m=m)
    return m / RHO_0


def conductance_from_kv(*, Kv: Values) -> Estimate:
    r"""Estimate the sonic conductance of a valve from its Kv.

    .. math:: C \approx 4.57\cdot10^{-8}\,K_v

    Parameters
    ----------
    Kv : float or array
        Flow coefficient: water [m³/h] at 1 bar, zero or more.

    Returns
    -------
    Estimate
        C [m³/(s·Pa)] with the least and greatest value, 15 per cent either side.

    Raises
    ------
    QuantityError
        If Kv is negative or not finite.

    Notes
    -----
    Kv is measured with water and says nothing of choking, so the conversion is an estimate; b is near 0.3.
    A measured C is always better.

    Examples
    --------
    >>> round(conductance_from_kv(Kv=0.5).value * 1e8, 2)
    2.29

    References
    ----------
    IEC 60534-2-1 gas sizing with a pressure-differential ratio factor of 0.72; 0.5 to 0.8 give the range.
    """
    not_negative("m³/h", Kv=Kv)
    C = _C_PER_KV * Kv
    return Estimate(C, C * (1 - _CONVERSION_ERROR), C * (1 + _CONVERSION_ERROR))


def conductance_from_cv(*, Cv: Values) -> Estimate:
    r"""Estimate the sonic conductance of a valve from its Cv.

    .. math:: C \approx 4.57\cdot10^{-8}\cdot0.865\,C_v

    Parameters
    ----------
    Cv : float or array
        Flow coefficient: water [US gallon/min] at 1 psi, zero or more.

    Returns
    -------
    Estimate
        C [m³/(s·Pa)] with the least and greatest value, 15 per cent either side.

    Raises
    ------
    QuantityError
        If Cv is negative or not finite.

    Notes
    -----
    See `conductance_from_kv`.

    Examples
    --------
    >>> round(conductance_from_cv(Cv=1.0).value * 1e8, 2)
    3.95

    References
    ----------
    IEC 60534-2-1; Kv = 0.865 Cv.
    """
    not_negative("US gal/min", Cv=Cv)
    return conductance_from_kv(Kv=KV_PER_CV * Cv)


def series_conductance(*conductances: Values) -> Values:
    r"""Compute the conductance of components in series.

    .. math:: \frac{1}{C^2} \approx \sum_i \frac{1}{C_i^2}

    Parameters
    ----------
    conductances : float or array
        Sonic conductances [m³/(s·Pa)], one or more, each zero (shut) or more.

    Returns
    -------
    float or array
        Conductance of the whole [m³/(s·Pa)], of the broadcast shape; zero if one is shut.

    Raises
    ------
    QuantityError
        If a conductance is negative or not finite, or none is given.

    Notes
    -----
    An approximation; the exact method of ISO 6358-3 also combines the critical ratios.

    Examples
    --------
    >>> float(series_conductance(3e-8, 4e-8))
    2.4e-08

    References
    ----------
    ISO 6358-3 (approximation).
    """
    positive("components", count=len(conductances))
    not_negative("m³/(s·Pa)", **{f"C{k}": C for k, C in enumerate(conductances, 1)})
    whole = conductances[0]
    for C in conductances[1:]:
        diagonal = np.hypot(whole, C)
        shut = diagonal == 0.0
        whole = np.where(shut, 0.0, whole * C / np.where(shut, 1.0, diagonal))
    result: Values = np.asarray(whole, dtype=np.float64)[()]
    return result


def parallel_conductance(*conductances: Values) -> Values:
    r"""Compute the conductance of components side by side.

    .. math:: C = \sum_i C_i

    Parameters
    ----------
    conductances : float or array
        Sonic conductances [m³/(s·Pa)], one or more, each zero (shut) or more.

    Returns
    -------
    float or array
        Conductance of the whole [m³/(s·Pa)], of the broadcast shape.

    Raises
    ------
    QuantityError
        If a conductance is negative or not finite, or none is given.

    Notes
    -----
    Exact while all are choked.

    Examples
    --------
    >>> parallel_conductance(3e-8, 5e-8)
    8e-08

    References
    ----------
    ISO 6358-3.
    """
    positive("components", count=len(conductances))
    not_negative("m³/(s·Pa)", **{f"C{k}": C for k, C in enumerate(conductances, 1)})
    whole: Values = sum(conductances[1:], start=conductances[0])
    return whole


def critical_ratio(*, kappa: Values = 1.4) -> Values:
    r"""Compute the critical pressure ratio of an ideal nozzle.

    .. math:: b^* = \left(\frac{2}{\kappa+1}\right)^{\kappa/(\kappa-1)}

    Parameters
    ----------
    kappa : float or array
        Ratio of the specific heats [-], 1.05 to 1.7.

    Returns
    -------
    float or array
        Critical pressure ratio [-], of the shape of kappa.

    Raises
    ------
    QuantityError
        If the ratio of heats is outside its range.

    Notes
    -----
    Real valves have 0.1 to 0.5, because the losses before and after the throat count: never take this
    for a valve.

    Examples
    --------
    >>> round(critical_ratio(), 6)
    0.528282

    References
    ----------
    Isentropic flow of an ideal gas.
    """
    between(1.05, 1.7, "", kappa=kappa)
    ratio: Values = (2.0 / (kappa + 1.0)) ** (kappa / (kappa - 1.0))
    return ratio


def effective_area(*, C: Values) -> Values:
    r"""Compute the throat area of the ideal nozzle that lets the same choked flow pass.

    .. math::

        S = \frac{C\,\rho_0}{\sqrt{\kappa/(R T_0)}\;(2/(\kappa+1))^{(\kappa+1)/(2(\kappa-1))}}

    Parameters
    ----------
    C : float or array
        Sonic conductance [m³/(s·Pa)], zero or more.

    Returns
    -------
    float or array
        Effective area [m²], of the shape of C.

    Raises
    ------
    QuantityError
        If the conductance is negative or not finite.

    Notes
    -----
    Dry air, kappa 1.4 and R 287.05 J/(kg·K). The rule S = 5 C (mm², dm³/(s·bar)) says the same.

    Examples
    --------
    >>> round(effective_area(C=1e-8) * 1e6, 2)
    5.02

    References
    ----------
    Isentropic flow of an ideal gas.
    """
    not_negative("m³/(s·Pa)", C=C)
    kappa, R = 1.4, 287.05
    choked = math.sqrt(kappa / (R * T_0)) * (2 / (kappa + 1)) ** ((kappa + 1) / (2 * (kappa - 1)))
    area: Values = C * RHO_0 / choked
    return area
