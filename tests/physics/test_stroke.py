"""The simulated stroke against an independent integrator, closed forms, its own books and the laws of the matter."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from clampgraph.errors import DataError
from clampgraph.physics import chambers, disc_springs, valve_flow
from clampgraph.physics.stroke import books, observe, run
from clampgraph.physics.stroke.drives import AirSide, air_flow
from clampgraph.physics.stroke.forces import clamping_force, needed_force, resistance, stored_energy
from clampgraph.physics.stroke.integrate import integrate
from physics.strokes import MAIN, air_unit, mechanism, oil_unit


def test_the_integrator_follows_a_swing_and_finds_its_turning_point():
    """A swing with a known period: the zero of its speed is found to a millionth."""
    arc = integrate(lambda y: [y[1], -y[0]], [0.0, 1.0], (0.0, 10.0), [lambda y: -y[1]], [1e-7, 1e-7])
    assert arc.event == 0
    assert arc.times[-1] == pytest.approx(math.pi / 2, abs=2e-5)
    assert arc.states[-1][0] == pytest.approx(1.0, abs=2e-5)


def test_of_two_events_in_one_step_the_first_counts():
    """Both lines are crossed in one long step; the nearer one ends the arc."""
    events = [lambda y: y[0] - 0.9, lambda y: y[0] - 0.3]
    arc = integrate(lambda _y: [1.0], [0.0], (0.0, 5.0), events, [1.0])
    assert arc.event == 1
    assert arc.times[-1] == pytest.approx(0.3, abs=1e-9)


def test_a_stiffness_beyond_reach_is_refused():
    """A rate that explodes ends in one clear sentence, not in an endless loop."""
    with pytest.raises(DataError, match="far too small"):
        integrate(lambda y: [1e9 * y[0] * y[0]], [1.0], (0.0, 1.0), [], [1e-9])


@given(st.floats(1.1e5, 1e6), st.floats(0.0, 0.99), st.floats(0.1, 0.5))
def test_air_flow_is_that_of_the_library_of_formulas(p1, r, b):
    """Below the laminar range the scalar flow equals the function of ISO 6358-1."""
    expected = valve_flow.mass_flow(C=1e-8, b=b, p1=p1, p2=r * p1)
    assert air_flow(1e-8, b, p1, r * p1) == pytest.approx(float(expected), rel=1e-12)


@given(st.floats(0.0, 6e-3))
def test_resistance_is_spring_and_stack(y):
    """Without friction the force on the rod is that of the return spring and the discs by DIN EN 16984."""
    mech = mechanism(taper_force=0.0)
    s = mech.stack
    disc = disc_springs.load(De=s.De, Di=s.Di, t=s.t, h0=s.h0, s=s.s1 + y / s.i)
    x = mech.gap + y
    assert resistance(mech, 0, joined=True)(x) == pytest.approx(650.0 + 2e4 * x + float(disc), rel=1e-12)


def test_stored_energy_is_the_work_of_the_resistance():
    """The energy function is the integral of the frictionless force."""
    mech = mechanism()
    grid = np.linspace(mech.gap, mech.stroke, 4001)
    forces = [resistance(mech, 0, joined=True)(x) for x in grid]
    energy = stored_energy(mech)
    assert energy(mech.stroke) - energy(mech.gap) == pytest.approx(np.trapezoid(forces, grid), rel=1e-7)


def test_filling_a_held_chamber_takes_the_closed_form_time():
    """With the rod blocked the chamber fills as the closed form of ISO 6358 says."""
    unit = air_unit(line=0.0, spring_preload=1e6)
    side = AirSide(unit.drive, unit.mechanism)
    flows = side.flows(frozenset({MAIN}))

    def rates(y):
        a, b, fed, out = flows(0.0, 0.0, y[2], y[3])
        return [0.0, 0.0, a, b, fed, out, 0.0, 0.0]

    arc = integrate(rates, side.start(), (0.0, 1.0), [lambda y: side.pressure(y) - 5e5], side.scale)
    vessel = chambers.Vessel(V=1e-4, C=4.4e-8, b=0.3)
    expected = chambers.fill_time(vessel, p_s=7.01325e5, p_i=101325.0, p_f=6.01325e5)
    assert arc.times[-1] == pytest.approx(expected, rel=1e-4)


def test_the_release_agrees_with_an_independent_integrator():
    """From contact to the end of the stroke SciPy's DOP853, at a thousandth of our error, finds the same times."""
    unit = air_unit()
    cycle = run(unit)
    side, mech = cycle.side, unit.mechanism
    end = cycle.in_phases("end of stroke", "release")[0]
    start = [s for s in cycle.samples if s.time < end.time and s.travel <= mech.gap + 1e-12][-1]
    flows, resist = side.flows(frozenset({MAIN})), resistance(mech, 1, joined=True)
    rt = 1e5 / valve_flow.RHO_0
    area, mass = mech.area, mech.mass + mech.drawbar_mass
    chamber = (start.pressure + 101325.0) * (1e-4 + area * mech.gap) / rt
    line = (start.line_pressure + 101325.0) * 8e-5 / rt

    def rates(_t, y):
        x, v, a, b = y
        push = (a * rt / (1e-4 + area * x) - 101325.0) * area
        da, db, _, _ = flows(x, v, a, b)
        return [v, (push - resist(x) - 210.0 - 150.0 * v) / mass, da, db]

    def stop(_t, y):
        return y[0] - mech.stroke

    stop.terminal = True
    span = (start.time, start.time + 1.0)
    first = [mech.gap, 0.0, chamber, line]
    found = solve_ivp(rates, span, first, "DOP853", events=stop, rtol=1e-10, atol=1e-13, max_step=1e-3)
    assert end.time == pytest.approx(found.t_events[0][0], abs=2e-5)
    assert end.speed == pytest.approx(found.y_events[0][0][1], abs=2e-3)


