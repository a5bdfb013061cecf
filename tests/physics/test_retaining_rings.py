"""Groove capacity: laws and limits; the DIN tables lie among the published tests."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from clampgraph.errors import QuantityError
from clampgraph.physics import retaining_rings as rr


@given(d1=st.floats(0.01, 0.3), t=st.floats(1e-4, 3e-3), factor=st.floats(1.0, 4.0))
def test_capacity_grows_with_strength_and_size(d1, t, factor):
    """Proportional to the yield strength, and to the square of all sizes."""
    first = rr.groove_capacity(d1=d1, d2=d1 - 2 * t, n=3.01 * t)
    assert rr.groove_capacity(d1=d1, d2=d1 - 2 * t, n=3.01 * t, sigma_s=200e6 * factor) == pytest.approx(factor * first)
    large = rr.groove_capacity(d1=factor * d1, d2=factor * (d1 - 2 * t), n=3.01 * factor * t)
    assert large == pytest.approx(factor**2 * first)


def test_no_groove_carries_nothing():
    """A groove without depth has no area; shafts and bores count alike."""
    assert rr.groove_capacity(d1=0.05, d2=0.05, n=0.0045) == 0.0
    assert rr.groove_area(d1=0.05, d2=0.047) == rr.groove_area(d1=0.047, d2=0.05)
    assert rr.groove_area(d1=np.array([0.05, 0.06]), d2=0.047).shape == (2,)


@pytest.mark.parametrize(
    ("change", "said"),
    [({"n": 0.004}, "three groove depths"), ({"d1": 0.0}, "d1 = 0"), ({"sigma_s": 0.0}, "sigma_s = 0")],
)
def test_refusals(change, said):
    """A shoulder that shears off first is refused."""
    with pytest.raises(QuantityError, match=said):
        rr.groove_capacity(**({"d1": 0.05, "d2": 0.047, "n": 0.0045} | change))
