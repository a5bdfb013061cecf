r"""Screw threads: geometry, designations, and which hand a drag tightens.

A thread turns rotation into advance: a right-hand screw moves along its rotation vector, a left-hand one
against it. A rotation vector points the way from which the turning looks clockwise when one looks along
it. With these two statements and the friction between touching faces everything about self-loosening
follows; no table is needed.
"""

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Final, Literal, TypeAlias

import numpy as np

from clampgraph.errors import QuantityError
from clampgraph.physics.bounds import Values, not_above, not_negative, positive

__all__ = [
    "Designation",
    "Hand",
    "ScrewThread",
    "Sense",
    "drag_torque",
    "parse_designation",
    "rubbing_sense",
    "surviving_hand",
    "unified_stress_area",
]

Hand: TypeAlias = Literal["right", "left"]
Sense: TypeAlias = Literal["tightens", "loosens", "neither"]
Vector: TypeAlias = Sequence[float]

_INCH: Final = 0.0254
_COARSE_PITCH: Final = {
    3: 0.5, 4: 0.7, 5: 0.8, 6: 1.0, 8: 1.25, 10: 1.5, 12: 1.75, 14: 2.0, 16: 2.0, 18: 2.5, 20: 2.5, 22: 2.5,
    24: 3.0, 27: 3.0, 30: 3.5, 33: 3.5, 36: 4.0, 39: 4.0, 42: 4.5, 45: 4.5, 48: 5.0, 52: 5.0,
    56: 5.5, 60: 5.5, 64: 6.0,
}  # fmt: skip
_TOLERANCE: Final = r"(?:[ -]?(?P<tol{0}>\d[a-zA-Z]\d?[a-zA-Z]?(?:/\d[a-zA-Z]\d?[a-zA-Z]?)?))?"
_METRIC: Final = re.compile(
    r"M ?(?P<d>\d+(?:\.\d+)?)(?: ?[xX\u00d7] ?(?P<P>\d+(?:\.\d+)?))?"
    r"(?P<early>[ -]?LH)?" + _TOLERANCE.format(1) + r"(?P<late>[ -]?LH)?"
)
_UNIFIED: Final = re.compile(
    r"(?P<d>\d+(?:[ -]\d+/\d+|/\d+)?|\d*\.\d+)-(?P<n>\d+) ?UN(?:C|F|EF|S|R)?"
    r"(?P<early>[ -]?LH)?(?:[ -]?(?P<tol1>[123][AB]))?(?P<late>[ -]?LH)?"
)


@dataclass(frozen=True, slots=True)
class ScrewThread:
    """A metric screw thread: major diameter d and pitch P [m] (ISO 261, profile of ISO 68-1).

    Examples
    --------
    >>> round(ScrewThread(d=0.010, P=0.0015).A_s * 1e6, 1)
    58.0
    """

    d: float
    P: float

    def __post_init__(self) -> None:
        positive("m", d=self.d, P=self.P)
        not_above("m", ("1.2269 P", 1.226869 * self.P), ("d", self.d), "at or above")

    @property
    def d2(self) -> float:
        """Pitch diameter [m] (ISO 724)."""
        return self.d - 0.649519 * self.P

    @property
    def D1(self) -> float:  # noqa: N802 - symbol of ISO 724
        """Minor diameter of the nut [m] (ISO 724)."""
        return self.d - 1.082532 * self.P

    @property
    def d3(self) -> float:
        """Minor diameter of the screw [m] (ISO 898-1)."""
        return self.d - 1.226869 * self.P

    @property
    def d_s(self) -> float:
        """Diameter of the stress area [m]."""
        return (self.d2 + self.d3) / 2

    @property
    def A_s(self) -> float:  # noqa: N802 - symbol of ISO 898-1
        """Stress area [m²] (ISO 898-1)."""
        return math.pi / 4 * self.d_s**2


@dataclass(frozen=True, slots=True)
class Designation:
    """What a designation says: family ``M`` or ``UN``, diameter and pitch [m], hand, tolerance class."""

    family: Literal["M", "UN"]
    d: float
    P: float
    hand: Hand
    tolerance: str


