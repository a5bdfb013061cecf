"""Calculations by name: trade text in, trade results out, and clear refusals."""

import inspect
import json
import math

import pytest

from clampgraph.errors import QuantityError, UnknownNameError
from clampgraph.physics import disc_springs, preload
from clampgraph.physics.catalogue import CALCULATIONS, run
from clampgraph.physics.threads import ScrewThread
from clampgraph.units import UNITS, find_unit, parse

DISC = {"outside-diameter": "50mm", "inside-diameter": "25.4mm", "thickness": "3mm", "cone-height": "1.1mm"}
EXAMPLES = {
    "disc-spring-load": DISC | {"deflection": "0.825 mm"},
    "disc-spring-deflection": DISC | {"load": "12kN"},
    "disc-spring-stress": DISC | {"deflection": "0.825 mm"},
    "stack-force": DISC | {"parallel": "2", "packets": "20", "travel": "16.5 mm"},
    "cylinder-force": {"pressure": "6bar", "bore": "100mm", "rod": "25mm"},
    "tandem-force": {
        "pressure": "6bar",
        "bore": "100mm",
        "pistons": "3",
        "rod": "30mm",
        "efficiency": "90 %",
    },
    "intensifier-force": {"pressure": "6bar", "air-bore": "100mm", "plunger": "25mm", "bore": "40mm"},
    "force-margin": {"force": "4.7 kN", "needed": "10kN"},
    "valve-flow": {"conductance": "1 dm3/(s*bar)", "upstream": "6bar", "critical-ratio": "0.35"},
    "conductance-from-kv": {"kv": "0.5 m3/h"},
    "conductance-from-cv": {"cv": "0.6"},
    "conductances-together": {"first": "3 dm3/(s*bar)", "second": "4 dm3/(s*bar)"},
    "fill-time": {"volume": "1 l", "conductance": "1 dm3/(s*bar)", "supply": "6bar", "to": "5bar"},
    "vent-time": {"volume": "1 l", "conductance": "1 dm3/(s*bar)", "from": "6bar"},
    "leak-from-decay": {"volume": "1 l", "from": "6 bar", "to": "5.4 bar", "time": "5min"},
    "stored-air-energy": {"volume": "1 l", "pressure": "6 bar"},
    "condensate": {
        "flow": "1 m3/min",
        "temperature": "25°C",
        "humidity": "60%",
        "cooled-to": "35 °C",
        "pressure": "7bar",
    },
    "dew-point": {"dew-point": "3°C", "at": "7 bar"},
    "air-class": {"dew-point": "3 °C", "oil": "0.5 mg/m3"},
    "o-ring-gland": {
        "inside-diameter": "37.69mm",
        "section": "3.53mm",
        "bore": "44.5mm",
        "groove": "38.3mm",
        "width": "4.7mm",
        "section-tolerance": "0.1mm",
    },
    "thread-sense": {"hand": "right"},
    "thread-designation": {"thread": "M16x1.5-LH"},
    "preload": {"thread": "M12x1.25", "torque": "90 Nm", "head": "16.6mm", "hole": "13.5mm"},
    "torque-short-form": {"preload": "42kN", "diameter": "12mm"},
    "taper-release": {"pull": "12kN", "friction": "0.2"},
    "ring-groove": {"diameter": "50mm", "groove": "47mm", "shoulder": "4.5mm"},
    "b10d-life": {"b10d": "60000000", "days": "220", "hours": "16h", "cycle-time": "5s"},
    "weibull-b10": {"scale": "1e6", "shape": "2", "age": "2e5"},
}


def value(name, output, **given):
    return run(name, EXAMPLES[name] | given)["results"][output]["value"]


def test_every_calculation_has_an_example():
    """None escapes the tests below."""
    assert set(EXAMPLES) == set(CALCULATIONS)


@pytest.mark.parametrize("name", CALCULATIONS)
def test_results_are_plain_and_finite(name):
    """Results go through JSON unchanged, carry every output with its unit, and hold no nan."""
    result = run(name, EXAMPLES[name])
    assert json.loads(json.dumps(result, allow_nan=False)) == result
    assert result["source"]
    assert result["validity"]
    outputs = {out.name: out for out in CALCULATIONS[name].outputs}
    assert set(result["results"]) <= set(outputs)
    for output, told in result["results"].items():
        if outputs[output].dimension != "text":
            assert math.isfinite(told["value"])
            assert told["unit"] in UNITS or outputs[output].dimension == "ratio"


