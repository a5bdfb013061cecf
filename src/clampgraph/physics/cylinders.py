"""Forces of single, tandem and pressure-multiplying cylinders, and their margin over a spring stack.

Pressures are gauge: the air of the place presses on the other side of the piston.
"""

import math
from typing import NamedTuple

from clampgraph.physics.bounds import Values, between, not_above, not_negative, positive

__all__ = ["Margin", "intensified_pressure", "margin", "pull_force", "push_force", "tandem_force"]


class Margin(NamedTuple):
    """What an actuator has left over what it must overcome."""

    force: Values
    relative: Values


def push_force(*, p: Values, D: Values, eta: Values = 1.0) -> Values:
    r"""Compute the force of a piston on its full side.

    .. math:: F = \eta\,p\,\frac{\pi}{4}D^2

    Parameters
    ----------
    p : float or array
        Gauge pressure [Pa], zero or more.
    D : float or array
        Bore [m], above zero.
    eta : float or array
        Share that friction leaves [-], above 0 to 1; usual 0.85 to 0.9.

    Returns
    -------
    float or array
        Force [N], of the broadcast shape.

    Raises
    ------
    QuantityError
        If a value is outside its range.

    Notes
    -----
    At rest; back pressure and return springs are left out.

    Examples
    --------
    >>> round(push_force(p=6e5, D=0.1))
    4712

    References
    ----------
    Pressure times area; catalogue tables print 4712 N for 100 mm at 6 bar (from memory).
    """
    _checked(p, D, eta)
    return eta * p * math.pi / 4 * D**2


def pull_force(*, p: Values, D: Values, d: Values, eta: Values = 1.0) -> Values:
    r"""Compute the force of a piston on its rod side.

    .. math:: F = \eta\,p\,\frac{\pi}{4}(D^2-d^2)

    Parameters
    ----------
    p : float or array
        Gauge pressure [Pa], zero or more.
    D : float or array
        Bore [m], above zero.
    d : float or array
        Rod diameter [m], zero or more, below D.
    eta : float or array
        Share that friction leaves [-], above 0 to 1.

    Returns
    -------
    float or array
        Force [N], of the broadcast shape.

    Raises
    ------
    QuantityError
        If a value is outside its range.

    Notes
    -----
    At rest; back pressure and springs are left out.

    Examples
    --------
    >>> round(pull_force(p=6e5, D=0.1, d=0.025))
    4418

    References
    ----------
    Pressure times area; catalogue tables print 4418 N for 100/25 mm at 6 bar (from memory).
    """
    _checked(p, D, eta)
    not_negative("m", d=d)
    not_above("m", ("d", d), ("D", D), "at or above")
    return eta * p * math.pi / 4 * (D**2 - d**2)


def tandem_force(*, p: Values, D: Values, k: int, d: Values = 0.0, eta: Values = 1.0) -> Values:
    r"""Compute the force of several equal pistons on one rod.

    .. math:: F = \eta\,p\,\frac{\pi}{4}\left(D^2 + (k-1)(D^2-d^2)\right)

    Parameters
    ----------
    p : float or array
        Gauge pressure [Pa], zero or more, the same on every piston.
    D : float or array
        Bore [m], above zero.
    k : int
        Number of pistons [-], 1 to 6.
    d : float or array
        Rod diameter through the walls between the pistons [m], zero or more, below D.
    eta : float or array
        Share that friction leaves [-], above 0 to 1.

    Returns
    -------
    float or array
        Force [N], of the broadcast shape.

    Raises
    ------
    QuantityError
        If a value is outside its range.

    Notes
    -----
    The first piston works with its full area, the others lose that of the rod; d = 0 gives k p A.

    Examples
    --------
    >>> round(tandem_force(p=6e5, D=0.1, k=3))
    14137

    References
    ----------
    Pressure times area.
    """
    between(1, 6, "", k=k)
    first = push_force(p=p, D=D, eta=eta)
    return first + (k - 1) * pull_force(p=p, D=D, d=d, eta=eta)


def intensified_pressure(*, p: Values, D_air: Values, D_oil: Values, eta: Values = 1.0) -> Values:
    r"""Compute the oil pressure that an air-over-oil intensifier gives.

    .. math:: p_h = \eta\,p\,\frac{D_{air}^2}{D_{oil}^2}

    Parameters
    ----------
    p : float or array
        Gauge pressure of the air [Pa], zero or more.
    D_air : float or array
        Bore of the air piston [m], not below D_oil.
    D_oil : float or array
        Diameter of the oil plunger [m], above zero.
    eta : float or array
        Share that friction leaves [-], above 0 to 1.

    Returns
    -------
    float or array
        Gauge pressure of the oil [Pa], of the broadcast shape.

    Raises
    ------
    QuantityError
        If a value is outside its range.

    Notes
    -----
    At rest; the oil is taken as stiff. The oil cylinder's force follows from `push_force`.

    Examples
    --------
    >>> round(intensified_pressure(p=6e5, D_air=0.1, D_oil=0.025) / 1e5)
    96

    References
    ----------
    Balance of forces on the stepped piston.
    """
    _checked(p, D_air, eta)
    positive("m", D_oil=D_oil)
    not_above("m", ("D_oil", D_oil), ("D_air", D_air))
    return eta * p * (D_air / D_oil) ** 2


def margin(*, F: Values, F_needed: Values) -> Margin:
    r"""Compute what an actuator has left over the force it must overcome.

    .. math:: \Delta F = F - F_{needed},\quad m = \Delta F / F_{needed}

    Parameters
    ----------
    F : float or array
        Force of the actuator [N], zero or more.
    F_needed : float or array
        Force that releases the tool, stack on its loading branch [N], above zero.

    Returns
    -------
    Margin
        Difference [N] and share of the need [-]; negative when the actuator cannot open the stack.

    Raises
    ------
    QuantityError
        If a force is outside its range.

    Notes
    -----
    Ten to thirty per cent are usual (common practice).

    Examples
    --------
    >>> margin(F=4700.0, F_needed=10000.0).relative
    -0.53

    References
    ----------
    Common practice.
    """
    not_negative("N", F=F)
    positive("N", F_needed=F_needed)
    return Margin(F - F_needed, (F - F_needed) / F_needed)


def _checked(p: Values, D: Values, eta: Values) -> None:
    not_negative("Pa", p=p)
    positive("m", D=D)
    positive("", eta=eta)
    between(0.0, 1.0, "", eta=eta)
