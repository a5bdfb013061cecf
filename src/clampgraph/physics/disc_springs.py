r"""Disc springs after Almen and László, as DIN EN 16984 states them.

A disc is a ring of rectangular section that only turns about its own centre circle. All its forces follow
from three factors of the diameter ratio, K1 to K3, and from the ratio of cone height to thickness:
below :math:`h_0/t = \sqrt 2` the load always grows with travel, above it the load has a maximum before flat.

The functions hold for groups 1 and 2 (thickness up to 6 mm, no contact flats, so K4 = 1) and for spring steel
with the modulus and Poisson ratio of the standard; all loads and stresses are proportional to
:math:`E/(1-\mu^2)`. Friction is not part of a disc; see `stacks`.
"""

import math
from typing import Final, NamedTuple

import numpy as np

from clampgraph.errors import QuantityError
from clampgraph.physics.bounds import Values, between, not_above, not_negative, positive

__all__ = [
    "MODULUS",
    "POISSON",
    "Factors",
    "Stresses",
    "deflection",
    "factors",
    "flat_load",
    "load",
    "rate",
    "stresses",
    "work",
]

MODULUS: Final = 206e9
"""Modulus of elasticity E [Pa] of spring steel (DIN EN 16984)."""
POISSON: Final = 0.3
"""Poisson ratio of spring steel (DIN EN 16984)."""
_ELASTIC: Final = 4.0 * MODULUS / (1.0 - POISSON**2)
_THICKEST: Final = 6e-3
_LEAST_RATIO: Final = 1.2
_MOST_RATIO: Final = 5.0
_ROUNDING: Final = 1.0 + 1e-9


class Factors(NamedTuple):
    """The factors of the diameter ratio; dimensionless."""

    K1: Values
    K2: Values
    K3: Values


class Stresses(NamedTuple):
    """Stresses at the reference points of the section [Pa]; negative is compression."""

    OM: Values
    I: Values  # noqa: E741 - the standard numbers its points I to IV
    II: Values
    III: Values
    IV: Values


def factors(*, De: Values, Di: Values) -> Factors:
    r"""Compute the factors K1, K2 and K3.

    .. math::

        K_1 = \frac{1}{\pi}\frac{\left(\frac{\delta-1}{\delta}\right)^2}
              {\frac{\delta+1}{\delta-1}-\frac{2}{\ln\delta}},\quad
        K_2 = \frac{6}{\pi}\frac{\frac{\delta-1}{\ln\delta}-1}{\ln\delta},\quad
        K_3 = \frac{3}{\pi}\frac{\delta-1}{\ln\delta},\quad \delta=\frac{D_e}{D_i}

    Parameters
    ----------
    De : float or array
        Outside diameter [m], above zero.
    Di : float or array
        Inside diameter [m], above zero; De/Di from 1.2 to 5.

    Returns
    -------
    Factors
        K1, K2, K3 [-], each of the broadcast shape.

    Raises
    ------
    QuantityError
        If a diameter is not above zero or their ratio is outside 1.2 to 5.

    Notes
    -----
    The range of the ratio is where the rigid section of the theory is commonly used (common practice);
    the standard series have 1.75 to 2.5.

    Examples
    --------
    >>> [round(float(K), 2) for K in factors(De=0.08, Di=0.04)]
    [0.69, 1.22, 1.38]

    References
    ----------
    DIN EN 16984, calculation of disc springs; the rounded example is printed in handbooks (from memory).
    """
    positive("m", De=De, Di=Di)
    delta = De / Di
    between(_LEAST_RATIO, _MOST_RATIO, "", **{"De/Di": delta})
    log = np.log(delta)
    K1 = ((delta - 1) / delta) ** 2 / ((delta + 1) / (delta - 1) - 2 / log) / math.pi
    K2 = 6 / math.pi * ((delta - 1) / log - 1) / log
    return Factors(K1, K2, 3 / math.pi * (delta - 1) / log)


def load(*, De: Values, Di: Values, t: Values, h0: Values, s: Values) -> Values:
    r"""Compute the load of one disc at a deflection.

    .. math::

        F = \frac{4E}{1-\mu^2}\frac{t^4}{K_1 D_e^2}\frac{s}{t}
            \left[\left(\frac{h_0}{t}-\frac{s}{t}\right)\left(\frac{h_0}{t}-\frac{s}{2t}\right)+1\right]

    Parameters
    ----------
    De : float or array
        Outside diameter [m], above zero.
    Di : float or array
        Inside diameter [m], above zero; De/Di from 1.2 to 5.
    t : float or array
        Thickness [m], above zero and at most 6 mm.
    h0 : float or array
        Cone height, free height less thickness [m], zero or more.
    s : float or array
        Deflection [m], from zero to h0.

    Returns
    -------
    float or array
        Load [N], of the broadcast shape.

    Raises
    ------
    QuantityError
        If a size is outside its range; a disc cannot go past flat.

    Notes
    -----
    Without friction. New discs may lie within +15 % and -7.5 % of it at 0.75 h0 (thickness 1.25 to 3 mm).

    Examples
    --------
    A disc 50 x 25.4 x 3 at three quarters of its cone height; handbooks print 12 000 N.

    >>> round(float(load(De=0.05, Di=0.0254, t=0.003, h0=0.0011, s=0.000825)), 1)
    11976.5

    References
    ----------
    DIN EN 16984, calculation; DIN EN 16983, dimensions.
    """
    stiffness = _stiffness(De, Di, t, h0, s)
    return stiffness * s * ((h0 / t - s / t) * (h0 / t - s / (2 * t)) + 1)


