r"""Tool tapers: when a cone lets go by itself, and what it takes to push it out.

The resultant N of the pressure on a cone of half angle alpha leans outward; friction holds as long as its
coefficient is above the tangent of that angle.
"""

import math
from typing import Final

import numpy as np

from clampgraph.physics.bounds import Values, between, not_negative

__all__ = ["STEEP_HALF_ANGLE", "normal_force", "release_force", "self_release_limit"]

STEEP_HALF_ANGLE: Final = math.atan(7 / 48)
"""Half angle [rad] of the steep taper 7:24 (ISO 7388-1): 8.297°."""


def self_release_limit(*, alpha: Values = STEEP_HALF_ANGLE) -> Values:
    r"""Compute the coefficient of friction up to which a taper lets go by itself.

    .. math:: \mu_{lim} = \tan\alpha

    Parameters
    ----------
    alpha : float or array
        Half angle of the cone [rad], 0 to 1.

    Returns
    -------
    float or array
        Coefficient of friction [-], of the shape of alpha.

    Raises
    ------
    QuantityError
        If the angle is outside its range.

    Notes
    -----
    Above it the taper sticks and needs a push-out.

    Examples
    --------
    >>> round(float(self_release_limit()), 5)
    0.14583

    References
    ----------
    Balance of forces on the cone.
    """
    between(0.0, 1.0, "rad", alpha=alpha)
    limit: Values = np.tan(alpha)
    return limit


def normal_force(*, F: Values, mu: Values, alpha: Values = STEEP_HALF_ANGLE) -> Values:
    r"""Compute the resultant of the pressure on a cone that was drawn in.

    .. math:: N = \frac{F}{\sin\alpha + \mu\cos\alpha}

    Parameters
    ----------
    F : float or array
        Axial force that drew the taper in [N], zero or more.
    mu : float or array
        Coefficient of friction [-], 0 to 1.
    alpha : float or array
        Half angle of the cone [rad], 0.001 to 1.

    Returns
    -------
    float or array
        Resultant normal force [N], of the broadcast shape.

    Raises
    ------
    QuantityError
        If a value is outside its range.

    Notes
    -----
    The cone carries all of the force: no face contact.

    Examples
    --------
    >>> round(float(normal_force(F=12e3, mu=0.1)) / 1e3, 1)
    49.3

    References
    ----------
    Balance of forces on the cone.
    """
    not_negative("N", F=F)
    between(0.0, 1.0, "", mu=mu)
    between(1e-3, 1.0, "rad", alpha=alpha)
    resultant: Values = F / (np.sin(alpha) + mu * np.cos(alpha))
    return resultant


def release_force(*, F: Values, mu: Values, alpha: Values = STEEP_HALF_ANGLE) -> Values:
    r"""Compute the axial force that pushes out a taper after the pull has gone.

    .. math:: F_{rel} = F\,\frac{\mu\cos\alpha-\sin\alpha}{\mu\cos\alpha+\sin\alpha}

    Parameters
    ----------
    F : float or array
        Axial force that drew the taper in [N], zero or more.
    mu : float or array
        Coefficient of friction [-], 0 to 1.
    alpha : float or array
        Half angle of the cone [rad], 0.001 to 1.

    Returns
    -------
    float or array
        Force [N], of the broadcast shape; zero or negative if the taper lets go by itself.

    Raises
    ------
    QuantityError
        If a value is outside its range.

    Notes
    -----
    The same friction both ways and no settling: a taper that sat warm or rusty holds more.

    Examples
    --------
    >>> round(float(release_force(F=12e3, mu=0.2)))
    1880

    References
    ----------
    Balance of forces on the cone.
    """
    return normal_force(F=F, mu=mu, alpha=alpha) * (mu * np.cos(alpha) - np.sin(alpha))
