r"""Preload of a bolted joint from its tightening torque, and the torque that undoes it.

Of the torque on a bolt about a tenth becomes preload; the rest is friction in the thread and under the head.
So a wrong coefficient of friction spoils the preload in the same proportion.
"""

import math

from clampgraph.physics.bounds import Values, between, not_negative, positive
from clampgraph.physics.threads import ScrewThread

__all__ = [
    "assembly_preload",
    "loosening_torque",
    "nut_factor",
    "preload_from_torque",
    "short_form_torque",
    "tightening_torque",
]


def tightening_torque(thread: ScrewThread, *, F: Values, mu_G: Values, mu_K: Values, D_Km: Values) -> Values:
    r"""Compute the tightening torque of a preload.

    .. math:: M_A = F\left[0.16\,P + 0.58\,d_2\,\mu_G + \frac{D_{Km}}{2}\mu_K\right]

    Parameters
    ----------
    thread : ScrewThread
        Metric thread.
    F : float or array
        Preload [N], zero or more.
    mu_G : float or array
        Friction in the thread [-], 0 to 1.
    mu_K : float or array
        Friction under the head [-], 0 to 1.
    D_Km : float or array
        Mean friction diameter under the head [m], above zero.

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
    Metric threads of 60° flank angle only.

    Examples
    --------
    >>> M12 = ScrewThread(d=0.012, P=0.00125)
    >>> round(tightening_torque(M12, F=48e3, mu_G=0.12, mu_K=0.12, D_Km=0.01505), 1)
    90.3

    References
    ----------
    VDI 2230 Part 1, tightening torque.
    """
    not_negative("N", F=F)
    return F * _lever(thread, mu_G, mu_K, D_Km)


def preload_from_torque(thread: ScrewThread, *, M: Values, mu_G: Values, mu_K: Values, D_Km: Values) -> Values:
    r"""Compute the preload that a tightening torque gives.

    .. math:: F = \frac{M}{0.16\,P + 0.58\,d_2\,\mu_G + D_{Km}\,\mu_K/2}

    Parameters
    ----------
    thread : ScrewThread
        Metric thread.
    M : float or array
        Tightening torque [N·m], zero or more.
    mu_G : float or array
        Friction in the thread [-], 0 to 1.
    mu_K : float or array
        Friction under the head [-], 0 to 1.
    D_Km : float or array
        Mean friction diameter under the head [m], above zero.

    Returns
    -------
    float or array
        Preload [N], of the broadcast shape.

    Raises
    ------
    QuantityError
        If a value is outside its range.

    Notes
    -----
    Says nothing of strength: compare with `assembly_preload`.

    Examples
    --------
    >>> M12 = ScrewThread(d=0.012, P=0.00125)
    >>> round(preload_from_torque(M12, M=90.0, mu_G=0.12, mu_K=0.12, D_Km=0.01505) / 1e3, 1)
    47.8

    References
    ----------
    VDI 2230 Part 1.
    """
    not_negative("N·m", M=M)
    return M / _lever(thread, mu_G, mu_K, D_Km)


def loosening_torque(thread: ScrewThread, *, F: Values, mu_G: Values, mu_K: Values, D_Km: Values) -> Values:
    r"""Compute the torque that turns a preloaded screw loose.

    .. math:: M_L = F\left[-0.16\,P + 0.58\,d_2\,\mu_G + \frac{D_{Km}}{2}\mu_K\right]

    Parameters
    ----------
    thread : ScrewThread
        Metric thread.
    F : float or array
        Preload that is left [N], zero or more.
    mu_G : float or array
        Friction in the thread [-], 0 to 1.
    mu_K : float or array
        Friction under the head [-], 0 to 1.
    D_Km : float or array
        Mean friction diameter under the head [m], above zero.

    Returns
    -------
    float or array
        Torque [N·m], of the broadcast shape; negative if the screw undoes itself.

    Raises
    ------
    QuantityError
        If a value is outside its range.

    Notes
    -----
    The pitch now helps. A screw that has lost its preload has no more than its locking compound to hold it.

    Examples
    --------
    >>> M12 = ScrewThread(d=0.012, P=0.00125)
    >>> round(loosening_torque(M12, F=48e3, mu_G=0.12, mu_K=0.12, D_Km=0.01505), 1)
    71.1

    References
    ----------
    VDI 2230 Part 1, with the sign of the pitch term turned.
    """
    not_negative("N", F=F)
    return F * (_lever(thread, mu_G, mu_K, D_Km) - 2 * 0.16 * thread.P)


