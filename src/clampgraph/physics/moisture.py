r"""Water in compressed air: saturation, dew points and the condensate that a line collects.

The vapour pressure at saturation depends on temperature alone; compressing air raises its vapour pressure in
proportion, so air that was dry outside rains in the line. Real moist air holds up to three per cent more
water at 9 bar than this ideal mixture. Pressures are absolute.
"""

from typing import Final

import numpy as np

from clampgraph.physics.bounds import Values, between, not_above, not_negative, positive

__all__ = [
    "condensate",
    "dew_point",
    "humidity_ratio",
    "pressure_dew_point",
    "saturation_pressure",
    "vapour_density",
]

_ICE_POINT: Final = 273.15
_COLDEST: Final = 208.15
_HOTTEST: Final = 333.15
_P_ICE: Final = 611.2
_WATER: Final = (17.62, 243.12)
_ICE: Final = (22.46, 272.62)
_MOLAR_RATIO: Final = 0.62198
_R_VAPOUR: Final = 461.5
_R_DRY: Final = 287.05


def saturation_pressure(*, T: Values) -> Values:
    r"""Compute the vapour pressure of saturated air, over water from 0 °C up and over ice below.

    .. math:: e_s = 611.2\,\exp\frac{a\,\vartheta}{c+\vartheta},\quad \vartheta = T - 273.15

    Parameters
    ----------
    T : float or array
        Temperature [K], 208.15 to 333.15 (-65 to 60 °C).

    Returns
    -------
    float or array
        Vapour pressure [Pa], of the shape of T.

    Raises
    ------
    QuantityError
        If the temperature is outside the range of the formula.

    Notes
    -----
    Magnus formula with a = 17.62, c = 243.12 °C over water, 22.46 and 272.62 °C over ice; within 0.35
    per cent.

    Examples
    --------
    >>> round(float(saturation_pressure(T=293.15)), 1)
    2332.6

    References
    ----------
    Sonntag 1990, as the World Meteorological Organization recommends it.
    """
    between(_COLDEST, _HOTTEST, "K", T=T)
    celsius = np.subtract(T, _ICE_POINT)
    water, ice = (_P_ICE * np.exp(a * celsius / (c + celsius)) for a, c in (_WATER, _ICE))
    pressure: Values = np.where(celsius >= 0.0, water, ice)[()]
    return pressure


def dew_point(*, e: Values) -> Values:
    r"""Compute the temperature at which a vapour pressure saturates: dew from 0 °C up, frost below.

    .. math:: \vartheta = \frac{c \ln(e/611.2)}{a-\ln(e/611.2)}

    Parameters
    ----------
    e : float or array
        Vapour pressure [Pa], 0.53 to 19990.

    Returns
    -------
    float or array
        Dew or frost point [K], of the shape of e.

    Raises
    ------
    QuantityError
        If the vapour pressure belongs to a temperature outside -65 to 60 °C.

    Notes
    -----
    Exact inverse of `saturation_pressure`.

    Examples
    --------
    >>> round(float(dew_point(e=2332.6)) - 273.15, 2)
    20.0

    References
    ----------
    Sonntag 1990.
    """
    low, high = (float(saturation_pressure(T=T)) for T in (_COLDEST, _HOTTEST))
    between(low * (1 - 1e-12), high * (1 + 1e-12), "Pa", e=e)
    log = np.log(np.divide(e, _P_ICE))
    water, ice = (c * log / (a - log) for a, c in (_WATER, _ICE))
    temperature: Values = (np.where(log >= 0.0, water, ice) + _ICE_POINT)[()]
    return temperature


def pressure_dew_point(*, T_d: Values, p_1: Values, p_2: Values) -> Values:
    r"""Compute the dew point of the same air at another pressure.

    .. math:: e_2 = e_s(T_d)\,\frac{p_2}{p_1}

    Parameters
    ----------
    T_d : float or array
        Dew point at p_1 [K], 208.15 to 333.15.
    p_1 : float or array
        Absolute pressure at which the dew point is known [Pa], above zero.
    p_2 : float or array
        Absolute pressure asked for [Pa], above zero.

    Returns
    -------
    float or array
        Dew or frost point at p_2 [K], of the broadcast shape.

    Raises
    ------
    QuantityError
        If a value is outside its range, or the answer lies outside -65 to 60 °C.

    Notes
    -----
    No water leaves on the way. Below 0 °C the answer is the frost point.

    Examples
    --------
    A refrigeration dryer with +3 °C at 7 bar(g), told for the air outside.

    >>> round(float(pressure_dew_point(T_d=276.15, p_1=801325.0, p_2=101325.0)) - 273.15, 1)
    -20.8

    References
    ----------
    Dalton's law.
    """
    positive("Pa", p_1=p_1, p_2=p_2)
    return dew_point(e=saturation_pressure(T=T_d) * p_2 / p_1)


