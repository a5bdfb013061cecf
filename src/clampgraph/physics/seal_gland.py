r"""O-ring glands: squeeze, stretch and fill, with the extremes that the tolerances allow.

A nominal gland that is right can leak at one end of its tolerances and drag at the other, so a gland is
judged by the spans of its three figures.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass
from itertools import product
from typing import NamedTuple

from clampgraph.errors import QuantityError
from clampgraph.physics.bounds import Values, not_above, not_negative, positive

__all__ = [
    "Gland",
    "GlandFigures",
    "Ring",
    "Span",
    "fill",
    "piston_gland",
    "squeeze",
    "stretch",
    "stretched_section",
]


class Span(NamedTuple):
    """Least and greatest value."""

    low: float
    high: float

    @classmethod
    def about(cls, nominal: float, tolerance: float) -> "Span":
        """Span of a nominal value with an equal tolerance either side."""
        return cls(nominal - tolerance, nominal + tolerance)


@dataclass(frozen=True, slots=True)
class Ring:
    """An O-ring: inside diameter and section diameter [m]."""

    inside: Span
    section: Span


@dataclass(frozen=True, slots=True)
class Gland:
    """A piston gland: bore of the cylinder, groove diameter and groove width [m]."""

    bore: Span
    groove: Span
    width: Span


class GlandFigures(NamedTuple):
    """Spans of squeeze, stretch and fill [-]."""

    squeeze: Span
    stretch: Span
    fill: Span


def squeeze(*, W: Values, h: Values) -> Values:
    r"""Compute how much of its section a seal loses between groove and counterface.

    .. math:: \frac{W - h}{W}

    Parameters
    ----------
    W : float or array
        Section diameter of the O-ring [m], above zero.
    h : float or array
        Gland depth: half of bore less groove diameter [m], above zero.

    Returns
    -------
    float or array
        Squeeze [-], of the broadcast shape; negative when the ring does not touch.

    Raises
    ------
    QuantityError
        If a size is not above zero.

    Notes
    -----
    Moving seals take 8 to 20 per cent, resting ones 15 to 30 per cent (common practice).

    Examples
    --------
    >>> round(squeeze(W=3.53e-3, h=3.07e-3), 3)
    0.13

    References
    ----------
    ISO 3601-2 for the housing; the definition is common practice.
    """
    positive("m", W=W, h=h)
    return (W - h) / W


def stretch(*, ID: Values, d: Values) -> Values:
    r"""Compute how much a groove stretches the inside of a seal.

    .. math:: \frac{d - ID}{ID}

    Parameters
    ----------
    ID : float or array
        Inside diameter of the O-ring [m], above zero.
    d : float or array
        Groove diameter [m], above zero.

    Returns
    -------
    float or array
        Stretch [-], of the broadcast shape; negative when the ring is loose in its groove.

    Raises
    ------
    QuantityError
        If a diameter is not above zero.

    Notes
    -----
    One to three per cent are usual, five the most (common practice).

    Examples
    --------
    >>> round(stretch(ID=37.69e-3, d=38.5e-3), 4)
    0.0215

    References
    ----------
    ISO 3601-2 for the housing; the definition is common practice.
    """
    positive("m", ID=ID, d=d)
    return (d - ID) / ID


def fill(*, W: Values, g: Values, h: Values) -> Values:
    r"""Compute how much of the groove's section the seal takes up.

    .. math:: \frac{\pi W^2/4}{g\,h}

    Parameters
    ----------
    W : float or array
        Section diameter of the O-ring [m], above zero.
    g : float or array
        Groove width [m], above zero.
    h : float or array
        Gland depth [m], above zero.

    Returns
    -------
    float or array
        Fill [-], of the broadcast shape; above one the ring does not fit into its groove.

    Raises
    ------
    QuantityError
        If a size is not above zero.

    Notes
    -----
    Handbook glands have 65 to 75 per cent; 85 is the most, swelling included (common practice).

    Examples
    --------
    >>> round(fill(W=3.53e-3, g=4.70e-3, h=3.07e-3), 3)
    0.678

    References
    ----------
    ISO 3601-2 for the housing; the definition is common practice.
    """
    positive("m", W=W, g=g, h=h)
    return math.pi / 4 * W**2 / (g * h)


def stretched_section(*, W: Values, epsilon: Values) -> Values:
    r"""Compute the section diameter of a stretched seal.

    .. math:: W' = \frac{W}{\sqrt{1+\varepsilon}}

    Parameters
    ----------
    W : float or array
        Section diameter when free [m], above zero.
    epsilon : float or array
        Stretch of the ring [-], zero to 0.5.

    Returns
    -------
    float or array
        Section diameter [m], of the broadcast shape.

    Raises
    ------
    QuantityError
        If a value is outside its range; more than half again as long tears the ring.

    Notes
    -----
    The volume stays. Handbook curves differ slightly (from memory).

    Examples
    --------
    >>> round(stretched_section(W=3.53e-3, epsilon=0.03) * 1e3, 3)
    3.478

    References
    ----------
    Constant volume of rubber.
    """
    positive("m", W=W)
    not_negative("", epsilon=epsilon)
    not_above("", ("epsilon", epsilon), ("the most stretch", 0.5))
    return W / (1.0 + epsilon) ** 0.5


def piston_gland(*, ring: Ring, gland: Gland) -> GlandFigures:
    r"""Compute squeeze, stretch and fill of a piston seal over all its tolerances.

    .. math:: h = (bore - groove)/2

    Parameters
    ----------
    ring : Ring
        Inside and section diameter with their spans [m].
    gland : Gland
        Bore, groove diameter and groove width with their spans [m].

    Returns
    -------
    GlandFigures
        Least and greatest squeeze, stretch and fill [-].

    Raises
    ------
    QuantityError
        If a size is not above zero, a span is upside down, or the groove can be larger than the bore.

    Notes
    -----
    Each figure grows or falls steadily with every size, so its extremes lie at corners of the tolerances.
    The ring is taken as free of stretch in section; the piston is centred.

    Examples
    --------
    >>> ring = Ring(inside=Span.about(37.69e-3, 0.38e-3), section=Span.about(3.53e-3, 0.10e-3))
    >>> bore, groove, width = Span(44.5e-3, 44.56e-3), Span(38.3e-3, 38.36e-3), Span(4.7e-3, 4.8e-3)
    >>> figures = piston_gland(ring=ring, gland=Gland(bore, groove, width))
    >>> [round(100 * value, 1) for value in figures.squeeze]
    [8.7, 15.4]

    References
    ----------
    ISO 3601-2 for the housing.
    """
    for size in (ring.inside, ring.section, gland.bore, gland.groove, gland.width):
        positive("m", size=size.low)
        not_above("m", ("a least size", size.low), ("its greatest", size.high))
    if gland.groove.high >= gland.bore.low:
        raise QuantityError(
            f"The groove of up to {gland.groove.high:.6g} m must stay below the bore of {gland.bore.low:.6g} m."
        )
    depth = Span((gland.bore.low - gland.groove.high) / 2, (gland.bore.high - gland.groove.low) / 2)
    return GlandFigures(
        squeeze=_corners(lambda W, h: squeeze(W=W, h=h), ring.section, depth),
        stretch=_corners(lambda ID, d: stretch(ID=ID, d=d), ring.inside, gland.groove),
        fill=_corners(lambda W, g, h: fill(W=W, g=g, h=h), ring.section, gland.width, depth),
    )


def _corners(figure: Callable[..., Values], *spans: Span) -> Span:
    values = [float(figure(*corner)) for corner in product(*spans)]
    return Span(min(values), max(values))
