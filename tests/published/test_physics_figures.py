"""Single published figures that the formulas must meet; the mark tells how each was seen."""

import pytest

from clampgraph.physics import (
    chambers,
    cylinders,
    disc_springs,
    moisture,
    preload,
    stacks,
    tapers,
    valve_flow,
)
from clampgraph.physics.threads import ScrewThread

HEADS = {"M8": (11.6, 9.0), "M10": (14.6, 11.0), "M12": (16.6, 13.5), "M16": (22.5, 17.5)}


def torque(thread, size, F, mu):
    """Tightening torque with the head that VDI 2230 takes for the size."""
    dW, dh = HEADS[size]
    return preload.tightening_torque(thread, F=F, mu_G=mu, mu_K=mu, D_Km=(dW + dh) / 2e3)


@pytest.mark.parametrize(
    ("size", "pitch", "mu", "F_kN", "M_Nm"),
    [
        ("M8", 1.0, 0.10, 20.7, 22.8),
        ("M8", 1.0, 0.12, 20.2, 26.1),
        ("M12", 1.25, 0.12, 48.0, 90.0),
        ("M16", 1.5, 0.10, 89.6, 189.0),
        ("M16", 1.5, 0.12, 87.6, 218.0),
    ],
)
def test_vdi_2230_fine_threads(size, pitch, mu, F_kN, M_Nm):
    """VDI 2230 Part 1 table for class 8.8, read in a public page; half a per cent for rounding."""
    thread = ScrewThread(float(size[1:]) / 1e3, pitch / 1e3)
    F = preload.assembly_preload(thread, R_p=640e6, mu_G=mu)
    assert pytest.approx(F_kN, rel=5e-3) == F / 1e3
    assert torque(thread, size, F, mu) == pytest.approx(M_Nm, rel=6e-3)


@pytest.mark.parametrize(("R_p", "F_kN", "M_Nm"), [(940e6, 29.7, 38.3), (1100e6, 34.7, 44.9)])
def test_vdi_2230_stronger_screws(R_p, F_kN, M_Nm):
    """VDI 2230 Part 1 table for M8x1, classes 10.9 and 12.9, read in a public page that quotes it."""
    thread = ScrewThread(0.008, 0.001)
    F = preload.assembly_preload(thread, R_p=R_p, mu_G=0.12)
    assert pytest.approx(F_kN, rel=5e-3) == F / 1e3
    assert torque(thread, "M8", F, 0.12) == pytest.approx(M_Nm, rel=5e-3)


@pytest.mark.parametrize(
    ("size", "pitch", "M_Nm"), [("M8", 1.25, 24), ("M10", 1.5, 48), ("M12", 1.75, 85), ("M16", 2.0, 210)]
)
def test_workshop_torques(size, pitch, M_Nm):
    """A public manual prints these for class 8.8 at a friction of 0.12, rounded; three per cent."""
    thread = ScrewThread(float(size[1:]) / 1e3, pitch / 1e3)
    F = preload.assembly_preload(thread, R_p=640e6, mu_G=0.12)
    assert torque(thread, size, F, 0.12) == pytest.approx(M_Nm, rel=0.03)


def test_short_form():
    """Textbook example: M12, 42 kN and K = 0.2 take 100.8 N·m."""
    assert preload.short_form_torque(K=0.2, F=42e3, d=0.012) == pytest.approx(100.8)


def test_iso_6358_worked_example():
    """A public worked example of ISO 6358: 7 bar absolute, C 1 dm³/(s·bar), b 0.35, choked at 1 bar."""
    assert valve_flow.mass_flow(C=1e-8, b=0.35, p1=7e5, p2=1e5) == pytest.approx(0.008295, rel=1e-6)


def test_ideal_choking():
    """Textbooks print 0.528 for air."""
    assert valve_flow.critical_ratio() == pytest.approx(0.528, abs=5e-4)