def humidity_ratio(*, e: Values, p: Values) -> Values:
    r"""Compute the mass of water for each mass of dry air.

    .. math:: W = 0.62198\,\frac{e}{p-e}

    Parameters
    ----------
    e : float or array
        Vapour pressure [Pa], zero or more, below p.
    p : float or array
        Absolute pressure of the moist air [Pa], above zero.

    Returns
    -------
    float or array
        Humidity ratio [kg/kg], of the broadcast shape.

    Raises
    ------
    QuantityError
        If a pressure is outside its range; vapour pressure at or above the whole pressure is steam.

    Notes
    -----
    Ideal mixture.

    Examples
    --------
    >>> round(humidity_ratio(e=1637.0, p=101325.0), 5)
    0.01021

    References
    ----------
    ASHRAE Handbook of Fundamentals, psychrometrics.
    """
    not_negative("Pa", e=e)
    positive("Pa", p=p)
    not_above("Pa", ("e", e), ("p", p), "at or above")
    return _MOLAR_RATIO * e / (p - e)


def vapour_density(*, e: Values, T: Values) -> Values:
    r"""Compute the mass of water vapour in a volume.

    .. math:: \rho_v = \frac{e}{461.5\,T}

    Parameters
    ----------
    e : float or array
        Vapour pressure [Pa], zero or more.
    T : float or array
        Temperature [K], 208.15 to 333.15.

    Returns
    -------
    float or array
        Vapour density [kg/m³], of the broadcast shape.

    Raises
    ------
    QuantityError
        If a value is outside its range.

    Notes
    -----
    Ideal vapour.

    Examples
    --------
    >>> round(vapour_density(e=2332.6, T=293.15) * 1e3, 1)
    17.2

    References
    ----------
    Ideal gas law.
    """
    not_negative("Pa", e=e)
    between(_COLDEST, _HOTTEST, "K", T=T)
    return e / (_R_VAPOUR * T)


def condensate(*, T_1: Values, phi: Values, T_2: Values, p: Values, p_a: Values = 101325.0) -> Values:
    r"""Compute the water that compressing and cooling sets free, for each volume of air drawn in.

    .. math::

        m = \frac{p_a - \varphi e_s(T_1)}{R\,T_1}\,
            \max\left(0,\;W(\varphi e_s(T_1), p_a) - W(e_s(T_2), p)\right)

    Parameters
    ----------
    T_1 : float or array
        Temperature of the air drawn in [K], 208.15 to 333.15.
    phi : float or array
        Relative humidity of the air drawn in [-], 0 to 1.
    T_2 : float or array
        Temperature that the compressed air is cooled to, or its pressure dew point [K], 208.15 to 333.15.
    p : float or array
        Absolute pressure of the compressed air [Pa], not below p_a.
    p_a : float or array
        Absolute pressure of the air drawn in [Pa], above zero.

    Returns
    -------
    float or array
        Condensate for each volume drawn in [kg/m³], of the broadcast shape; zero if the air stays
        unsaturated.

    Raises
    ------
    QuantityError
        If a value is outside its range.

    Notes
    -----
    Times the volume flow drawn in it gives the condensate of an hour or a day.

    Examples
    --------
    One cubic metre a minute at 25 °C and 60 per cent, 7 bar(g), cooled to 35 °C: kilograms a day.

    >>> round(float(condensate(T_1=298.15, phi=0.6, T_2=308.15, p=801325.0)) * 1440, 1)
    12.5

    References
    ----------
    Mass balance of an ideal mixture.
    """
    between(0.0, 1.0, "", phi=phi)
    positive("Pa", p_a=p_a)
    not_above("Pa", ("p_a", p_a), ("p", p))
    drawn_in = phi * saturation_pressure(T=T_1)
    dry_air = (p_a - drawn_in) / (_R_DRY * T_1)
    surplus = humidity_ratio(e=drawn_in, p=p_a) - humidity_ratio(e=saturation_pressure(T=T_2), p=p)
    water: Values = dry_air * np.maximum(surplus, 0.0)
    return water