def assembly_preload(thread: ScrewThread, *, R_p: Values, mu_G: Values, nu: Values = 0.9) -> Values:
    r"""Compute the preload that uses a share of the yield strength while the wrench still turns.

    .. math::

        F_M = \frac{A_s\,\nu R_p}
            {\sqrt{1+3\left[\frac32\frac{d_2}{d_s}\left(\frac{P}{\pi d_2}+1.155\,\mu_G\right)\right]^2}}

    Parameters
    ----------
    thread : ScrewThread
        Metric thread.
    R_p : float or array
        Yield strength [Pa], above zero: 640 MPa (8.8 to M16), 940 MPa (10.9), 1100 MPa (12.9).
    mu_G : float or array
        Friction in the thread [-], 0 to 1.
    nu : float or array
        Share of the yield strength [-], above 0 to 1.

    Returns
    -------
    float or array
        Preload [N], of the broadcast shape.

    Raises
    ------
    QuantityError
        If a value is outside its range.

    Notes
    -----
    Shank screws; the torsion of tightening takes its share of the strength.

    Examples
    --------
    >>> M12 = ScrewThread(d=0.012, P=0.00125)
    >>> round(assembly_preload(M12, R_p=640e6, mu_G=0.12) / 1e3, 1)
    48.0

    References
    ----------
    VDI 2230 Part 1, assembly preload.
    """
    positive("Pa", R_p=R_p)
    between(0.0, 1.0, "", mu_G=mu_G, nu=nu)
    positive("", nu=nu)
    torsion = 1.5 * thread.d2 / thread.d_s * (thread.P / (math.pi * thread.d2) + 1.155 * mu_G)
    preload: Values = thread.A_s * nu * R_p / (1 + 3 * torsion**2) ** 0.5
    return preload


def nut_factor(thread: ScrewThread, *, mu_G: Values, mu_K: Values, D_Km: Values) -> Values:
    r"""Compute the factor K of the short form from friction and geometry.

    .. math:: K = \frac{0.16\,P}{d} + \frac{0.58\,\mu_G d_2}{d} + \frac{D_{Km}\,\mu_K}{2d}

    Parameters
    ----------
    thread : ScrewThread
        Metric thread.
    mu_G : float or array
        Friction in the thread [-], 0 to 1.
    mu_K : float or array
        Friction under the head [-], 0 to 1.
    D_Km : float or array
        Mean friction diameter under the head [m], above zero.

    Returns
    -------
    float or array
        Factor K [-], of the broadcast shape.

    Raises
    ------
    QuantityError
        If a value is outside its range.

    Notes
    -----
    About 0.16 lightly oiled, 0.20 as received, 0.30 unplated black (from memory).

    Examples
    --------
    >>> M12 = ScrewThread(d=0.012, P=0.00175)
    >>> round(nut_factor(M12, mu_G=0.12, mu_K=0.12, D_Km=0.01505), 3)
    0.162

    References
    ----------
    VDI 2230 Part 1, divided by the diameter.
    """
    return _lever(thread, mu_G, mu_K, D_Km) / thread.d


def short_form_torque(*, K: Values, F: Values, d: Values) -> Values:
    r"""Compute the tightening torque by the short form.

    .. math:: T = K F d

    Parameters
    ----------
    K : float or array
        Nut factor [-], 0 to 1.
    F : float or array
        Preload [N], zero or more.
    d : float or array
        Major diameter [m], above zero.

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
    Good to a quarter either way, for K is (common practice).

    Examples
    --------
    >>> round(short_form_torque(K=0.2, F=42e3, d=0.012), 1)
    100.8

    References
    ----------
    Shigley, Mechanical Engineering Design (from memory).
    """
    between(0.0, 1.0, "", K=K)
    not_negative("N", F=F)
    positive("m", d=d)
    return K * F * d


def _lever(thread: ScrewThread, mu_G: Values, mu_K: Values, D_Km: Values) -> Values:
    """Return torque per preload [m]."""
    between(0.0, 1.0, "", mu_G=mu_G, mu_K=mu_K)
    positive("m", D_Km=D_Km)
    return 0.16 * thread.P + 0.58 * thread.d2 * mu_G + D_Km / 2 * mu_K
