"""Ranges: each refusal is one sentence with the symbol, the offending value and what would be right."""

import math
from typing import Any, Literal, TypeAlias

import numpy as np
from numpy.typing import NDArray

from clampgraph.errors import QuantityError

__all__ = ["Values", "between", "not_above", "not_negative", "positive"]

Values: TypeAlias = float | NDArray[np.float64]
"""A float, or an array that broadcasts against the other arguments."""


def positive(unit: str, **values: Values) -> None:
    """Demand that every value is finite and above zero.

    Examples
    --------
    >>> positive("m", De=-0.05)
    Traceback (most recent call last):
    clampgraph.errors.QuantityError: De = -0.05 m must be a finite value above zero.
    """
    for name, value in values.items():
        if isinstance(value, float | int):
            sound = 0.0 < value < math.inf
        else:
            sound = bool(np.all(value > 0.0) and np.all(value < np.inf))
        if not sound:
            offender = _offender(value, (np.asarray(value) > 0.0) & (np.asarray(value) < np.inf))
            raise QuantityError(f"{_tell(name, offender, unit)} must be a finite value above zero.")


def not_negative(unit: str, **values: Values) -> None:
    """Demand that every value is finite and zero or more."""
    for name, value in values.items():
        if isinstance(value, float | int):
            sound = 0.0 <= value < math.inf
        else:
            sound = bool(np.all(value >= 0.0) and np.all(value < np.inf))
        if not sound:
            offender = _offender(value, (np.asarray(value) >= 0.0) & (np.asarray(value) < np.inf))
            raise QuantityError(f"{_tell(name, offender, unit)} must be a finite value of zero or more.")


def between(low: float, high: float, unit: str, **values: Values) -> None:
    """Demand that every value lies in a closed range.

    Examples
    --------
    >>> between(0.0, 1.0, "", b=1.2)
    Traceback (most recent call last):
    clampgraph.errors.QuantityError: b = 1.2 is outside its range of 0 to 1.
    """
    for name, value in values.items():
        if isinstance(value, float | int):
            sound = low <= value <= high
        else:
            sound = bool(np.all(value >= low) and np.all(value <= high))
        if not sound:
            offender = _offender(value, (np.asarray(value) >= low) & (np.asarray(value) <= high))
            span = f"{low:.6g} to {high:.6g} {unit}".strip()
            raise QuantityError(f"{_tell(name, offender, unit)} is outside its range of {span}.")


def not_above(
    unit: str,
    lesser: tuple[str, Values],
    greater: tuple[str, Values],
    relation: Literal["above", "at or above"] = "above",
) -> None:
    """Demand of two named values that the first is not above (or not at or above) the second.

    Examples
    --------
    >>> not_above("m", ("s", 0.002), ("h0", 0.001))
    Traceback (most recent call last):
    clampgraph.errors.QuantityError: s = 0.002 m must not lie above h0 = 0.001 m.
    """
    sound = np.less_equal(lesser[1], greater[1]) if relation == "above" else np.less(lesser[1], greater[1])
    if not np.all(sound):
        small, large = np.broadcast_arrays(lesser[1], greater[1])
        first = _tell(lesser[0], _offender(small, sound), unit)
        raise QuantityError(f"{first} must not lie {relation} {_tell(greater[0], _offender(large, sound), unit)}.")


def _offender(value: Values | NDArray[Any], sound: Any) -> float:
    """Return the first value that is not sound."""
    return float(np.ravel(value)[np.argmin(np.ravel(sound))])


def _tell(name: str, value: float, unit: str) -> str:
    return f"{name} = {value:.6g} {unit}".rstrip()