UNITS = [air_unit(), air_unit(approach=0.0), air_unit(line=0.0), oil_unit(), oil_unit(precharge=90e5)]


@pytest.mark.parametrize("unit", UNITS, ids=["tandem", "no-approach", "one-volume", "oil", "empty-accumulator"])
def test_the_books_close(unit):
    """Mass closes to rounding, volume to a thousandth, energy to half a per cent of what is turned over."""
    cycle = run(unit)
    assert cycle.in_phases("home", "reclamp")
    for book in books(cycle):
        assert book.error <= book.limit, book


@given(
    st.floats(3.5e5, 9e5), st.floats(0.5e-8, 6e-8), st.floats(0.3e-8, 9e-8), st.floats(20.0, 900.0),
    st.floats(0.0, 2e-3),
)  # fmt: skip
def test_the_books_close_whatever_the_unit(supply, main, dump, friction, gap):
    """Weak supplies, narrow ways and sticky rods included: nothing is lost, nothing leaves its bounds."""
    unit = air_unit(supply=supply, main=main, dump=dump, friction=friction, gap=gap)
    cycle = run(unit)
    assert all(book.error <= book.limit for book in books(cycle))
    assert all(-1e-9 <= s.travel <= unit.mechanism.stroke + 1e-9 for s in cycle.samples)
    assert all(s.pressure > -101325.0 for s in cycle.samples)


def test_more_supply_releases_sooner_and_harder():
    """Time falls and force margin grows with the supply."""
    shown = [observe(run(air_unit(supply=bar * 1e5))) for bar in (6.9, 7.5, 8.5)]
    times, margins = ([s[name] for s in shown] for name in ("release-time", "force-margin"))
    assert times == sorted(times, reverse=True)
    assert margins == sorted(margins)


def test_without_the_approach_stage_the_rod_strikes_hard():
    """Common practice: without the approach stage the impact energy is several times larger."""
    with_stage, without = (observe(run(air_unit(approach=c))) for c in (0.9e-8, 0.0))
    assert without["impact-energy"] > 5 * with_stage["impact-energy"]


def test_a_narrow_way_out_lengthens_the_return_alone():
    """Common practice: an exhaust that stays shut lengthens the return, not the release."""
    wide, narrow = (observe(run(air_unit(dump=c))) for c in (6e-8, 0.5e-8))
    assert narrow["return-time"] > 2 * wide["return-time"]
    assert narrow["release-time"] == pytest.approx(wide["release-time"], rel=1e-3)


def test_one_piston_of_100_mm_cannot_open_the_stack():
    """Common practice: 4.7 kN at 6 bar against a stack of more than 8 kN; the rod stops at the drawbar."""
    shown = observe(run(air_unit(area=math.pi / 4 * 0.1**2)))
    assert shown["peak-force"] == pytest.approx(4712.0, rel=1e-3)
    assert shown["clamping-force"] > 8000.0
    assert shown["force-margin"] < 0.0
    assert shown["drawbar-travel"] == pytest.approx(0.0, abs=1e-9)
    assert "release-time" not in shown


def test_forces_tell_the_branches_apart():
    """The stack pulls less on the tool than it takes to press it, and pressing it fully open takes most."""
    mech = mechanism()
    assert clamping_force(mech) < resistance(mech, 1, joined=True)(mech.gap) < needed_force(mech)


def test_a_rod_that_touches_at_rest_has_no_gap():
    """With the gap set to nothing nothing is struck, and the gap at rest is zero."""
    shown = observe(run(air_unit(gap=0.0)))
    assert shown["gap-at-rest"] == 0.0
    assert shown.get("contact-speed", 0.0) == 0.0


def test_oil_leaking_past_the_seal_goes_to_the_tank():
    """A leaking seal shows as oil that flows while held."""
    sound, leaking = observe(run(oil_unit())), observe(run(oil_unit(leak=1e-12)))
    assert sound["leak-while-held"] == 0.0
    assert leaking["leak-while-held"] == pytest.approx(1e-12 * 80e5, rel=0.05)


def test_an_empty_accumulator_makes_the_release_slower():
    """With the charge gone the pump alone moves the rod."""
    charged, empty = (observe(run(oil_unit(precharge=p, pump_flow=2e-3 / 60))) for p in (50e5, 200e5))
    assert empty["release-time"] > 1.5 * charged["release-time"]