def flat_load(*, De: Values, Di: Values, t: Values, h0: Values) -> Values:
    r"""Compute the load that presses one disc flat.

    .. math:: F_c = \frac{4E}{1-\mu^2}\frac{h_0 t^3}{K_1 D_e^2}

    Parameters
    ----------
    De : float or array
        Outside diameter [m], above zero.
    Di : float or array
        Inside diameter [m], above zero; De/Di from 1.2 to 5.
    t : float or array
        Thickness [m], above zero and at most 6 mm.
    h0 : float or array
        Cone height [m], zero or more.

    Returns
    -------
    float or array
        Load [N], of the broadcast shape; zero for a flat disc.

    Raises
    ------
    QuantityError
        If a size is outside its range.

    Notes
    -----
    For h0/t above the square root of two the load has a maximum before flat that is larger than this.

    Examples
    --------
    >>> round(float(flat_load(De=0.05, Di=0.0254, t=0.003, h0=0.0011)))
    15640

    References
    ----------
    DIN EN 16984.
    """
    return _stiffness(De, Di, t, h0, 0.0) * h0


def rate(*, De: Values, Di: Values, t: Values, h0: Values, s: Values) -> Values:
    r"""Compute the spring rate of one disc at a deflection.

    .. math::

        \frac{dF}{ds} = \frac{4E}{1-\mu^2}\frac{t^3}{K_1 D_e^2}
            \left[\left(\frac{h_0}{t}\right)^2-3\frac{h_0}{t}\frac{s}{t}+\frac32\left(\frac{s}{t}\right)^2+1\right]

    Parameters
    ----------
    De : float or array
        Outside diameter [m], above zero.
    Di : float or array
        Inside diameter [m], above zero; De/Di from 1.2 to 5.
    t : float or array
        Thickness [m], above zero and at most 6 mm.
    h0 : float or array
        Cone height [m], zero or more.
    s : float or array
        Deflection [m], from zero to h0.

    Returns
    -------
    float or array
        Rate [N/m], of the broadcast shape; negative past the load maximum of a tall disc.

    Raises
    ------
    QuantityError
        If a size is outside its range.

    Notes
    -----
    Without friction.

    Examples
    --------
    >>> round(float(rate(De=0.05, Di=0.0254, t=0.003, h0=0.0011, s=0.0)) / 1e6, 2)
    16.13

    References
    ----------
    DIN EN 16984.
    """
    stiffness = _stiffness(De, Di, t, h0, s)
    return stiffness * ((h0 / t) ** 2 - 3 * (h0 / t) * (s / t) + 1.5 * (s / t) ** 2 + 1)


def work(*, De: Values, Di: Values, t: Values, h0: Values, s: Values) -> Values:
    r"""Compute the energy stored in one disc at a deflection.

    .. math::

        W = \frac{2E}{1-\mu^2}\frac{t^5}{K_1 D_e^2}\left(\frac{s}{t}\right)^2
            \left[\left(\frac{h_0}{t}-\frac{s}{2t}\right)^2+1\right]

    Parameters
    ----------
    De : float or array
        Outside diameter [m], above zero.
    Di : float or array
        Inside diameter [m], above zero; De/Di from 1.2 to 5.
    t : float or array
        Thickness [m], above zero and at most 6 mm.
    h0 : float or array
        Cone height [m], zero or more.
    s : float or array
        Deflection [m], from zero to h0.

    Returns
    -------
    float or array
        Energy [J], of the broadcast shape.

    Raises
    ------
    QuantityError
        If a size is outside its range.

    Notes
    -----
    Without friction; it equals the integral of the load over the deflection.

    Examples
    --------
    >>> round(float(work(De=0.05, Di=0.0254, t=0.003, h0=0.0011, s=0.000825)), 2)
    5.09

    References
    ----------
    DIN EN 16984.
    """
    stiffness = _stiffness(De, Di, t, h0, s)
    return 0.5 * stiffness * s**2 * ((h0 / t - s / (2 * t)) ** 2 + 1)


