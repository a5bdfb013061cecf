"""Calculations of flow, chambers, leaks and the quality of compressed air."""

from collections.abc import Iterator, Mapping
from typing import Any, Final

from clampgraph.errors import QuantityError
from clampgraph.physics import air_quality, chambers, moisture, valve_flow
from clampgraph.physics.calculation import Calculation, Input, Output

__all__ = ["CALCULATIONS"]

_CONDUCTANCE: Final = Input("conductance", "C", "conductance", "dm3/(s·bar)", "sonic conductance")
_CRITICAL: Final = Input("critical-ratio", "b", "ratio", "1", "critical pressure ratio of a real valve", "0.3")
_VOLUME: Final = Input("volume", "V", "volume", "l", "volume of the chamber, hoses included")
_AMBIENT: Final = Input(
    "ambient", "p_a", "absolute-pressure", "bar(a)", "absolute pressure of the air outside", "1.01325 bar(a)"
)
_TIME: Final = Output("time", "time", "s")
_SMALLEST_CHOKED: Final = 2e5


def _gauge(name: str, symbol: str, description: str, default: str | None = None) -> Input:
    return Input(name, symbol, "gauge-pressure", "bar(g)", f"gauge pressure {description}", default)


def _valve_flow(*, p1: float, p2: float, p_a: float, **valve: float) -> dict[str, Any]:
    m = valve_flow.mass_flow(p1=p1 + p_a, p2=p2 + p_a, **valve)
    ratio = (p2 + p_a) / (p1 + p_a)
    return {
        "mass-flow": m,
        "free-air-flow": valve_flow.free_air_flow(m=m),
        "pressure-ratio": ratio,
        "regime": "choked" if ratio <= valve["b"] else "subsonic",
    }


def _from_kv(*, Kv: float) -> dict[str, Any]:
    return _estimate(valve_flow.conductance_from_kv(Kv=Kv * 3600.0))


def _from_cv(*, Cv: float) -> dict[str, Any]:
    return _estimate(valve_flow.conductance_from_cv(Cv=Cv))


def _estimate(found: valve_flow.Estimate) -> dict[str, Any]:
    return {
        "conductance": found.value,
        "conductance-least": found.low,
        "conductance-most": found.high,
        "effective-area": valve_flow.effective_area(C=found.value),
    }


def _estimate_cautions(_given: Mapping[str, Any], _found: Mapping[str, Any]) -> Iterator[str]:
    yield "The conversion is good to 15 per cent, because water coefficients do not tell of choking."


def _together(*, C1: float, C2: float) -> dict[str, Any]:
    return {
        "in-series": valve_flow.series_conductance(C1, C2),
        "in-parallel": valve_flow.parallel_conductance(C1, C2),
    }


def _fill(*, V: float, C: float, b: float, p_s: float, p_i: float, p_f: float, p_a: float) -> dict[str, Any]:  # noqa: PLR0913 - one for each input
    vessel = chambers.Vessel(V=V, C=C, b=b)
    slow = chambers.fill_time(vessel, p_s=p_s + p_a, p_i=p_i + p_a, p_f=p_f + p_a)
    return {"time": slow, "time-least": slow / chambers.KAPPA}


def _vent(*, V: float, C: float, b: float, p_i: float, p_f: float, p_a: float) -> dict[str, Any]:  # noqa: PLR0913 - one for each input
    vessel = chambers.Vessel(V=V, C=C, b=b)
    slow, fast = (chambers.vent_time(vessel, p_i=p_i + p_a, p_f=p_f + p_a, p_a=p_a, n=n) for n in (1.0, chambers.KAPPA))
    return {"time": slow, "time-least": fast}


def _leak(*, V: float, p_1: float, p_2: float, t: float, p_a: float) -> dict[str, Any]:
    found: dict[str, Any] = {"leak": chambers.leak_rate(V=V, p_1=p_1 + p_a, p_2=p_2 + p_a, t=t)}
    if p_2 + p_a >= _SMALLEST_CHOKED:
        found["conductance"] = chambers.leak_conductance(V=V, p_1=p_1 + p_a, p_2=p_2 + p_a, t=t)
    return found


def _stored(*, V: float, p: float, p_a: float) -> dict[str, Any]:
    return {"energy": chambers.stored_energy(p=p + p_a, V=V, p_a=p_a)}


def _condensate(*, q: float, T_1: float, phi: float, T_2: float, p: float, p_a: float) -> dict[str, Any]:  # noqa: PLR0913 - one for each input
    water = moisture.condensate(T_1=T_1, phi=phi, T_2=T_2, p=p + p_a, p_a=p_a)
    return {"condensate": water * q, "condensate-per-volume": water}


