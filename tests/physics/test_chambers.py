"""Filling and venting against the integrated differential equation, leaks, and stored energy."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad, solve_ivp

from clampgraph.errors import QuantityError
from clampgraph.physics import chambers
from clampgraph.physics.chambers import R_0, Vessel
from clampgraph.physics.valve_flow import T_0, mass_flow

LITRE = Vessel(V=1e-3, C=1e-8, b=0.3)


def integrated(rate, p_i, p_f):
    """Time at which the pressure passes p_f, by SciPy."""
    passed = lambda t, y: y[0] - p_f  # noqa: ARG005, E731 - the form that SciPy asks for
    passed.terminal = True
    solution = solve_ivp(rate, (0, 100), [p_i], events=passed, rtol=1e-10, atol=1e-3, method="LSODA")
    return solution.t_events[0][0]


@pytest.mark.parametrize("b", [0.05, 0.2, 0.3, 0.5, 0.6])
@pytest.mark.parametrize("share", [0.1, 0.35, 0.9, 0.99])
def test_fill_equals_the_integrated_equation(b, share):
    """Closed form against SciPy's integration of the mass balance."""
    vessel = Vessel(V=1e-3, C=1e-8, b=b)

    def rate(_, y):
        m = mass_flow(C=vessel.C, b=b, p1=7e5, p2=min(y[0], 7e5))
        return [chambers.pressure_rate(p=y[0], V=vessel.V, q=R_0 * T_0 * m)]

    p_i = 0.05 * 7e5
    exact = chambers.fill_time(vessel, p_s=7e5, p_i=p_i, p_f=share * 7e5)
    assert exact == pytest.approx(integrated(rate, p_i, share * 7e5), rel=1e-6)


@pytest.mark.parametrize("b", [0.05, 0.3, 0.5, 0.6])
@pytest.mark.parametrize("n", [1.0, 1.2, 1.4])
@pytest.mark.parametrize("p_f", [5e5, 2.5e5, 1.1e5])
def test_vent_equals_the_integrated_equation(b, n, p_f):
    """Closed and Gauss form against SciPy's integration, temperature included."""
    vessel = Vessel(V=1e-3, C=1e-8, b=b)

    def rate(_, y):
        T = T_0 * (y[0] / 7e5) ** ((n - 1) / n)
        m = mass_flow(C=vessel.C, b=b, p1=y[0], p2=min(1e5, y[0]), T1=T)
        return [chambers.pressure_rate(p=y[0], V=vessel.V, q=-R_0 * T * m, n=n)]

    exact = chambers.vent_time(vessel, p_i=7e5, p_f=p_f, p_a=1e5, n=n)
    assert exact == pytest.approx(integrated(rate, 7e5, p_f), rel=1e-6)


def test_regression_of_a_litre():
    """Regression values, computed from the closed forms and by an independent integration."""
    times = {0.9: 0.877931, 0.95: 0.990524, 0.99: 1.138237, 1.0: 1.256700}
    for share, seconds in times.items():
        assert chambers.fill_time(LITRE, p_s=7e5, p_i=1e5, p_f=share * 7e5) == pytest.approx(seconds, abs=1e-6)
    assert chambers.fill_time(LITRE, p_s=7e5, p_i=1e5, p_f=0.3 * 7e5) == pytest.approx(0.157143, abs=1e-6)


def test_nothing_to_do_takes_no_time():
    """A chamber at its goal is there."""
    assert chambers.fill_time(LITRE, p_s=7e5, p_i=7e5, p_f=7e5) == 0.0
    assert chambers.vent_time(LITRE, p_i=7e5, p_f=7e5) == 0.0
    assert chambers.vent_time(LITRE, p_i=101325.0, p_f=101325.0) == 0.0


def test_empty_chamber_fills_in_finite_time():
    """From vacuum to the supply's pressure, and out to the very pressure outside."""
    assert math.isfinite(chambers.fill_time(LITRE, p_s=7e5, p_i=0.0, p_f=7e5))
    assert math.isfinite(chambers.vent_time(LITRE, p_i=7e5, p_f=101325.0))


@given(scale=st.floats(0.01, 100), p_f=st.floats(1.1e5, 6.9e5))
def test_time_is_volume_over_conductance(scale, p_f):
    """Dimension law: time is proportional to V/C."""
    other = Vessel(V=LITRE.V * scale, C=LITRE.C, b=LITRE.b)
    narrow = Vessel(V=LITRE.V, C=LITRE.C / scale, b=LITRE.b)
    for vessel in (other, narrow):
        filled = chambers.fill_time(vessel, p_s=7e5, p_i=1e5, p_f=p_f)
        assert filled == pytest.approx(scale * chambers.fill_time(LITRE, p_s=7e5, p_i=1e5, p_f=p_f))
        vented = chambers.vent_time(vessel, p_i=7e5, p_f=p_f)
        assert vented == pytest.approx(scale * chambers.vent_time(LITRE, p_i=7e5, p_f=p_f))


