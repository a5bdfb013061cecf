r"""Stacks of disc springs: packets in series, discs in parallel, friction on both branches.

A stack has i packets in series, each of n equal discs laid the same way. Friction makes the stack harder to
press than to release: the unloading branch is what pulls on a tool, the loading branch is what the actuator
must overcome.
"""

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final, NamedTuple

import numpy as np

from clampgraph.errors import QuantityError
from clampgraph.physics.bounds import Values, between, not_negative, positive

__all__ = [
    "FRICTION",
    "FrictionBand",
    "energy",
    "free_length",
    "loading_force",
    "shop_rule_force",
    "travel",
    "unloading_force",
]

_MOST_PARALLEL: Final = 5
_PER_SURFACE: Final = 0.03


class FrictionBand(NamedTuple):
    """Least and greatest friction factors of a series: between surfaces (wM) and at the edges (wR)."""

    surface: tuple[float, float]
    edge: tuple[float, float]


FRICTION: Final[Mapping[str, FrictionBand]] = MappingProxyType(
    {
        "A": FrictionBand(surface=(0.005, 0.03), edge=(0.03, 0.05)),
        "B": FrictionBand(surface=(0.003, 0.02), edge=(0.02, 0.04)),
        "C": FrictionBand(surface=(0.002, 0.015), edge=(0.01, 0.03)),
    }
)
"""Friction factors of the series A, B and C of DIN EN 16983 (DIN EN 16984; from memory)."""


def loading_force(*, F: Values, n: int, wM: Values = 0.0, wR: Values = 0.0) -> Values:
    r"""Compute the force that presses a stack, friction against it.

    .. math:: F_{load} = \frac{n F}{1 - w_M (n-1) - w_R}

    Parameters
    ----------
    F : float or array
        Load of one disc without friction [N], zero or more.
    n : int
        Discs in parallel in each packet [-], 1 to 5.
    wM : float or array
        Friction factor between two surfaces [-], 0 to 0.1.
    wR : float or array
        Friction factor of the edges [-], 0 to 0.1.

    Returns
    -------
    float or array
        Force on the loading branch [N], of the broadcast shape.

    Raises
    ------
    QuantityError
        If a value is outside its range.

    Notes
    -----
    This is what an actuator needs to release the tool. More than three discs in parallel are unusual.

    Examples
    --------
    >>> round(loading_force(F=11976.5, n=2, wM=0.0175, wR=0.04) / 1e3, 1)
    25.4

    References
    ----------
    DIN EN 16984 (from memory).
    """
    friction = _friction(F, n, wM, wR)
    return n * F / (1.0 - friction)


def unloading_force(*, F: Values, n: int, wM: Values = 0.0, wR: Values = 0.0) -> Values:
    r"""Compute the force that a relaxing stack gives, friction against it.

    .. math:: F_{unload} = \frac{n F}{1 + w_M (n-1) + w_R}

    Parameters
    ----------
    F : float or array
        Load of one disc without friction [N], zero or more.
    n : int
        Discs in parallel in each packet [-], 1 to 5.
    wM : float or array
        Friction factor between two surfaces [-], 0 to 0.1.
    wR : float or array
        Friction factor of the edges [-], 0 to 0.1.

    Returns
    -------
    float or array
        Force on the unloading branch [N], of the broadcast shape.

    Raises
    ------
    QuantityError
        If a value is outside its range.

    Notes
    -----
    This is what pulls on the tool, and what a pull-force gauge reads.

    Examples
    --------
    >>> round(unloading_force(F=11976.5, n=2, wM=0.0175, wR=0.04) / 1e3, 1)
    22.7

    References
    ----------
    DIN EN 16984 (from memory).
    """
    friction = _friction(F, n, wM, wR)
    return n * F / (1.0 + friction)