def test_rule_of_five():
    """From memory: the effective area in mm² is five times the conductance in dm³/(s·bar)."""
    assert valve_flow.effective_area(C=1e-8) * 1e6 == pytest.approx(5.0, rel=5e-3)


@pytest.mark.parametrize(("Cv", "C"), [(1.0, 4.0)])
def test_rule_of_four(Cv, C):
    """From memory: C is four times Cv; within the range that the estimate states."""
    found = valve_flow.conductance_from_cv(Cv=Cv)
    assert found.low < C * 1e-8 < found.high


@pytest.mark.parametrize(
    ("D", "d", "push", "pull"),
    [
        (32, 12, 483, 415),
        (40, 16, 754, 633),
        (50, 20, 1178, 990),
        (63, 20, 1870, 1682),
        (80, 25, 3016, 2721),
        (100, 25, 4712, 4418),
    ],
)
def test_cylinder_catalogues(D, d, push, pull):
    """Catalogue tables for 6 bar print whole newtons (from memory)."""
    assert cylinders.push_force(p=6e5, D=D / 1e3) == pytest.approx(push, abs=0.5)
    assert cylinders.pull_force(p=6e5, D=D / 1e3, d=d / 1e3) == pytest.approx(pull, abs=0.5)


@pytest.mark.parametrize(("celsius", "grams"), [(20, 17.30), (35, 39.63), (40, 51.0)])
def test_saturated_air(celsius, grams):
    """Public tables of saturated air, in grams of water in a cubic metre; 0.6 per cent."""
    T = celsius + 273.15
    rho = moisture.vapour_density(e=moisture.saturation_pressure(T=T), T=T)
    assert rho * 1e3 == pytest.approx(grams, rel=6e-3)


@pytest.mark.parametrize(
    ("celsius", "gauge_bar", "kilograms"),
    [
        (0, 0, 0.0045), (0, 4, 0.00091), (0, 6, 0.00065),
        (20, 0, 0.018), (20, 4, 0.0035), (20, 6, 0.0025),
        (40, 0, 0.059), (40, 4, 0.011), (40, 6, 0.0079), (40, 8, 0.0062),
    ],
)  # fmt: skip
def test_water_in_free_air(celsius, gauge_bar, kilograms):
    """A public table, two digits: water in a cubic metre of free air, saturated under pressure."""
    e = moisture.saturation_pressure(T=celsius + 273.15)
    W = moisture.humidity_ratio(e=e, p=101325.0 + gauge_bar * 1e5)
    assert pytest.approx(kilograms, rel=0.02) == W * 1.205


def test_condensate_from_a_chart():
    """A public example off a chart, to 8 per cent: 20 °C, 70 per cent, 8 bar gauge and 40 °C: 6.4 g."""
    water = moisture.condensate(T_1=293.15, phi=0.7, T_2=313.15, p=901325.0)
    assert water == pytest.approx(0.0064, rel=0.08)


def test_disc_spring_factors():
    """Handbooks print K1 0.69, K2 1.22 and K3 1.38 for a diameter ratio of two (from memory)."""
    K = disc_springs.factors(De=2.0, Di=1.0)
    assert [round(float(each), 2) for each in K] == [0.69, 1.22, 1.38]


def test_shop_rule_of_friction():
    """A public handbook example: 5000 N, three in parallel, 15 900 N."""
    assert stacks.shop_rule_force(F=5000.0, n=3) == pytest.approx(15900)


def test_regression_values():
    """Regression values, computed here from the stated formulas and no evidence beyond them."""
    assert chambers.stored_energy(p=7e5, V=1e-3, p_a=1e5) == pytest.approx(762, abs=0.5)
    assert tapers.release_force(F=12e3, mu=0.2) == pytest.approx(1.9e3, rel=0.02)
    for delta, known in ((1.5, (0.52480, 1.09821, 1.17757)), (2.5, (0.76080, 1.32780, 1.56325))):
        assert disc_springs.factors(De=delta, Di=1.0) == pytest.approx(known, abs=6e-6)