@pytest.mark.parametrize("name", CALCULATIONS)
def test_definitions_hold_together(name):
    """Inputs fit the function; units fit their dimensions; defaults can be read."""
    calculation = CALCULATIONS[name]
    parameters = inspect.signature(calculation.function).parameters
    if not any(each.kind is inspect.Parameter.VAR_KEYWORD for each in parameters.values()):
        assert {entry.symbol for entry in calculation.inputs} == set(parameters)
    for entry in calculation.inputs:
        assert entry.description
        if entry.dimension not in {"count", "choice", "text"}:
            assert find_unit(entry.unit).dimension == entry.dimension
            assert entry.default is None or parse(entry.default, entry.dimension)
        assert (entry.dimension == "choice") == bool(entry.choices)
    for out in calculation.outputs:
        assert out.dimension == "text" or find_unit(out.unit).dimension == out.dimension


@pytest.mark.parametrize("name", CALCULATIONS)
def test_symbols_work_as_keys(name):
    """An input may be named by its symbol."""
    symbols = {entry.name: entry.symbol for entry in CALCULATIONS[name].inputs}
    by_symbol = {symbols[key]: text for key, text in EXAMPLES[name].items()}
    assert run(name, by_symbol) == run(name, EXAMPLES[name])


@pytest.mark.parametrize("name", CALCULATIONS)
def test_what_is_missing_is_named(name):
    """Without its first needed input a calculation says which it needs."""
    needed = [entry.name for entry in CALCULATIONS[name].inputs if entry.default is None and not entry.optional]
    for missing in needed[:1]:
        rest = {key: text for key, text in EXAMPLES[name].items() if key != missing}
        with pytest.raises(QuantityError, match=f"{name} needs '{missing}'"):
            run(name, rest)


def test_inputs_are_echoed_with_their_defaults():
    """What was taken for granted is shown."""
    shown = run("cylinder-force", {"pressure": "87 psi", "bore": "100 mm"})["inputs"]
    assert shown["pressure"] == {"value": 87.0, "unit": "psi(g)"}
    assert shown["efficiency"] == {"value": 100.0, "unit": "%"}


def test_numbers_equal_those_of_the_functions():
    """Trade results are the SI results in other units."""
    SI = {"De": 0.05, "Di": 0.0254, "t": 0.003, "h0": 0.0011, "s": 0.000825}
    assert value("disc-spring-load", "load") == pytest.approx(disc_springs.load(**SI))
    assert value("disc-spring-load", "rate") == pytest.approx(disc_springs.rate(**SI) / 1e3)
    M = ScrewThread(0.012, 0.00125)
    F = preload.preload_from_torque(M, M=90.0, mu_G=0.12, mu_K=0.12, D_Km=0.01505)
    assert value("preload", "preload") == pytest.approx(F / 1e3)


def test_published_figures_reach_the_technician():
    """Figures of the published tests and of common practice, through text and trade units."""
    assert value("cylinder-force", "push") == pytest.approx(4.712, abs=1e-3)
    assert value("valve-flow", "mass-flow", ambient="1 bar(a)") == pytest.approx(8.295, abs=1e-3)
    assert value("condensate", "condensate") == pytest.approx(12.5, abs=0.15)
    assert value("dew-point", "dew-point") == pytest.approx(-20.8, abs=0.1)
    assert value("b10d-life", "mttfd") == pytest.approx(237, abs=0.5)
    assert value("conductance-from-kv", "conductance") == pytest.approx(0.5 * 4.57)
    assert value("taper-release", "release-force") == pytest.approx(1.88, abs=0.01)
    assert value("air-class", "designation") == "ISO 8573-1:2010 [-:4:3]"
    assert value("thread-sense", "sense") == "loosens"
    assert value("thread-sense", "sense", hand="left") == "tightens"
    assert value("thread-sense", "surviving-hand", spindle="counterclockwise") == "right"
    assert value("thread-designation", "hand") == "left"


