r"""Life of worn and failing parts: B10D, MTTFD, T10D and the Weibull distribution.

Times are in seconds and rates per second; the trade tells them in years, which `units` does at the edge.
"""

import math
from typing import Final

import numpy as np
from scipy.special import gamma

from clampgraph.physics.bounds import Values, between, not_negative, positive

__all__ = [
    "YEAR",
    "cycle_rate",
    "mttfd",
    "t10d",
    "weibull_b10",
    "weibull_mean",
    "weibull_scale",
    "weibull_survival",
]

YEAR: Final = 365.25 * 86400.0
"""A year [s]."""
_TENTH: Final = -math.log(0.9)


def cycle_rate(*, d_op: Values, h_op: Values, t_cycle: Values) -> Values:
    r"""Compute the mean rate of cycles.

    .. math:: n_{op} = \frac{d_{op}\,h_{op}}{t_{cycle}}

    Parameters
    ----------
    d_op : float or array
        Working days in a year [-], above 0 to 366.
    h_op : float or array
        Working time in a day [s], above 0 to 86400.
    t_cycle : float or array
        Mean time from the start of one cycle to the next [s], above zero.

    Returns
    -------
    float or array
        Cycles [1/s], averaged over the year, of the broadcast shape.

    Raises
    ------
    QuantityError
        If a value is outside its range.

    Notes
    -----
    Times `YEAR` it is the n_op of the standard, cycles in a year.

    Examples
    --------
    >>> round(cycle_rate(d_op=220, h_op=16 * 3600.0, t_cycle=5.0) * YEAR)
    2534400

    References
    ----------
    ISO 13849-1, annex C.
    """
    positive("days", d_op=d_op)
    between(0.0, 366.0, "days", d_op=d_op)
    positive("s", h_op=h_op, t_cycle=t_cycle)
    between(0.0, 86400.0, "s", h_op=h_op)
    return d_op * h_op / t_cycle / YEAR


def mttfd(*, B10D: Values, n_op: Values) -> Values:
    r"""Compute the mean time to dangerous failure.

    .. math:: MTTF_D = \frac{B_{10D}}{0.1\,n_{op}}

    Parameters
    ----------
    B10D : float or array
        Cycles until a tenth of the parts has failed dangerously [-], above zero; twice B10 if that share
        is unknown.
    n_op : float or array
        Cycles [1/s], above zero.

    Returns
    -------
    float or array
        Mean time [s], of the broadcast shape.

    Raises
    ------
    QuantityError
        If a value is not above zero.

    Notes
    -----
    The 0.1 stands for -ln 0.9, five per cent on the safe side. The standard caps the figure of a channel.

    Examples
    --------
    >>> round(mttfd(B10D=60e6, n_op=2534400 / YEAR) / YEAR)
    237

    References
    ----------
    ISO 13849-1, annex C.
    """
    positive("cycles", B10D=B10D)
    positive("1/s", n_op=n_op)
    return B10D / (0.1 * n_op)


def t10d(*, B10D: Values, n_op: Values) -> Values:
    r"""Compute the time after which a part must be renewed.

    .. math:: T_{10D} = \frac{B_{10D}}{n_{op}}

    Parameters
    ----------
    B10D : float or array
        Cycles until a tenth of the parts has failed dangerously [-], above zero.
    n_op : float or array
        Cycles [1/s], above zero.

    Returns
    -------
    float or array
        Time [s], of the broadcast shape.

    Raises
    ------
    QuantityError
        If a value is not above zero.

    Notes
    -----
    The constant failure rate behind `mttfd` holds until then.

    Examples
    --------
    >>> round(t10d(B10D=60e6, n_op=2534400 / YEAR) / YEAR, 1)
    23.7

    References
    ----------
    ISO 13849-1, annex C.
    """
    positive("cycles", B10D=B10D)
    positive("1/s", n_op=n_op)
    return B10D / n_op


def weibull_b10(*, eta: Values, beta: Values) -> Values:
    r"""Compute the life that nine in ten parts reach.

    .. math:: B_{10} = \eta\,(-\ln 0.9)^{1/\beta}

    Parameters
    ----------
    eta : float or array
        Characteristic life [any unit of life], above zero.
    beta : float or array
        Shape [-], 0.2 to 20: below 1 early failures, 1 chance, above 1 wear.

    Returns
    -------
    float or array
        Life [unit of eta], of the broadcast shape.

    Raises
    ------
    QuantityError
        If a value is outside its range.

    Notes
    -----
    Two parameters: no time without failures.

    Examples
    --------
    >>> round(weibull_b10(eta=1.0, beta=2.0), 6)
    0.324593

    References
    ----------
    IEC 61649.
    """
    _life(eta, beta)
    life: Values = eta * _TENTH ** (1.0 / beta)
    return life


def weibull_scale(*, B10: Values, beta: Values) -> Values:
    r"""Compute the characteristic life from the life that nine in ten parts reach.

    .. math:: \eta = B_{10}\,(-\ln 0.9)^{-1/\beta}

    Parameters
    ----------
    B10 : float or array
        Life that nine in ten reach [any unit of life], above zero.
    beta : float or array
        Shape [-], 0.2 to 20.

    Returns
    -------
    float or array
        Characteristic life [unit of B10], of the broadcast shape.

    Raises
    ------
    QuantityError
        If a value is outside its range.

    Notes
    -----
    Inverse of `weibull_b10`.

    Examples
    --------
    >>> round(weibull_scale(B10=0.324593, beta=2.0), 4)
    1.0

    References
    ----------
    IEC 61649.
    """
    _life(B10, beta)
    scale: Values = B10 / _TENTH ** (1.0 / beta)
    return scale


def weibull_mean(*, eta: Values, beta: Values) -> Values:
    r"""Compute the mean life.

    .. math:: \eta\,\Gamma(1 + 1/\beta)

    Parameters
    ----------
    eta : float or array
        Characteristic life [any unit of life], above zero.
    beta : float or array
        Shape [-], 0.2 to 20.

    Returns
    -------
    float or array
        Mean life [unit of eta], of the broadcast shape.

    Raises
    ------
    QuantityError
        If a value is outside its range.

    Notes
    -----
    For chance failures (shape 1) it is the characteristic life.

    Examples
    --------
    >>> round(float(weibull_mean(eta=1.0, beta=2.0)), 6)
    0.886227

    References
    ----------
    IEC 61649.
    """
    _life(eta, beta)
    mean: Values = eta * gamma(1.0 + 1.0 / beta)
    return mean


def weibull_survival(*, x: Values, eta: Values, beta: Values) -> Values:
    r"""Compute the share of parts that still works at an age.

    .. math:: R = \exp\left(-(x/\eta)^\beta\right)

    Parameters
    ----------
    x : float or array
        Age [unit of eta], zero or more.
    eta : float or array
        Characteristic life [any unit of life], above zero.
    beta : float or array
        Shape [-], 0.2 to 20.

    Returns
    -------
    float or array
        Share [-], of the broadcast shape.

    Raises
    ------
    QuantityError
        If a value is outside its range.

    Notes
    -----
    One at age zero.

    Examples
    --------
    >>> round(float(weibull_survival(x=1.0, eta=1.0, beta=1.5)), 4)
    0.3679

    References
    ----------
    IEC 61649.
    """
    _life(eta, beta)
    not_negative("", x=x)
    share: Values = np.exp(-((x / eta) ** beta))
    return share


def _life(scale: Values, beta: Values) -> None:
    positive("", life=scale)
    between(0.2, 20.0, "", beta=beta)
