"""One disc spring: limits, shapes, laws, and the inverse."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from clampgraph.errors import QuantityError
from clampgraph.physics import disc_springs as ds

DISC = {"De": 0.05, "Di": 0.0254, "t": 0.003, "h0": 0.0011}
ratios = st.floats(1.3, 4.0)
heights = st.floats(0.05, 1.38)
shares = st.floats(0.0, 1.0)


def disc(ratio, height, t=0.002):
    return {"De": ratio * 0.02, "Di": 0.02, "t": t, "h0": height * t}


def test_no_deflection_no_load():
    """A free disc carries nothing and stores nothing."""
    assert ds.load(**DISC, s=0.0) == 0.0
    assert ds.work(**DISC, s=0.0) == 0.0
    assert all(stress == 0.0 for stress in ds.stresses(**DISC, s=0.0))


def test_flat_washer_has_no_travel():
    """A disc without cone height has no flat load, and only zero deflection."""
    flat = DISC | {"h0": 0.0}
    assert ds.flat_load(**flat) == 0.0
    assert ds.load(**flat, s=0.0) == 0.0
    with pytest.raises(QuantityError, match="h0"):
        ds.deflection(**flat, F=0.0)


def test_flat_load_is_the_load_when_flat():
    """Both formulas meet at the flat disc."""
    assert ds.load(**DISC, s=DISC["h0"]) == pytest.approx(ds.flat_load(**DISC), rel=1e-12)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"s": 0.0012}, "must not lie above h0"),
        ({"s": -1e-6}, "zero or more"),
        ({"s": math.nan}, "s = nan"),
        ({"De": 0.0254}, "De/Di"),
        ({"De": 0.2}, "De/Di"),
        ({"t": 0.0065}, "groups 1 and 2"),
        ({"t": 0.0}, "above zero"),
        ({"Di": -0.02}, "above zero"),
    ],
)
def test_outside_its_range_is_refused(change, said):
    """No extrapolation past flat, past group 2, or past sensible rings."""
    with pytest.raises(QuantityError, match=said):
        ds.load(**(DISC | {"s": 0.0005} | change))


def test_tall_disc_has_no_inverse():
    """Above a height ratio of the square root of two several deflections carry one load."""
    tall = DISC | {"h0": 1.42 * DISC["t"]}
    with pytest.raises(QuantityError, match="several deflections"):
        ds.deflection(**tall, F=1000.0)


def test_more_than_flat_has_no_inverse():
    """A load above the flat load is refused."""
    with pytest.raises(QuantityError, match="flat load"):
        ds.deflection(**DISC, F=ds.flat_load(**DISC) * 1.01)


@given(ratio=ratios, height=heights, share=shares)
def test_inverse_comes_back(ratio, height, share):
    """Deflection of the load of a deflection is that deflection."""
    sizes = disc(ratio, height)
    s = share * sizes["h0"]
    back = ds.deflection(**sizes, F=ds.load(**sizes, s=s))
    assert back == pytest.approx(s, abs=2e-4 * sizes["h0"] if height > 1.3 else 1e-7 * sizes["t"])


@given(ratio=ratios, height=heights, share=st.floats(0.01, 0.99))
def test_load_grows_with_travel(ratio, height, share):
    """Below the height ratio of the square root of two the load grows all the way."""
    sizes = disc(ratio, height)
    s = share * sizes["h0"]
    assert ds.rate(**sizes, s=s) > 0
    assert ds.load(**sizes, s=s) < ds.load(**sizes, s=min(s * 1.005, sizes["h0"]))


@given(ratio=ratios, height=st.floats(0.05, 3.0), share=st.floats(0.05, 1.0))
def test_work_is_the_integral_and_rate_the_slope(ratio, height, share):
    """Work and rate agree with numerical integration (SciPy) and differences of the load."""
    sizes = disc(ratio, height)
    s = share * sizes["h0"]
    integral, _ = quad(lambda x: ds.load(**sizes, s=x), 0.0, s)
    assert ds.work(**sizes, s=s) == pytest.approx(integral, rel=1e-8)
    step = 1e-4 * s
    slope = (ds.load(**sizes, s=s) - ds.load(**sizes, s=s - 2 * step)) / (2 * step)
    assert ds.rate(**sizes, s=s - step) == pytest.approx(slope, rel=1e-5, abs=1e-5 * ds.rate(**sizes, s=0.0))


@given(ratio=ratios, height=heights, share=shares, scale=st.floats(0.1, 2.9))
def test_dimension_law(ratio, height, share, scale):
    """A disc scaled in all sizes carries the square of the scale, at equal stresses."""
    small = disc(ratio, height)
    large = {name: scale * size for name, size in small.items()}
    s = share * small["h0"]
    assert ds.load(**large, s=scale * s) == pytest.approx(scale**2 * ds.load(**small, s=s), rel=1e-9)
    assert pytest.approx(ds.stresses(**small, s=s).I, rel=1e-9) == ds.stresses(**large, s=scale * s).I


def test_arrays_broadcast():
    """Arrays give what the floats give, in the broadcast shape."""
    s = np.linspace(0.0, DISC["h0"], 5)[:, None]
    t = np.array([0.002, 0.003])
    loads = ds.load(**(DISC | {"t": t}), s=s)
    assert loads.shape == (5, 2)
    assert loads[3, 1] == pytest.approx(ds.load(**DISC, s=float(s[3, 0])))
    back = ds.deflection(**(DISC | {"t": t}), F=loads)
    assert np.allclose(back, np.broadcast_to(s, (5, 2)), atol=1e-10)


def test_one_bad_element_is_told():
    """An array with one value out of range is refused, and that value is told."""
    with pytest.raises(QuantityError, match=r"s = 0\.002 m"):
        ds.load(**DISC, s=np.array([0.0, 0.002]))


def test_textbook_exercise():
    """Regression values from solving a textbook exercise (flat load 4500 N, 1375 N/mm², delta 1.75, h/t 1.5).

    The exercise takes a modulus of 207 000 N/mm²; loads and stresses are proportional to it.
    """
    sizes = {"De": 0.1544, "Di": 0.0882, "t": 0.002653, "h0": 0.00398}
    factor = 207e9 / ds.MODULUS
    assert factor * ds.flat_load(**sizes) == pytest.approx(4500, rel=0.01)
    assert -factor * ds.stresses(**sizes, s=sizes["h0"]).I == pytest.approx(1375e6, rel=0.01)
