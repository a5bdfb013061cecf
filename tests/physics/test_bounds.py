"""Ranges of values: what is refused, and how it is told."""

import math

import numpy as np
import pytest

from clampgraph.errors import QuantityError
from clampgraph.physics.bounds import between, not_above, not_negative, positive


@pytest.mark.parametrize("bad", [0.0, -1.0, math.nan, math.inf, np.array([1.0, np.nan]), np.array([1.0, -1.0])])
def test_positive_refuses(bad):
    """Zero, negative, nan and infinite values are refused, alone or in an array."""
    with pytest.raises(QuantityError, match=r"D = .* m must be a finite value above zero"):
        positive("m", D=bad)


@pytest.mark.parametrize("bad", [-1.0, math.nan, math.inf, np.array([0.0, np.inf])])
def test_not_negative_refuses(bad):
    """Negative, nan and infinite values are refused; zero is not."""
    not_negative("m", D=0.0)
    with pytest.raises(QuantityError, match="zero or more"):
        not_negative("m", D=bad)


@pytest.mark.parametrize("bad", [1.1, math.nan, np.array([0.5, 1.1])])
def test_between_refuses(bad):
    """The sentence tells the first offender and the range."""
    between(0.0, 1.0, "", b=np.array([0.0, 1.0]))
    with pytest.raises(QuantityError, match=r"b = (1\.1|nan) is outside its range of 0 to 1"):
        between(0.0, 1.0, "", b=bad)


def test_pairs_are_told_together():
    """Of two arrays the offending pair is told."""
    with pytest.raises(QuantityError, match=r"s = 3 m must not lie above h0 = 2 m"):
        not_above("m", ("s", np.array([1.0, 3.0])), ("h0", 2.0))
    with pytest.raises(QuantityError, match="at or above"):
        not_above("m", ("d", 1.0), ("D", 1.0), "at or above")
    with pytest.raises(QuantityError, match="nan"):
        not_above("m", ("s", math.nan), ("h0", 2.0))
