"""Moist air against CoolProp (IAPWS) and psychrolib (ASHRAE)."""

import numpy as np
import psychrolib
import pytest
from CoolProp.CoolProp import HAPropsSI, PropsSI
from hypothesis import given
from hypothesis import strategies as st

from clampgraph.errors import QuantityError
from clampgraph.physics import moisture

temperatures = st.floats(208.15, 333.15)


@pytest.fixture(autouse=True)
def si_units():
    psychrolib.SetUnitSystem(psychrolib.SI)


@pytest.mark.parametrize("celsius", [0.1, 3, 10, 20, 30, 35, 40, 60])
def test_saturation_equals_iapws(celsius):
    """Independent library: CoolProp, within the stated 0.35 per cent."""
    T = 273.15 + celsius
    assert moisture.saturation_pressure(T=T) == pytest.approx(PropsSI("P", "T", T, "Q", 1, "Water"), rel=3.5e-3)


@pytest.mark.parametrize("celsius", [-60, -40, -20, -5, 3, 20, 40])
def test_saturation_equals_ashrae(celsius):
    """Independent library: psychrolib, over ice and over water."""
    assert moisture.saturation_pressure(T=273.15 + celsius) == pytest.approx(
        psychrolib.GetSatVapPres(celsius), rel=3e-3
    )


@given(T=temperatures)
def test_dew_point_is_the_inverse(T):
    """The dew point of a saturated vapour pressure is its temperature."""
    assert moisture.dew_point(e=moisture.saturation_pressure(T=T)) == pytest.approx(T, abs=1e-6)


@given(T=temperatures, step=st.floats(0.01, 5))
def test_warmer_air_holds_more(T, step):
    """Saturation grows with temperature, across the ice point too."""
    warmer = min(T + step, 333.15)
    assert moisture.saturation_pressure(T=warmer) >= moisture.saturation_pressure(T=T)


def test_dew_point_outside_equals_that_of_psychrolib():
    """Independent library: +3 °C at 7 bar(g) is -20.8 °C outside, over ice."""
    e = psychrolib.GetSatVapPres(3.0) * 101325 / 801325
    W = psychrolib.GetHumRatioFromVapPres(e, 101325)
    expected = psychrolib.GetTDewPointFromHumRatio(20.0, W, 101325) + 273.15
    told = moisture.pressure_dew_point(T_d=276.15, p_1=801325.0, p_2=101325.0)
    assert told == pytest.approx(expected, abs=0.1)


@given(T_d=st.floats(260.0, 300.0), ratio=st.floats(0.3, 3.0))
def test_dew_point_goes_and_returns(T_d, ratio):
    """Expanding and compressing again gives the first dew point."""
    there = moisture.pressure_dew_point(T_d=T_d, p_1=1e5, p_2=ratio * 1e5)
    assert moisture.pressure_dew_point(T_d=there, p_1=ratio * 1e5, p_2=1e5) == pytest.approx(T_d, abs=1e-6)
    assert (there > T_d) == (ratio > 1) or ratio == pytest.approx(1.0)


def test_humidity_ratio_equals_that_of_psychrolib():
    """Independent library: 20 °C and 70 per cent."""
    e = 0.7 * moisture.saturation_pressure(T=293.15)
    W = psychrolib.GetHumRatioFromRelHum(20.0, 0.7, 101325)
    assert moisture.humidity_ratio(e=e, p=101325.0) == pytest.approx(W, rel=4e-3)


def test_real_air_under_pressure_holds_little_more():
    """Independent library: CoolProp's real moist air at 40 °C and 9 bar, within the stated three per cent."""
    ideal = moisture.humidity_ratio(e=moisture.saturation_pressure(T=313.15), p=901325.0)
    real = HAPropsSI("W", "T", 313.15, "P", 901325.0, "R", 1.0)
    assert 1.0 < real / ideal < 1.03


def test_vapour_density_equals_that_of_steam():
    """Independent library: CoolProp's saturated steam, which is real: half a per cent."""
    rho = moisture.vapour_density(e=moisture.saturation_pressure(T=308.15), T=308.15)
    assert rho == pytest.approx(PropsSI("D", "T", 308.15, "Q", 1, "Water"), rel=6e-3)


@pytest.mark.parametrize(
    ("t_1", "phi", "t_2", "litres"), [(25, 0.6, 35, 12.5), (25, 0.6, 3, 18.9), (30, 0.7, 40, 21.2)]
)
def test_condensate_of_a_day(t_1, phi, t_2, litres):
    """Independent library: psychrolib's humidity ratios and density; the figures are regression values."""
    W_1 = psychrolib.GetHumRatioFromRelHum(t_1, phi, 101325)
    W_2 = psychrolib.GetSatHumRatio(t_2, 801325)
    dry = 1 / psychrolib.GetMoistAirVolume(t_1, W_1, 101325)
    told = moisture.condensate(T_1=273.15 + t_1, phi=phi, T_2=273.15 + t_2, p=801325.0)
    assert told == pytest.approx(dry * (W_1 - W_2), rel=6e-3)
    assert told * 1440 == pytest.approx(litres, abs=0.15)


def test_dry_air_gives_no_condensate():
    """Dry air, and air that stays warm, sets nothing free."""
    assert moisture.condensate(T_1=293.15, phi=0.0, T_2=293.15, p=8e5) == 0.0
    assert moisture.condensate(T_1=273.15, phi=0.3, T_2=333.15, p=2e5) == 0.0


def test_arrays_cross_the_ice_point():
    """An array may hold ice and water together."""
    T = np.array([[233.15, 273.15], [293.15, 313.15]])
    pressures = moisture.saturation_pressure(T=T)
    assert pressures.shape == (2, 2)
    assert np.allclose(moisture.dew_point(e=pressures), T)


@pytest.mark.parametrize(
    ("call", "said"),
    [
        (lambda: moisture.saturation_pressure(T=20.0), "208.15 to 333.15 K"),
        (lambda: moisture.saturation_pressure(T=350.0), "208.15 to 333.15 K"),
        (lambda: moisture.dew_point(e=0.0), "outside its range"),
        (lambda: moisture.humidity_ratio(e=2e5, p=1e5), "at or above p"),
        (lambda: moisture.pressure_dew_point(T_d=330.0, p_1=1e5, p_2=9e5), "outside its range"),
        (lambda: moisture.condensate(T_1=293.15, phi=70.0, T_2=293.15, p=8e5), "phi = 70"),
        (lambda: moisture.condensate(T_1=293.15, phi=0.7, T_2=293.15, p=5e4), "p_a"),
    ],
)
def test_refusals(call, said):
    """Celsius taken for kelvin, per cent taken for a share, and cold beyond the formula are refused."""
    with pytest.raises(QuantityError, match=said):
        call()
