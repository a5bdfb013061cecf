"""What both doors hand to the compiler: variables, constant factors and which of them can be observed."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["Factor", "Problem"]


@dataclass(frozen=True)
class Factor:
    """A table of non-negative numbers, one axis for each variable of its scope."""

    scope: tuple[int, ...]
    values: NDArray[np.float64]


@dataclass(frozen=True)
class Problem:
    """A product of factors to be summed over all variables.

    Parameters
    ----------
    cards
        Number of states of each internal variable.
    labels
        What each internal variable is called when a message has to name it.
    factors
        The constant tables.
    observed
        For each column of the evidence, the internal variable that it speaks of.
        Two columns may share one: equal variables are one variable.
    place
        Where the network comes from, for messages.
    """

    cards: tuple[int, ...]
    labels: tuple[str, ...]
    factors: tuple[Factor, ...]
    observed: tuple[int, ...]
    place: str
