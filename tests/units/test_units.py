"""Trade units: reading them, telling them, and refusing what is not one."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import constants

from clampgraph.errors import QuantityError
from clampgraph.units import UNITS, Quantity, find_unit, from_qudt, from_si, parse, to_qudt, units_of

sizes = st.floats(min_value=1e-6, max_value=1e9)
symbols = st.sampled_from(sorted(UNITS))


@pytest.mark.parametrize(
    ("text", "value", "unit"),
    [
        ("6bar", 6.0, "bar"),
        ("87 psi", 87.0, "psi"),
        ("40mm", 40.0, "mm"),
        ("0.5 in", 0.5, "in"),
        ('1/2"', 0.5, "in"),
        ("1 9/16 in", 1.5625, "in"),
        ("1-9/16 in", 1.5625, "in"),
        ("7.2kN", 7.2, "kN"),
        ("2200 lbf", 2200.0, "lbf"),
        ("850ms", 850.0, "ms"),
        ("5min", 5.0, "min"),
        ("20°C", 20.0, "°C"),
        ("-40 °C", -40.0, "°C"),
        ("−40 °C", -40.0, "°C"),  # noqa: RUF001 - the typographic minus is what is tested
        ("180 Nm", 180.0, "N·m"),
        ("180 N*m", 180.0, "N·m"),
        ("180 N·m", 180.0, "N·m"),
        ("600 kPa", 600.0, "kPa"),
        ("0.6 MPa", 0.6, "MPa"),
        ("1.2 dm3/(s*bar)", 1.2, "dm3/(s·bar)"),
        ("1.2 dm³/(s·bar)", 1.2, "dm3/(s·bar)"),
        ("24 V", 24.0, "V"),
        ("100 l/min", 100.0, "l/min"),
        ("70 %", 70.0, "%"),
        ("3 N/mm²", 3.0, "N/mm2"),
        ("6 BAR", 6.0, "bar"),
        ("1e-8 m3/(s*Pa)", 1e-8, "m3/(s·Pa)"),
        (".5mm", 0.5, "mm"),
        ("6 barg", 6.0, "bar(g)"),
        ("100 psia", 100.0, "psi(a)"),
        ("50μm", 50.0, "µm"),
    ],
)
def test_trade_spellings_are_read(text, value, unit):
    """What technicians write is read as they mean it."""
    assert parse(text) == Quantity(value, unit)


@pytest.mark.parametrize(
    ("text", "dimension", "said"),
    [
        ("6", "pressure", "has no unit"),
        ("6", None, "has no unit"),
        ("", None, "does not start with a number"),
        ("nan bar", None, "does not start with a number"),
        ("inf bar", None, "does not start with a number"),
        ("1e999 bar", None, "not a finite quantity"),
        ("6 baar", None, "the nearest is 'bar'"),
        ("6 bar", "length", "but a length is asked for here, in 'mm'"),
        ("6 bar(a)", "gauge-pressure", "but a gauge pressure is asked for"),
        ("0,5 mm", None, "decimal sign is a point"),
        ("1/0 in", None, "divides by zero"),
        ("-300 °C", None, "-273.15 °C"),
        ("-1 bar(a)", None, "below zero on the absolute scale"),
        ("0.3 mm", "ratio", "but a ratio is asked for"),
    ],
)
def test_bad_quantities_get_one_sentence(text, dimension, said):
    """A wrong quantity is refused in one sentence that says what would be right."""
    with pytest.raises(QuantityError) as caught:
        parse(text, dimension)
    sentence = str(caught.value)
    assert said in sentence
    assert sentence.endswith(".")
    assert "\n" not in sentence


@pytest.mark.parametrize(
    ("unit", "constant"),
    [
        ("psi", constants.psi),
        ("in", constants.inch),
        ("ft", constants.foot),
        ("lbf", constants.lbf),
        ("kgf", constants.kgf),
        ("lb", constants.lb),
        ("atm", constants.atm),
        ("bar", constants.bar),
        ("l", constants.liter),
        ("min", constants.minute),
        ("h", constants.hour),
        ("d", constants.day),
        ("a", constants.Julian_year),
        ("°", constants.degree),
        ("gpm", constants.gallon_US / constants.minute),
        ("lbf·ft", constants.lbf * constants.foot),
        ("cfm", constants.foot**3 / constants.minute),
    ],
)
def test_factors_equal_those_of_scipy(unit, constant):
    """Factors agree with SciPy's table of constants, which was compiled independently."""
    assert math.isclose(Quantity(1, unit).si, constant, rel_tol=1e-12)


