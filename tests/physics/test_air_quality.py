"""ISO 8573-1 classes of readings."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from clampgraph.errors import QuantityError
from clampgraph.physics import air_quality as aq

ORDER = ["1", "2", "3", "4", "5", "6", "7 to X"]


@given(T_d=st.floats(180.0, 300.0), step=st.floats(0.0, 30.0))
def test_wetter_air_is_never_of_a_better_class(T_d, step):
    """Classes worsen with the dew point."""
    assert ORDER.index(aq.water_class(T_d=T_d + step)) >= ORDER.index(aq.water_class(T_d=T_d))


@pytest.mark.parametrize(("celsius", "expected"), [(-70, "1"), (-40, "2"), (-20, "3"), (3, "4"), (7, "5"), (10, "6")])
def test_limits_belong_to_their_class(celsius, expected):
    """A reading at the limit is inside, a hundredth of a degree above it is not."""
    assert aq.water_class(T_d=celsius + 273.15) == expected
    assert aq.water_class(T_d=celsius + 273.16) == ORDER[ORDER.index(expected) + 1]


def test_oil_and_liquid():
    """Oil and liquid water have their limits and their X."""
    assert [aq.oil_class(c=c) for c in (0.0, 1e-8, 1e-7, 1e-6, 5e-6, 6e-6)] == ["1", "1", "2", "3", "4", "X"]
    assert [aq.liquid_class(c=c) for c in (5e-4, 5e-3, 1e-2, 2e-2)] == ["7", "8", "9", "X"]


def test_worst_particle_size_decides():
    """One size beyond its limit costs the class."""
    assert aq.particle_class(n_fine=20_000, n_medium=400, n_coarse=10) == "1"
    assert aq.particle_class(n_fine=20_000, n_medium=400, n_coarse=11) == "2"
    assert aq.particle_class(n_fine=0, n_medium=0, n_coarse=100_001) == "6 to X"


@pytest.mark.parametrize(
    "call",
    [
        lambda: aq.water_class(T_d=-40.0),
        lambda: aq.oil_class(c=-1.0),
        lambda: aq.liquid_class(c=float("nan")),
        lambda: aq.particle_class(n_fine=-1, n_medium=0, n_coarse=0),
    ],
)
def test_refusals(call):
    """Celsius taken for kelvin and negative contents are refused."""
    with pytest.raises(QuantityError):
        call()