def parse_designation(*, text: str) -> Designation:
    r"""Read a metric (ISO 965-1) or unified (ASME B1.1) thread designation.

    .. math:: P = 25.4\,\mathrm{mm}/n\;\text{for n threads per inch}

    Parameters
    ----------
    text : str
        Designation such as ``M16x1.5-LH-6g``, ``M16x1 LH-6G``, ``M10-6g-LH`` or ``1/2-13 UNC-2A-LH``;
        LH may stand behind the pitch (older editions) or at the end (newer ones).

    Returns
    -------
    Designation
        Family, diameter and pitch [m], hand and tolerance class (empty if not given).

    Raises
    ------
    QuantityError
        If the text is not such a designation, or a metric one lacks its pitch and has no coarse one.

    Notes
    -----
    Without LH a thread is right-handed. Multi-start threads are refused. Coarse pitches after ISO 261
    (from memory).

    Examples
    --------
    >>> parse_designation(text="M10x1-LH").hand, parse_designation(text="M10-6g").P
    ('left', 0.0015)

    References
    ----------
    ISO 965-1, designation; ASME B1.1.
    """
    bare = " ".join(text.split())
    if match := _METRIC.fullmatch(bare):
        family: Literal["M", "UN"] = "M"
        d = float(match["d"])
        P = float(match["P"]) if match["P"] else _COARSE_PITCH.get(int(d) if d.is_integer() else -1, 0.0)
        if not P:
            raise QuantityError(f"The thread '{bare}' has no coarse pitch; write it with its pitch, as M{d:g}x1.")
        sizes = (d * 1e-3, P * 1e-3)
    elif match := _UNIFIED.fullmatch(bare):
        family = "UN"
        d = float(sum(Fraction(part) for part in re.split("[ -]", match["d"])))
        sizes = (d * _INCH, _INCH / int(match["n"]))
    else:
        raise QuantityError(
            f"'{bare}' is not a thread designation known here; write for example M16x1.5-LH or 1/2-13 UNC-2A-LH."
        )
    if match["early"] and match["late"]:
        raise QuantityError(f"The thread '{bare}' says LH twice; once is right.")
    hand: Hand = "left" if match["early"] or match["late"] else "right"
    ScrewThread(*sizes)
    return Designation(family, *sizes, hand, match["tol1"] or "")


def unified_stress_area(*, d: Values, n: Values) -> Values:
    r"""Compute the stress area of a unified thread.

    .. math:: A_t = \frac{\pi}{4}\left(d-\frac{0.9743\,\mathrm{in}}{n}\right)^2

    Parameters
    ----------
    d : float or array
        Major diameter [m], above 0.9743 in/n.
    n : float or array
        Threads per inch [-], above zero.

    Returns
    -------
    float or array
        Stress area [m²], of the broadcast shape.

    Raises
    ------
    QuantityError
        If a value is outside its range.

    Notes
    -----
    Threads per inch is the one figure that is not in SI, because the designation carries it.

    Examples
    --------
    >>> round(unified_stress_area(d=0.0127, n=13) / 0.0254**2, 4)
    0.1419

    References
    ----------
    ASME B1.1.
    """
    positive("m", d=d)
    positive("threads per inch", n=n)
    core = 0.9743 * _INCH / n
    not_above("m", ("0.9743 in/n", core), ("d", d), "at or above")
    return math.pi / 4 * (d - core) ** 2


def drag_torque(*, N: Values, mu: Values, r_o: Values, r_i: Values = 0.0) -> Values:
    r"""Compute the torque with which one flat face drags another.

    .. math:: T = \mu N\,\frac23\,\frac{r_o^3-r_i^3}{r_o^2-r_i^2}

    Parameters
    ----------
    N : float or array
        Contact force [N], zero or more.
    mu : float or array
        Coefficient of friction [-], zero or more.
    r_o : float or array
        Outer radius of the contact [m], above zero.
    r_i : float or array
        Inner radius of the contact [m], zero or more, below r_o.

    Returns
    -------
    float or array
        Torque [N·m], of the broadcast shape.

    Raises
    ------
    QuantityError
        If a value is outside its range.

    Notes
    -----
    Even pressure over the ring, both faces square to the common axis. Compare with the loosening torque in
    `preload`.

    Examples
    --------
    >>> round(drag_torque(N=12e3, mu=0.15, r_o=0.008), 2)
    9.6

    References
    ----------
    Coulomb friction on a flat ring.
    """
    not_negative("N", N=N)
    not_negative("", mu=mu)
    positive("m", r_o=r_o)
    not_negative("m", r_i=r_i)
    not_above("m", ("r_i", r_i), ("r_o", r_o), "at or above")
    return mu * N * (2 / 3) * (r_o**2 + r_o * r_i + r_i**2) / (r_o + r_i)