def test_temperatures_equal_those_of_scipy():
    """Offset scales agree with SciPy."""
    for celsius in (-40.0, 0.0, 37.0):
        fahrenheit = constants.convert_temperature(celsius, "Celsius", "Fahrenheit")
        assert Quantity(celsius, "°C").to("°F").value == pytest.approx(fahrenheit, abs=1e-9)


@given(value=sizes, unit=symbols, data=st.data())
def test_conversion_comes_back(value, unit, data):
    """Any conversion and its reverse give the first value again."""
    first = Quantity(value, unit)
    other = data.draw(st.sampled_from(units_of(first.dimension)))
    back = first.to(other).to(unit)
    assert math.isclose(back.value, value, rel_tol=1e-9, abs_tol=1e-9 * max(1.0, first.si) / UNITS[unit].factor)


@given(value=sizes, unit=symbols)
def test_what_is_told_is_read_again(value, unit):
    """The printed form of a quantity reads back to six digits."""
    again = parse(str(Quantity(value, unit)), UNITS[unit].dimension)
    assert again.unit == unit
    assert math.isclose(again.value, value, rel_tol=1e-5)


@given(unit=symbols)
def test_si_comes_back(unit):
    """Telling an SI value in a unit and taking its SI value gives the first again."""
    assert math.isclose(from_si(300.0, unit).si, 300.0, rel_tol=1e-9)


@given(unit=symbols)
def test_qudt_both_ways(unit):
    """A unit that QUDT knows comes back from its QUDT name with the same size."""
    plain = unit.removesuffix("(g)").removesuffix("(a)")
    if not UNITS[plain].qudt:
        with pytest.raises(QuantityError, match="QUDT has no unit"):
            to_qudt(unit)
        return
    assert from_qudt(to_qudt(unit)) == plain


@pytest.mark.parametrize(
    ("iri", "unit"),
    [
        ("unit:BAR", "bar"),
        ("unit:MilliM", "mm"),
        ("unit:KiloN", "kN"),
        ("unit:N-PER-MilliM", "N/mm"),
        ("unit:L-PER-MIN", "l/min"),
        ("unit:MIN", "min"),
        ("http://qudt.org/vocab/unit/DEG_C", "°C"),
    ],
)
def test_qudt_names(iri, unit):
    """The QUDT vocabulary's names for the units of the trade."""
    assert from_qudt(iri) == unit


def test_unknown_qudt_unit_names_the_nearest():
    """A QUDT unit outside the table is refused with the nearest name."""
    with pytest.raises(QuantityError, match="nearest is 'unit:BAR'"):
        from_qudt("unit:BARR")


def test_gauge_is_never_told_as_absolute():
    """Gauge and absolute pressure do not convert into each other."""
    with pytest.raises(QuantityError, match="gauge pressure"):
        Quantity(6, "bar(g)").to("bar(a)")


def test_plain_pressure_takes_the_reference_asked_for():
    """A plain pressure counts as what the question asks for, whatever its unit."""
    assert parse("6 bar", "absolute-pressure") == Quantity(6, "bar(a)")
    assert parse("0.6 N/mm2", "gauge-pressure").si == pytest.approx(6e5)


def test_not_finite_is_refused():
    """A quantity cannot hold nan or infinity."""
    for value in (math.nan, math.inf):
        with pytest.raises(QuantityError, match="finite"):
            Quantity(value, "bar")


def test_no_two_units_share_a_spelling():
    """Every spelling leads to the unit that lists it."""
    for unit in UNITS.values():
        for spelling in (unit.symbol, *unit.aliases):
            assert find_unit(spelling) is unit