@given(p_f=st.floats(1.1e5, 6.5e5), more=st.floats(1e3, 4e4))
@settings(max_examples=50)
def test_further_takes_longer(p_f, more):
    """Filling higher and venting lower take longer; a fast vent is the quicker one."""
    assert chambers.fill_time(LITRE, p_s=7e5, p_i=1e5, p_f=p_f + more) > chambers.fill_time(
        LITRE, p_s=7e5, p_i=1e5, p_f=p_f
    )
    assert chambers.vent_time(LITRE, p_i=7e5, p_f=p_f) > chambers.vent_time(LITRE, p_i=7e5, p_f=p_f + more)
    assert chambers.vent_time(LITRE, p_i=7e5, p_f=p_f, n=1.4) < chambers.vent_time(LITRE, p_i=7e5, p_f=p_f)


def test_leak_from_its_own_decay():
    """A leak of known conductance is found again from the pressures that SciPy integrates for it."""
    C = 2e-11

    def rate(_, y):
        return [chambers.pressure_rate(p=y[0], V=1e-3, q=-R_0 * T_0 * mass_flow(C=C, b=0.3, p1=y[0], p2=1e5))]

    p_2 = float(solve_ivp(rate, (0, 60), [7e5], rtol=1e-10, atol=1e-3).y[0, -1])
    assert chambers.leak_conductance(V=1e-3, p_1=7e5, p_2=p_2, t=60.0) == pytest.approx(C, rel=1e-6)
    mean = (mass_flow(C=C, b=0.3, p1=7e5, p2=1e5) + mass_flow(C=C, b=0.3, p1=p_2, p2=1e5)) / 2 / 1.185
    assert chambers.leak_rate(V=1e-3, p_1=7e5, p_2=p_2, t=60.0) == pytest.approx(float(mean), rel=1e-2)


def test_tight_vessel_has_no_leak():
    """Held pressure is no leak, not an error."""
    assert chambers.leak_rate(V=1e-3, p_1=7e5, p_2=7e5, t=60.0) == 0.0
    assert chambers.leak_conductance(V=1e-3, p_1=7e5, p_2=7e5, t=60.0) == 0.0


def test_stored_energy():
    """At the pressure outside nothing is stored; it grows with pressure and volume."""
    assert chambers.stored_energy(p=101325.0, V=1e-3) == 0.0
    energies = chambers.stored_energy(p=np.array([2e5, 4e5, 7e5]), V=1e-3)
    assert (np.diff(energies) > 0).all()
    work, _ = quad(lambda v: 7e5 * 1e-3 / v - 1e5, 1e-3, 7e-3)
    assert chambers.stored_energy(p=7e5, V=1e-3, p_a=1e5) == pytest.approx(work)


def test_adiabatic_fill():
    """The energy balance without heat through the wall, integrated by SciPy, ends at the closed form."""

    def rate(_, y):
        m = mass_flow(C=1e-8, b=0.3, p1=7e5, p2=y[0])
        return [chambers.pressure_rate(p=y[0], V=1e-3, q=R_0 * T_0 * m, n=chambers.KAPPA), m]

    p, m = solve_ivp(rate, (0, 0.4), [1e-3, 1e-3 * 1e-3 / (R_0 * T_0)], rtol=1e-9, atol=1e-12).y[:, -1]
    assert chambers.adiabatic_fill_temperature(T=T_0) == pytest.approx(p * 1e-3 / (m * R_0), rel=1e-6)


@pytest.mark.parametrize(
    ("call", "said"),
    [
        (lambda: Vessel(V=0.0, C=1e-8, b=0.3), "V = 0"),
        (lambda: Vessel(V=1e-3, C=0.0, b=0.3), "C = 0"),
        (lambda: Vessel(V=1e-3, C=1e-8, b=0.0), "b = 0"),
        (
            lambda: chambers.fill_time(LITRE, p_s=7e5, p_i=1e5, p_f=8e5),
            "p_f = 800000 Pa must not lie above p_s",
        ),
        (lambda: chambers.fill_time(LITRE, p_s=7e5, p_i=3e5, p_f=2e5), "p_i"),
        (lambda: chambers.vent_time(LITRE, p_i=7e5, p_f=5e4), "p_a"),
        (lambda: chambers.vent_time(LITRE, p_i=7e5, p_f=2e5, n=1.6), "n = 1.6"),
        (lambda: chambers.vent_time(LITRE, p_i=math.inf, p_f=2e5), "p_i"),
        (lambda: chambers.pressure_rate(p=1e5, V=0.0, q=1.0), "V = 0"),
        (lambda: chambers.pressure_rate(p=1e5, V=1e-3, q=math.nan), "q = nan"),
        (lambda: chambers.leak_rate(V=1e-3, p_1=6e5, p_2=7e5, t=60.0), "must not lie above p_1"),
        (lambda: chambers.leak_rate(V=1e-3, p_1=6e5, p_2=5e5, t=0.0), "t = 0"),
        (lambda: chambers.leak_conductance(V=1e-3, p_1=6e5, p_2=1.5e5, t=9.0), "p_2"),
        (lambda: chambers.stored_energy(p=5e4, V=1e-3), "p_a"),
    ],
)
def test_refusals(call, said):
    """Impossible chambers and pressures are refused in one sentence."""
    with pytest.raises(QuantityError, match=said):
        call()