def stresses(*, De: Values, Di: Values, t: Values, h0: Values, s: Values) -> Stresses:
    r"""Compute the stresses at the reference points OM and I to IV.

    .. math::

        \sigma_{OM} &= -\frac{4E}{1-\mu^2}\frac{t^2}{K_1D_e^2}\frac{s}{t}\frac{3}{\pi} \\
        \sigma_{I,II} &= -\frac{4E}{1-\mu^2}\frac{t^2}{K_1D_e^2}\frac{s}{t}
            \left[K_2\left(\frac{h_0}{t}-\frac{s}{2t}\right)\pm K_3\right] \\
        \sigma_{III,IV} &= -\frac{4E}{1-\mu^2}\frac{t^2}{K_1D_e^2}\frac{s}{t}\frac{1}{\delta}
            \left[(K_2-2K_3)\left(\frac{h_0}{t}-\frac{s}{2t}\right)\mp K_3\right]

    Parameters
    ----------
    De : float or array
        Outside diameter [m], above zero.
    Di : float or array
        Inside diameter [m], above zero; De/Di from 1.2 to 5.
    t : float or array
        Thickness [m], above zero and at most 6 mm.
    h0 : float or array
        Cone height [m], zero or more.
    s : float or array
        Deflection [m], from zero to h0.

    Returns
    -------
    Stresses
        OM, I, II, III, IV [Pa], each of the broadcast shape; compression is negative.

    Raises
    ------
    QuantityError
        If a size is outside its range.

    Notes
    -----
    Cracks of fatigue start at II or III, where the stress is tensile.

    Examples
    --------
    >>> disc = stresses(De=0.008, Di=0.0042, t=0.0004, h0=0.0002, s=0.00015)
    >>> round(float(disc.OM) / 1e6), round(float(disc.II) / 1e6)
    (-1204, 1218)

    References
    ----------
    DIN EN 16984.
    """
    K2, K3 = factors(De=De, Di=Di)[1:]
    scale = -_stiffness(De, Di, t, h0, s) * s / t**2
    slope = h0 / t - s / (2 * t)
    outer = scale * Di / De
    return Stresses(
        OM=scale * 3 / math.pi,
        I=scale * (K2 * slope + K3),
        II=scale * (K2 * slope - K3),
        III=outer * ((K2 - 2 * K3) * slope - K3),
        IV=outer * ((K2 - 2 * K3) * slope + K3),
    )


def deflection(*, De: Values, Di: Values, t: Values, h0: Values, F: Values) -> Values:
    r"""Compute the deflection of one disc under a load.

    .. math::

        s = h_0 + 2t\sqrt{\tfrac{p}{3}}\,\sinh\left(\tfrac13\operatorname{arsinh}
            \left(\tfrac{3r}{2p}\sqrt{\tfrac{3}{p}}\right)\right),\quad
        p = 2-\left(\tfrac{h_0}{t}\right)^2,\quad
        r = 2\left(\tfrac{F\,h_0}{F_c\,t}-\tfrac{h_0}{t}\right)

    Parameters
    ----------
    De : float or array
        Outside diameter [m], above zero.
    Di : float or array
        Inside diameter [m], above zero; De/Di from 1.2 to 5.
    t : float or array
        Thickness [m], above zero and at most 6 mm.
    h0 : float or array
        Cone height [m], above zero, and below the square root of two times t.
    F : float or array
        Load [N], from zero to the load that presses the disc flat.

    Returns
    -------
    float or array
        Deflection [m], of the broadcast shape.

    Raises
    ------
    QuantityError
        If a size is outside its range, if several deflections carry the same load (tall discs),
        or if the load is more than flat.

    Notes
    -----
    The load is a cubic about the flat position without a square term, hence the closed form.
    Above h0/t = 1.3 the curve is so flat that a small error of load is a large one of travel.

    Examples
    --------
    >>> round(float(deflection(De=0.05, Di=0.0254, t=0.003, h0=0.0011, F=11976.5)) * 1e3, 3)
    0.825

    References
    ----------
    DIN EN 16984 for the load; the inverse is derived from it.
    """
    positive("m", h0=h0)
    flat = flat_load(De=De, Di=Di, t=t, h0=h0)
    height = h0 / t
    if not np.all(height < math.sqrt(2.0)):
        raise QuantityError(
            f"h0/t = {float(np.max(height)):.6g} is not below 1.414: several deflections carry the same "
            "load, so measure the travel instead."
        )
    not_negative("N", F=F)
    not_above("N", ("F", F), ("the flat load", flat * _ROUNDING))
    p = 2 - height**2
    r = 2 * height * (F / flat - 1)
    angle = np.arcsinh(1.5 * r / p * np.sqrt(3 / p)) / 3
    travel: Values = np.maximum(h0 + 2 * t * np.sqrt(p / 3) * np.sinh(angle), 0.0)
    return travel


def _stiffness(De: Values, Di: Values, t: Values, h0: Values, s: Values) -> Values:
    """Check a disc and return the common factor 4E/(1-mu²) t³/(K1 De²) [N/m]."""
    K1 = factors(De=De, Di=Di).K1
    positive("m", t=t)
    between(0.0, _THICKEST * _ROUNDING, "m (groups 1 and 2, without contact flats)", t=t)
    not_negative("m", h0=h0, s=s)
    not_above("m", ("s", s), ("h0", h0 * _ROUNDING))
    return _ELASTIC * t**3 / (K1 * De**2)