def test_gauge_pressure_becomes_absolute_by_the_air_outside():
    """Higher ambient pressure at the same gauge pressure is more air."""
    low, high = (value("valve-flow", "mass-flow", ambient=text) for text in ("0.9 bar(a)", "1.0 bar(a)"))
    assert high > low


@pytest.mark.parametrize(
    ("name", "given", "said"),
    [
        ("force-margin", {}, "cannot open the stack"),
        ("force-margin", {"force": "10.5kN"}, "Less than a tenth"),
        ("stack-force", {}, "stays loaded with the air off"),
        ("stack-force", {"travel": "20 mm"}, "three quarters of the cone height"),
        ("stack-force", {"packets": "40", "travel": "30 mm"}, "three outside diameters"),
        ("o-ring-gland", {"groove": "37mm"}, "does not touch"),
        ("o-ring-gland", {"width": "3.6mm"}, "fill"),
        ("thread-sense", {}, "unscrews this right-hand thread"),
        ("preload", {"torque": "150 Nm"}, "nine tenths of its yield"),
        ("conductance-from-cv", {}, "15 per cent"),
    ],
)
def test_warnings(name, given, said):
    """What a technician must not overlook is said."""
    assert any(said in warning for warning in run(name, EXAMPLES[name] | given)["warnings"])


def test_a_good_margin_does_not_warn():
    """No warning without a reason."""
    assert run("force-margin", {"force": "14.1kN", "needed": "10kN"})["warnings"] == []


@pytest.mark.parametrize(
    ("name", "given", "error", "said"),
    [
        ("disk-spring-load", {}, UnknownNameError, "disc-spring-load"),
        ("cylinder-force", {"boar": "1mm"}, UnknownNameError, "nearest: bore"),
        ("cylinder-force", {"D": "1mm", "bore": "1mm"}, QuantityError, "given twice"),
        ("cylinder-force", {"pressure": "6 bar(a)"}, QuantityError, "gauge pressure is asked for"),
        ("cylinder-force", {"bore": "100"}, QuantityError, "has no unit"),
        ("cylinder-force", {"bore": "-100 mm"}, QuantityError, "above zero"),
        ("tandem-force", {"pistons": "2.5"}, QuantityError, "whole number"),
        ("thread-sense", {"hand": "both"}, QuantityError, "one of right, left, not 'both'"),
        ("thread-designation", {"thread": "G1/2"}, QuantityError, "not a thread designation"),
        ("preload", {"thread": "1/2-13 UNC"}, QuantityError, "metric threads"),
        ("preload", {"hole": "17mm"}, QuantityError, "wider than the hole"),
        ("air-class", {"fine": "100 1/m3"}, QuantityError, "all three counts"),
        ("disc-spring-load", {"deflection": "2mm"}, QuantityError, "must not lie above h0"),
        ("fill-time", {"to": "9 bar"}, QuantityError, "must not lie above p_s"),
    ],
)
def test_refusals(name, given, error, said):
    """Wrong names and values are refused in one sentence."""
    with pytest.raises(error, match=said):
        run(name, EXAMPLES.get(name, {}) | given)


def test_air_class_needs_a_reading():
    """Nothing read, nothing told."""
    with pytest.raises(QuantityError, match="at least one reading"):
        run("air-class", {})


def test_air_class_of_wet_air():
    """Above 10 °C of dew point the liquid water decides, if it was read."""
    assert run("air-class", {"dew-point": "15 °C"})["results"]["water"]["value"] == "7 to X"
    wet = run("air-class", {"dew-point": "15 °C", "liquid-water": "4 g/m3"})
    assert wet["results"]["water"]["value"] == "8"
    counts = {"fine": "1e4 1/m3", "medium": "100 1/m3", "coarse": "50 1/m3"}
    assert run("air-class", counts)["results"]["designation"]["value"] == "ISO 8573-1:2010 [2:-:-]"


def test_conductance_is_left_out_where_the_leak_is_not_choked():
    """A test that ends below 2 bar absolute tells the leak alone."""
    result = run("leak-from-decay", {"volume": "1 l", "from": "1 bar", "to": "0.5 bar", "time": "60s"})
    assert set(result["results"]) == {"leak"}