def shop_rule_force(*, F: Values, n: int) -> Values:
    r"""Compute the pressing force by the shop rule of three per cent for each surface pair.

    .. math:: F_{load} = n F (1 + 0.03 (n-1))

    Parameters
    ----------
    F : float or array
        Load of one disc without friction [N], zero or more.
    n : int
        Discs in parallel in each packet [-], 1 to 5.

    Returns
    -------
    float or array
        Force on the loading branch [N], of the shape of F.

    Raises
    ------
    QuantityError
        If a value is outside its range.

    Notes
    -----
    A rule of thumb for lubricated discs without any edge friction (common practice).

    Examples
    --------
    >>> round(shop_rule_force(F=5000.0, n=3))
    15900

    References
    ----------
    Common practice, printed with this example in a spring handbook.
    """
    return n * F * (1.0 + _friction(F, n, _PER_SURFACE, 0.0))


def travel(*, s: Values, i: int) -> Values:
    r"""Compute the travel of a stack.

    .. math:: s_{tot} = i\,s

    Parameters
    ----------
    s : float or array
        Deflection of one disc [m], zero or more.
    i : int
        Packets in series [-], 1 or more.

    Returns
    -------
    float or array
        Travel of the stack [m], of the shape of s.

    Raises
    ------
    QuantityError
        If a value is outside its range.

    Notes
    -----
    All packets deflect alike; friction on the guide, which makes the moving end work harder, is neglected.

    Examples
    --------
    >>> travel(s=0.5e-3, i=20)
    0.01

    References
    ----------
    DIN EN 16984.
    """
    not_negative("m", s=s)
    _whole("i", i, 1, 1000)
    return i * s


def free_length(*, l0: Values, t: Values, n: int, i: int) -> Values:
    r"""Compute the length of an unloaded stack.

    .. math:: L_0 = i\,(l_0 + (n-1)\,t)

    Parameters
    ----------
    l0 : float or array
        Free height of one disc [m], above zero and not below t.
    t : float or array
        Thickness [m], above zero.
    n : int
        Discs in parallel in each packet [-], 1 to 5.
    i : int
        Packets in series [-], 1 or more.

    Returns
    -------
    float or array
        Free length [m], of the broadcast shape.

    Raises
    ------
    QuantityError
        If a value is outside its range.

    Notes
    -----
    Stacks longer than three outside diameters buckle against their guide (common practice).

    Examples
    --------
    >>> round(free_length(l0=4.1e-3, t=3e-3, n=2, i=20) * 1e3, 1)
    142.0

    References
    ----------
    DIN EN 16984.
    """
    positive("m", l0=l0, t=t)
    not_negative("m (cone height l0 - t)", **{"l0 - t": l0 - t})
    _whole("n", n, 1, _MOST_PARALLEL)
    _whole("i", i, 1, 1000)
    return i * (l0 + (n - 1) * t)


def energy(*, W: Values, n: int, i: int) -> Values:
    r"""Compute the energy in a stack: what stays in it with the air off.

    .. math:: W_{tot} = i\,n\,W

    Parameters
    ----------
    W : float or array
        Energy of one disc [J], zero or more.
    n : int
        Discs in parallel in each packet [-], 1 to 5.
    i : int
        Packets in series [-], 1 or more.

    Returns
    -------
    float or array
        Stored energy [J], of the shape of W.

    Raises
    ------
    QuantityError
        If a value is outside its range.

    Notes
    -----
    Friction is neglected; it turns part of it into heat on release.

    Examples
    --------
    >>> energy(W=5.0, n=2, i=20)
    200.0

    References
    ----------
    DIN EN 16984.
    """
    not_negative("J", W=W)
    _whole("n", n, 1, _MOST_PARALLEL)
    _whole("i", i, 1, 1000)
    return i * n * W


def _friction(F: Values, n: int, wM: Values, wR: Values) -> Values:
    not_negative("N", F=F)
    _whole("n", n, 1, _MOST_PARALLEL)
    between(0.0, 0.1, "", wM=wM, wR=wR)
    return wM * (n - 1) + wR


def _whole(name: str, value: int, low: int, high: int) -> None:
    if not np.equal(np.mod(value, 1), 0):
        raise QuantityError(f"{name} = {value} must be a whole number.")
    between(low, high, "", **{name: value})