def _dew_point(*, T_d: float, p_1: float, p_2: float, p_a: float) -> dict[str, Any]:
    return {"dew-point": moisture.pressure_dew_point(T_d=T_d, p_1=p_1 + p_a, p_2=p_2 + p_a)}


def _air_class(**given: float | None) -> dict[str, Any]:
    T_d, liquid, oil = given["T_d"], given["liquid"], given["oil"]
    counts = {key: given[key] for key in ("n_fine", "n_medium", "n_coarse")}
    found: dict[str, Any] = {}
    if T_d is not None:
        found["water"] = air_quality.water_class(T_d=T_d)
    if liquid is not None and found.get("water", "7 to X") == "7 to X":
        found["water"] = air_quality.liquid_class(c=liquid)
    if oil is not None:
        found["oil"] = air_quality.oil_class(c=oil)
    told = {key: count for key, count in counts.items() if count is not None}
    if len(told) == len(counts):
        found["particles"] = air_quality.particle_class(**told)
    elif told:
        raise QuantityError("The particle class needs all three counts: fine, medium and coarse.")
    if not found:
        raise QuantityError("air-class needs at least one reading, such as 'dew-point' in °C or 'oil' in mg/m3.")
    parts = ":".join(found.get(kind, "-") for kind in ("particles", "water", "oil"))
    return found | {"designation": f"ISO 8573-1:2010 [{parts}]"}


_CONDUCTANCES: Final = (
    Output("conductance", "conductance", "dm3/(s·bar)"),
    Output("conductance-least", "conductance", "dm3/(s·bar)"),
    Output("conductance-most", "conductance", "dm3/(s·bar)"),
    Output("effective-area", "area", "mm2"),
)
_CONVERSION: Final = "IEC 60534-2-1 gas sizing, pressure-differential ratio factor 0.72"

