"""Tapers: self-release and push-out."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from clampgraph.errors import QuantityError
from clampgraph.physics import tapers


@given(mu=st.floats(0.0, 0.6), alpha=st.floats(0.02, 0.8))
def test_a_taper_sticks_exactly_above_the_limit(mu, alpha):
    """The release force turns positive where friction passes the tangent of the half angle."""
    limit = tapers.self_release_limit(alpha=alpha)
    if not math.isclose(mu, limit, rel_tol=1e-9):
        assert (tapers.release_force(F=1e4, mu=mu, alpha=alpha) > 0) == (mu > limit)


def test_ideal_wedge():
    """Without friction the cone pushes back with all that drew it in."""
    assert tapers.release_force(F=1e4, mu=0.0) == pytest.approx(-1e4)


@given(mu=st.floats(0.0, 1.0), alpha=st.floats(0.01, 1.0))
def test_balance_of_forces(mu, alpha):
    """The vectors of pressure and friction on the cone add up to the seating force, in and out."""
    N = tapers.normal_force(F=1e4, mu=mu, alpha=alpha)
    normal = np.array([math.sin(alpha), math.cos(alpha)]) * N  # axial outward, radial
    along = np.array([math.cos(alpha), -math.sin(alpha)]) * N * mu  # friction against drawing in
    assert (normal + along)[0] == pytest.approx(1e4)
    assert (along - normal)[0] == pytest.approx(tapers.release_force(F=1e4, mu=mu, alpha=alpha), abs=1e-6)


def test_steep_taper():
    """Regression values: 8°17'50" and the limit 7/48."""
    assert math.degrees(tapers.STEEP_HALF_ANGLE) == pytest.approx(8 + 17 / 60 + 50 / 3600, abs=1e-4)
    assert tapers.self_release_limit() == pytest.approx(7 / 48)
    assert tapers.release_force(F=12e3, mu=0.1) < 0 < tapers.release_force(F=12e3, mu=np.array([0.2]))[0]


@pytest.mark.parametrize(
    "call",
    [
        lambda: tapers.self_release_limit(alpha=8.3),
        lambda: tapers.normal_force(F=-1.0, mu=0.1),
        lambda: tapers.release_force(F=1.0, mu=1.5),
        lambda: tapers.release_force(F=1.0, mu=0.0, alpha=0.0),
    ],
)
def test_refusals(call):
    """Degrees taken for radians and impossible friction are refused."""
    with pytest.raises(QuantityError, match=r"range|zero"):
        call()
