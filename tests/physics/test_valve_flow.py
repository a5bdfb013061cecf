"""ISO 6358 flow against independent formulas, its limits, and conductances together."""

import fluids
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from clampgraph.errors import QuantityError
from clampgraph.physics import valve_flow as vf

conductances = st.floats(1e-12, 1e-6)
criticals = st.floats(0.05, 0.6)
ratios = st.floats(0.0, 1.0)


def test_choked_below_the_critical_ratio():
    """Downstream pressure does not matter while choked."""
    flows = vf.mass_flow(C=1e-8, b=0.3, p1=7e5, p2=np.array([0.0, 1e5, 2.1e5]))
    assert np.ptp(flows) == 0.0


def test_equal_pressures_do_not_flow():
    """At equal pressures nothing flows, and near them the flow is a straight line."""
    assert vf.mass_flow(C=1e-8, b=0.3, p1=7e5, p2=7e5) == 0.0
    near = [vf.flow_factor(r=1 - d, b=0.3) for d in (1e-4, 2e-4, 4e-4)]
    assert near[1] / near[0] == pytest.approx(2, rel=1e-6)
    assert near[2] / near[0] == pytest.approx(4, rel=1e-6)


def test_shut_valve():
    """A conductance of zero lets nothing pass."""
    assert vf.mass_flow(C=0.0, b=0.3, p1=7e5, p2=1e5) == 0.0


@given(b=criticals, r=ratios, step=st.floats(1e-4, 0.1))
def test_less_back_pressure_never_slows_the_flow(b, r, step):
    """The flow factor falls with the pressure ratio and stays between 0 and 1."""
    first, second = vf.flow_factor(r=r, b=b), vf.flow_factor(r=min(r + step, 1.0), b=b)
    assert 0.0 <= second <= first <= 1.0


@given(b=criticals)
def test_no_jump_where_the_line_begins(b):
    """Ellipse and line meet."""
    edge = vf.LAMINAR_RATIO
    assert vf.flow_factor(r=edge - 1e-9, b=b) == pytest.approx(vf.flow_factor(r=edge + 1e-9, b=b), rel=1e-5)


@given(C=conductances, b=criticals, p1=st.floats(1e5, 1e6), r=st.floats(0.0, 0.99), scale=st.floats(0.1, 10))
def test_dimension_law(C, b, p1, r, scale):
    """Mass flow is proportional to conductance, and to both pressures together."""
    flow = vf.mass_flow(C=C, b=b, p1=p1, p2=r * p1)
    assert vf.mass_flow(C=scale * C, b=b, p1=p1, p2=r * p1) == pytest.approx(scale * flow)
    assert vf.mass_flow(C=C, b=b, p1=scale * p1, p2=scale * (r * p1)) == pytest.approx(
        scale * flow, rel=1e-6, abs=1e-18
    )


def test_critical_ratio_equals_that_of_fluids():
    """Independent library: fluids, P_critical_flow."""
    for kappa in (1.3, 1.4, 1.667):
        assert vf.critical_ratio(kappa=kappa) == pytest.approx(fluids.P_critical_flow(1.0, kappa), rel=1e-12)


def test_effective_area_equals_that_of_a_relief_valve():
    """Independent library: fluids, API 520 gas area, discharge coefficient one, within 0.1 per cent."""
    m = vf.mass_flow(C=1e-8, b=0.3, p1=7e5, p2=1e5)
    area = fluids.API520_A_g(m=float(m), T=293.15, Z=1, MW=28.9647, k=1.4, P1=7e5, Kd=1)
    assert vf.effective_area(C=1e-8) == pytest.approx(area, rel=1e-3)


def test_kv_conversion_covers_usual_valves():
    """Independent library: fluids, IEC 60534-2-1 gas sizing; its range lies within the stated error."""
    for xT, inside in ((0.6, True), (0.72, True), (0.8, True), (0.3, False)):
        C = 1e-8
        q = float(vf.mass_flow(C=C, b=0.3, p1=7e5, p2=1e5)) / 1.2929
        Kv = fluids.size_control_valve_g(
            T=293.15, MW=28.9647, mu=1.8e-5, gamma=1.4, Z=1.0, P1=7e5, P2=1e5, Q=q, xT=xT
        )  # fmt: skip
        estimate = vf.conductance_from_kv(Kv=Kv)
        assert (estimate.low <= C <= estimate.high) is inside


def test_cv_is_kv_in_other_units():
    """Independent library: fluids, Cv_to_Kv."""
    by_cv = vf.conductance_from_cv(Cv=2.0)
    by_kv = vf.conductance_from_kv(Kv=float(fluids.Cv_to_Kv(2.0)))
    assert by_cv.value == pytest.approx(by_kv.value, rel=1e-4)


@given(first=conductances, second=conductances)
def test_series_is_less_and_parallel_more_than_either(first, second):
    """Series throttles below the least, parallel adds."""
    assert vf.series_conductance(first, second) <= min(first, second)
    assert vf.parallel_conductance(first, second) >= max(first, second)
    assert vf.series_conductance(first, second) == pytest.approx(vf.series_conductance(second, first))


def test_conductances_at_their_limits():
    """One alone is itself; one shut shuts a series; arrays keep their shape."""
    assert vf.series_conductance(3e-8) == vf.parallel_conductance(3e-8) == 3e-8
    assert vf.series_conductance(0.0, 3e-8) == vf.series_conductance(0.0, 0.0) == 0.0
    assert vf.series_conductance(np.array([3e-8, 0.0]), 4e-8) == pytest.approx([2.4e-8, 0.0])
    with pytest.raises(QuantityError, match="count = 0"):
        vf.series_conductance()


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"p2": 8e5}, "must not lie above p1"),
        ({"p1": 0.0}, "above zero"),
        ({"C": -1e-8}, "zero or more"),
        ({"b": 0.7}, "b = 0.7"),
        ({"T1": 20.0}, "100 to 500 K"),
        ({"p2": float("nan")}, "p2 = nan"),
    ],
)
def test_refusals(change, said):
    """A flow the wrong way or a temperature in Celsius is refused."""
    with pytest.raises(QuantityError, match=said):
        vf.mass_flow(**({"C": 1e-8, "b": 0.3, "p1": 7e5, "p2": 1e5} | change))