CALCULATIONS: Final = (
    Calculation(
        name="valve-flow",
        title="Air flow through a valve, tube or leak",
        function=_valve_flow,
        inputs=(
            _CONDUCTANCE,
            _CRITICAL,
            _gauge("upstream", "p1", "before the valve"),
            _gauge("downstream", "p2", "behind the valve", "0 bar"),
            Input("temperature", "T1", "temperature", "°C", "temperature before the valve", "20 °C"),
            _AMBIENT,
        ),
        outputs=(
            Output("mass-flow", "mass-flow", "g/s"),
            Output("free-air-flow", "flow", "l/min"),
            Output("pressure-ratio", "ratio", "1"),
            Output("regime", "text", ""),
        ),
        source="ISO 6358-1:2013; reference air ISO 8778",
        validity="critical ratio to 0.6; laminar above a pressure ratio of 0.999; litres of reference air",
    ),
    Calculation(
        name="conductance-from-kv",
        title="Sonic conductance from a Kv",
        function=_from_kv,
        inputs=(Input("kv", "Kv", "flow", "m3/h", "water flow at a drop of 1 bar"),),
        outputs=_CONDUCTANCES,
        source=_CONVERSION,
        validity="estimate to 15 per cent; critical ratio near 0.3",
        cautions=_estimate_cautions,
    ),
    Calculation(
        name="conductance-from-cv",
        title="Sonic conductance from a Cv",
        function=_from_cv,
        inputs=(Input("cv", "Cv", "ratio", "1", "US gallons of water a minute at a drop of 1 psi"),),
        outputs=_CONDUCTANCES,
        source=_CONVERSION + "; Kv = 0.865 Cv",
        validity="estimate to 15 per cent; critical ratio near 0.3",
        cautions=_estimate_cautions,
    ),
    Calculation(
        name="conductances-together",
        title="Two conductances in series and in parallel",
        function=_together,
        inputs=(
            Input("first", "C1", "conductance", "dm3/(s·bar)", "sonic conductance of the first"),
            Input("second", "C2", "conductance", "dm3/(s·bar)", "sonic conductance of the second"),
        ),
        outputs=(
            Output("in-series", "conductance", "dm3/(s·bar)"),
            Output("in-parallel", "conductance", "dm3/(s·bar)"),
        ),
        source="ISO 6358-3, approximation",
        validity="similar critical ratios",
    ),
    Calculation(
        name="fill-time",
        title="Time to fill a chamber",
        function=_fill,
        inputs=(
            _VOLUME,
            _CONDUCTANCE,
            _CRITICAL,
            _gauge("supply", "p_s", "of the supply"),
            _gauge("from", "p_i", "at the start", "0 bar"),
            _gauge("to", "p_f", "at the end"),
            _AMBIENT,
        ),
        outputs=(_TIME, Output("time-least", "time", "s")),
        source="ISO 6358-1:2013, integrated at 20 °C",
        validity="fixed volume; the longer time is isothermal, the shorter without heat through the wall",
    ),
    Calculation(
        name="vent-time",
        title="Time to vent a chamber",
        function=_vent,
        inputs=(
            _VOLUME,
            _CONDUCTANCE,
            _CRITICAL,
            _gauge("from", "p_i", "at the start"),
            _gauge("to", "p_f", "at the end", "0 bar"),
            _AMBIENT,
        ),
        outputs=(_TIME, Output("time-least", "time", "s")),
        source="ISO 6358-1:2013, integrated from 20 °C",
        validity="fixed volume; the longer time is isothermal, the shorter without heat through the wall",
    ),
    Calculation(
        name="leak-from-decay",
        title="Leak from a pressure decay test",
        function=_leak,
        inputs=(
            _VOLUME,
            _gauge("from", "p_1", "at the start"),
            _gauge("to", "p_2", "at the end"),
            Input("time", "t", "time", "min", "time between the readings"),
            _AMBIENT,
        ),
        outputs=(Output("leak", "flow", "l/min"), Output("conductance", "conductance", "dm3/(s·bar)")),
        source="ideal gas at 20 °C; reference air ISO 8778",
        validity="steady temperature, supply shut off; conductance only if it ends above 2 bar absolute",
    ),
    Calculation(
        name="stored-air-energy",
        title="Energy of the air shut in a volume",
        function=_stored,
        inputs=(_VOLUME, _gauge("pressure", "p", "in the volume"), _AMBIENT),
        outputs=(Output("energy", "energy", "J"),),
        source="exergy of an ideal gas",
        validity="upper bound, isothermal; a spring stack's energy comes on top",
    ),
    Calculation(
        name="condensate",
        title="Water that compressing and cooling sets free",
        function=_condensate,
        inputs=(
            Input("flow", "q", "flow", "m3/min", "air drawn in by the compressor"),
            Input("temperature", "T_1", "temperature", "°C", "temperature of the air drawn in"),
            Input("humidity", "phi", "ratio", "%", "relative humidity of the air drawn in"),
            Input("cooled-to", "T_2", "temperature", "°C", "temperature or pressure dew point behind the cooler"),
            _gauge("pressure", "p", "behind the cooler"),
            _AMBIENT,
        ),
        outputs=(
            Output("condensate", "mass-flow", "kg/d"),
            Output("condensate-per-volume", "concentration", "g/m3"),
        ),
        source="mass balance; saturation after Sonntag 1990",
        validity="-65 to 60 °C, ideal mixture (3 per cent at 9 bar)",
    ),
    Calculation(
        name="dew-point",
        title="Dew point of the same air at another pressure",
        function=_dew_point,
        inputs=(
            Input("dew-point", "T_d", "temperature", "°C", "dew point where it is known"),
            _gauge("at", "p_1", "where it is known"),
            _gauge("to", "p_2", "where it is asked for", "0 bar"),
            _AMBIENT,
        ),
        outputs=(Output("dew-point", "temperature", "°C"),),
        source="Dalton; saturation after Sonntag 1990",
        validity="-65 to 60 °C; below 0 °C the frost point",
    ),
    Calculation(
        name="air-class",
        title="Purity class that readings mean",
        function=_air_class,
        inputs=(
            Input("dew-point", "T_d", "temperature", "°C", "dew point at working pressure", optional=True),
            Input("liquid-water", "liquid", "concentration", "g/m3", "liquid water", optional=True),
            Input("oil", "oil", "concentration", "mg/m3", "total oil", optional=True),
            Input(
                "fine",
                "n_fine",
                "number-density",
                "1/m3",
                "particles of 0.1 to 0.5 micrometres",
                optional=True,
            ),
            Input(
                "medium",
                "n_medium",
                "number-density",
                "1/m3",
                "particles of 0.5 to 1 micrometre",
                optional=True,
            ),
            Input(
                "coarse",
                "n_coarse",
                "number-density",
                "1/m3",
                "particles of 1 to 5 micrometres",
                optional=True,
            ),
        ),
        outputs=(
            Output("particles", "text", ""),
            Output("water", "text", ""),
            Output("oil", "text", ""),
            Output("designation", "text", ""),
        ),
        source="ISO 8573-1:2010",
        validity="no particle above 5 micrometres; class 0 is agreed and never follows from a reading",
    ),
)