def rubbing_sense(*, hand: Hand, spin: Vector, into: Vector, holder_spin: Vector = (0.0, 0.0, 0.0)) -> Sense:
    r"""Derive whether a rubbing contact tightens or loosens a screw.

    .. math::

        \mathbf T = \oint \mathbf r\times\mu\,
            \frac{(\boldsymbol\omega-\boldsymbol\omega_h)\times\mathbf r}{|\cdot|},\qquad
        \text{advance} = \pm\,\mathbf T\cdot\mathbf a

    Parameters
    ----------
    hand : str
        Hand of the thread, ``right`` or ``left``.
    spin : sequence of 3 floats
        Rotation vector of the body that rubs on the screw's head [rad/s]; it points the way one looks
        when the turning is clockwise.
    into : sequence of 3 floats
        Direction from the head to the tip of the screw [-], into its thread; any length above zero.
    holder_spin : sequence of 3 floats
        Rotation vector of the part that holds the thread [rad/s].

    Returns
    -------
    str
        ``tightens`` if the drag screws it in, ``loosens`` if it screws it out, ``neither`` without drag
        about the screw's axis.

    Raises
    ------
    QuantityError
        If a vector has not three finite parts, the direction has no length, or the hand is neither.

    Notes
    -----
    The friction acts on a ring about the screw's axis: at each point it follows the sliding of the other
    face. The part along +a of a right-hand thread's rotation is advance along +a. Whether the screw really
    turns depends on the size of the drag; see `drag_torque`.

    Examples
    --------
    A push bolt sits in a resting ram and points at the tool, along +z. The spindle turns clockwise for one
    who looks along +z from the ram to the tool. The bolt's tip lies the other way, along -z.

    >>> rubbing_sense(hand="right", spin=(0, 0, 1), into=(0, 0, -1))
    'loosens'
    >>> rubbing_sense(hand="left", spin=(0, 0, 1), into=(0, 0, -1))
    'tightens'

    References
    ----------
    Derived from the helix and Coulomb friction.
    """
    if hand not in {"right", "left"}:
        raise QuantityError(f"A thread's hand is 'right' or 'left', not '{hand}'.")
    axis = _vector("into", into)
    if not axis.any():
        raise QuantityError("The direction 'into' has no length; give the way from the screw's head to its tip.")
    axis = axis / np.linalg.norm(axis)
    slip = _vector("spin", spin) - _vector("holder_spin", holder_spin)
    across = np.cross(axis, np.eye(3)[np.argmin(np.abs(axis))])
    across /= np.linalg.norm(across)
    ring = np.array([across, np.cross(axis, across), -across, -np.cross(axis, across)])
    # What tilts the slip out of the axis opens the contact and does not drag it: the axial part alone slides.
    sliding = np.cross((slip @ axis) * axis, ring)
    torque = np.cross(ring, sliding).sum(axis=0) @ axis
    advance = float(torque) if hand == "right" else -float(torque)
    if abs(advance) <= 1e-12 * max(1.0, float(np.linalg.norm(slip))):
        return "neither"
    return "tightens" if advance > 0 else "loosens"


def surviving_hand(*, spin: Vector, into: Vector, holder_spin: Vector = (0.0, 0.0, 0.0)) -> Hand | None:
    r"""Derive which hand of thread a rubbing contact does not unscrew.

    .. math:: \text{the hand whose advance is into the thread}

    Parameters
    ----------
    spin : sequence of 3 floats
        Rotation vector of the body that rubs on the screw's head [rad/s].
    into : sequence of 3 floats
        Direction from the head to the tip of the screw [-].
    holder_spin : sequence of 3 floats
        Rotation vector of the part that holds the thread [rad/s].

    Returns
    -------
    str or None
        ``right`` or ``left``; None if nothing drags the screw about its axis.

    Raises
    ------
    QuantityError
        As `rubbing_sense`.

    Notes
    -----
    See `rubbing_sense` for the view directions.

    Examples
    --------
    >>> surviving_hand(spin=(0, 0, 1), into=(0, 0, -1))
    'left'

    References
    ----------
    Derived.
    """
    sense = rubbing_sense(hand="right", spin=spin, into=into, holder_spin=holder_spin)
    hands: dict[Sense, Hand | None] = {"tightens": "right", "loosens": "left", "neither": None}
    return hands[sense]


def _vector(name: str, parts: Vector) -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
    vector = np.asarray(parts, dtype=np.float64)
    if vector.shape != (3,) or not np.isfinite(vector).all():
        raise QuantityError(f"'{name}' must have three finite parts x, y, z.")
    return vector
