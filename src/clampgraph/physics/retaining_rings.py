r"""Retaining rings: what the groove carries.

In a soft part the groove gives way before the ring does, so its capacity is the first figure to look at.
"""

import math
from typing import Final

import numpy as np

from clampgraph.physics.bounds import Values, not_above, positive

__all__ = ["TABLE_YIELD", "groove_area", "groove_capacity"]

TABLE_YIELD: Final = 200e6
"""Yield strength [Pa] that the capacities in DIN 471 and DIN 472 are told for."""
_SAFETY: Final = 1.2
_SHOULDER: Final = 3.0
_ROUNDING: Final = 1e-9


def groove_area(*, d1: Values, d2: Values) -> Values:
    r"""Compute the bearing area of a groove.

    .. math:: A_N = \frac{\pi}{4}\left|d_1^2-d_2^2\right|

    Parameters
    ----------
    d1 : float or array
        Diameter of the shaft or bore [m], above zero.
    d2 : float or array
        Diameter of the groove [m], above zero; smaller in a shaft, larger in a bore.

    Returns
    -------
    float or array
        Area [m²], of the broadcast shape.

    Raises
    ------
    QuantityError
        If a diameter is not above zero.

    Notes
    -----
    Sharp edges; a chamfer takes its part away.

    Examples
    --------
    >>> round(float(groove_area(d1=0.05, d2=0.047)) * 1e6, 1)
    228.6

    References
    ----------
    DIN 471, DIN 472.
    """
    positive("m", d1=d1, d2=d2)
    area: Values = math.pi / 4 * np.abs(np.subtract(np.square(d1), np.square(d2)))
    return area


def groove_capacity(*, d1: Values, d2: Values, n: Values, sigma_s: Values = TABLE_YIELD) -> Values:
    r"""Compute the axial force that a groove carries.

    .. math:: F_N = \frac{A_N\,\sigma_s}{q},\quad q = 1.2\;\text{for}\;n/t \ge 3

    Parameters
    ----------
    d1 : float or array
        Diameter of the shaft or bore [m], above zero.
    d2 : float or array
        Diameter of the groove [m], above zero.
    n : float or array
        Shoulder between groove and end [m], at least three groove depths.
    sigma_s : float or array
        Yield strength of the grooved part [Pa], above zero; the tables take 200 MPa.

    Returns
    -------
    float or array
        Capacity [N], of the broadcast shape.

    Raises
    ------
    QuantityError
        If a value is outside its range, or the shoulder is so short that it shears off first.

    Notes
    -----
    The figure q is from memory; it reproduces the tables within ten per cent. The ring itself (FR, and FRg
    for a chamfered part) may carry less: take its table value.

    Examples
    --------
    >>> round(float(groove_capacity(d1=0.05, d2=0.047, n=0.0045)) / 1e3, 1)
    38.1

    References
    ----------
    DIN 471, DIN 472.
    """
    area = groove_area(d1=d1, d2=d2)
    positive("Pa", sigma_s=sigma_s)
    positive("m", n=n)
    least: Values = _SHOULDER * np.abs(np.subtract(d1, d2)) / 2
    not_above("m", ("three groove depths", least * (1 - _ROUNDING)), ("the shoulder n", n))
    return area * sigma_s / _SAFETY
