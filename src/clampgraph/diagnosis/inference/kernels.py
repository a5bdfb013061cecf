"""Loops over circuits in machine code, for those who have numba (the extra `fast`).

Loading numba takes longer than most single diagnoses.
So the loops are loaded when the work that was done without them would have paid for that:
a command never waits for them, and a service, a bulk run or a long session soon has them.
They multiply and add in the order of the loops in `evaluation`, and other threads run meanwhile.
"""

from collections.abc import Callable
from functools import cache
from importlib.util import find_spec

import numpy as np
from numpy.typing import NDArray

__all__ = ["PATIENCE", "Columns", "Meter", "downward", "loaded", "upward"]

PATIENCE = 150_000_000
"""Products after which the loops are loaded; without them, so many take about a second."""

Columns = tuple[NDArray[np.int32], NDArray[np.int32], NDArray[np.float64]]
"""Two slots and a weight for each row."""

_Loop = Callable[..., None]


class Meter:
    """Counts the work of this process, and says when the loops pay."""

    def __init__(self, patience: int = PATIENCE) -> None:
        self.left = patience if find_spec("numba") else np.inf

    def pays(self, products: int) -> bool:
        """Count some work, and return whether it shall be done by the loops."""
        self.left -= products
        return self.left < 0


@cache
def loaded() -> tuple[_Loop, _Loop]:
    """Return both loops, upward and downward, compiled for this machine; they are kept on disk where possible."""
    import numba  # noqa: PLC0415  # takes longer to load than most questions to answer

    def compiled(function: _Loop) -> _Loop:
        try:
            found: _Loop = numba.njit(nogil=True, cache=True)(function)
        except RuntimeError:  # there is no place to keep it
            found = numba.njit(nogil=True)(function)
        return found

    return compiled(upward), compiled(downward)


def upward(strips: NDArray[np.intp], terms: Columns, value: NDArray[np.float64]) -> None:
    """Fill the slots of all cases.

    Parameters
    ----------
    strips
        As in `layout.Circuit`.
    terms
        Left, right and weight of each term; one without a second operand takes slot 0, which holds 1.
    value
        Shape (slots, cases).
    """
    left, right, weight = terms
    for strip in range(strips.shape[0]):
        first, row, count, fresh = strips[strip]
        for index in range(count):
            slot, one, other, scale = first + index, left[row + index], right[row + index], weight[row + index]
            if fresh:
                for case in range(value.shape[1]):
                    value[slot, case] = value[one, case] * scale * value[other, case]
            else:
                for case in range(value.shape[1]):
                    value[slot, case] += value[one, case] * scale * value[other, case]


def downward(draws: NDArray[np.intp], uses: Columns, value: NDArray[np.float64], slope: NDArray[np.float64]) -> None:
    """Fill the derivatives of all cases.

    Parameters
    ----------
    draws
        As in `layout.Circuit`.
    uses
        For each use, the slot that it served, the other operand and the weight.
    value, slope
        Shape (slots, cases); the derivative of slot 0 is given.
    """
    out, other, share = uses
    for draw in range(draws.shape[0]):
        first, row, count, times = draws[draw]
        for index in range(count):
            slot, begin = first + index, row + index * times
            for use in range(begin, begin + times):
                served, beside, scale = out[use], other[use], share[use]
                if use == begin:
                    for case in range(value.shape[1]):
                        slope[slot, case] = slope[served, case] * scale * value[beside, case]
                else:
                    for case in range(value.shape[1]):
                        slope[slot, case] += slope[served, case] * scale * value[beside, case]
