"""Purity classes of compressed air that readings mean (ISO 8573-1).

A lower class is cleaner. Class 0 is whatever buyer and seller agree beyond class 1, so no reading alone
means it; X is worse than the last class.
"""

from bisect import bisect_left
from typing import Final

from clampgraph.physics.bounds import between, not_negative

__all__ = [
    "OIL_LIMITS",
    "PARTICLE_LIMITS",
    "WATER_LIMITS",
    "liquid_class",
    "oil_class",
    "particle_class",
    "water_class",
]

WATER_LIMITS: Final = {"1": 203.15, "2": 233.15, "3": 253.15, "4": 276.15, "5": 280.15, "6": 283.15}
"""Greatest pressure dew point [K] of each water class."""
_LIQUID_LIMITS: Final = {"7": 0.5e-3, "8": 5e-3, "9": 10e-3}
OIL_LIMITS: Final = {"1": 0.01e-6, "2": 0.1e-6, "3": 1e-6, "4": 5e-6}
"""Greatest total oil [kg/m³] of each oil class."""
PARTICLE_LIMITS: Final = {
    "1": (20_000.0, 400.0, 10.0),
    "2": (400_000.0, 6_000.0, 100.0),
    "3": (float("inf"), 90_000.0, 1_000.0),
    "4": (float("inf"), float("inf"), 10_000.0),
    "5": (float("inf"), float("inf"), 100_000.0),
}
"""Greatest counts [1/m³] of particles of 0.1 to 0.5, 0.5 to 1 and 1 to 5 micrometres in each class."""


def water_class(*, T_d: float) -> str:
    r"""Find the water class of a pressure dew point.

    .. math:: T_d \le T_{limit}

    Parameters
    ----------
    T_d : float
        Dew point at working pressure [K], 150 to 373.15.

    Returns
    -------
    str
        Class ``1`` to ``6``; ``7 to X`` for wetter air, where only liquid water decides: see `liquid_class`.

    Raises
    ------
    QuantityError
        If the dew point is outside its range.

    Notes
    -----
    A limit belongs to its class.

    Examples
    --------
    >>> water_class(T_d=276.15), water_class(T_d=288.15)
    ('4', '7 to X')

    References
    ----------
    ISO 8573-1:2010, table 2.
    """
    between(150.0, 373.15, "K", T_d=T_d)
    # Adding and taking away 273.15 leaves rounding dust, which must not cost a class at its very limit.
    return _first(WATER_LIMITS, T_d - 1e-9, "7 to X")


def liquid_class(*, c: float) -> str:
    r"""Find the water class of a content of liquid water.

    .. math:: c \le c_{limit}

    Parameters
    ----------
    c : float
        Liquid water [kg/m³], zero or more.

    Returns
    -------
    str
        Class ``7`` to ``9``, or ``X``.

    Raises
    ------
    QuantityError
        If the content is negative or not finite.

    Notes
    -----
    For air whose pressure dew point is above 10 °C.

    Examples
    --------
    >>> liquid_class(c=0.4e-3), liquid_class(c=0.02)
    ('7', 'X')

    References
    ----------
    ISO 8573-1:2010, table 2.
    """
    not_negative("kg/m³", c=c)
    return _first(_LIQUID_LIMITS, c, "X")


def oil_class(*, c: float) -> str:
    r"""Find the oil class of a total content of oil: liquid, aerosol and vapour.

    .. math:: c \le c_{limit}

    Parameters
    ----------
    c : float
        Oil [kg/m³] of reference air, zero or more.

    Returns
    -------
    str
        Class ``1`` to ``4``, or ``X``.

    Raises
    ------
    QuantityError
        If the content is negative or not finite.

    Notes
    -----
    Reference air is dry, at 20 °C and 1 bar absolute.

    Examples
    --------
    >>> oil_class(c=0.5e-6)
    '3'

    References
    ----------
    ISO 8573-1:2010, table 3.
    """
    not_negative("kg/m³", c=c)
    return _first(OIL_LIMITS, c, "X")


def particle_class(*, n_fine: float, n_medium: float, n_coarse: float) -> str:
    r"""Find the particle class of three counts.

    .. math:: n_k \le n_{k,limit}\;\text{for each size}\;k

    Parameters
    ----------
    n_fine : float
        Particles of 0.1 to 0.5 micrometres [1/m³], zero or more.
    n_medium : float
        Particles of 0.5 to 1 micrometre [1/m³], zero or more.
    n_coarse : float
        Particles of 1 to 5 micrometres [1/m³], zero or more.

    Returns
    -------
    str
        Class ``1`` to ``5``; ``6 to X`` beyond, where the mass of particles decides.

    Raises
    ------
    QuantityError
        If a count is negative or not finite.

    Notes
    -----
    Any particle above 5 micrometres rules the classes up to 5 out; it is not asked for here.

    Examples
    --------
    >>> particle_class(n_fine=1e6, n_medium=5e4, n_coarse=800.0)
    '3'

    References
    ----------
    ISO 8573-1:2010, table 1.
    """
    counts = (n_fine, n_medium, n_coarse)
    not_negative("1/m³", n_fine=n_fine, n_medium=n_medium, n_coarse=n_coarse)
    for name, limits in PARTICLE_LIMITS.items():
        if all(count <= limit for count, limit in zip(counts, limits, strict=True)):
            return name
    return "6 to X"


def _first(limits: dict[str, float], value: float, beyond: str) -> str:
    return ([*limits, beyond])[bisect_left(list(limits.values()), value)]
