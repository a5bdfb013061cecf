"""Trade units at the edges, SI inside.

A technician writes ``6bar``, ``87 psi``, ``1 9/16 in`` or ``850ms``; the physics wants pascals, metres and
seconds. :func:`parse` turns the first into a :class:`Quantity`, `Quantity.si` gives the second.
A pressure may say which it is: ``bar(g)`` is gauge, ``bar(a)`` is absolute, and one is never taken for the
other. Plain ``bar`` takes the meaning of the question that asked for it.

The table is small on purpose. The well-known unit libraries take longer to import than a whole command may
take to start, and the trade needs some eighty units, so the table lies here and is checked in the tests
against the constants that SciPy ships. Factors are exact by definition: the international inch, pound and
standard gravity (ISO 80000-3 and -4), the bar and the litre (SI brochure, 9th edition, table 8).
"""

import math
import re
from dataclasses import dataclass
from difflib import get_close_matches
from types import MappingProxyType
from typing import Final

from clampgraph.errors import QuantityError

__all__ = ["UNITS", "Quantity", "Unit", "find_unit", "from_qudt", "from_si", "parse", "to_qudt", "units_of"]

_QUDT: Final = "http://qudt.org/vocab/unit/"
_INCH: Final = 0.0254
_POUND: Final = 0.45359237
_GRAVITY: Final = 9.80665
_POUND_FORCE: Final = _POUND * _GRAVITY
_PSI: Final = _POUND_FORCE / _INCH**2
_FOOT: Final = 12 * _INCH
_HOUR: Final = 3600.0
_YEAR: Final = 365.25 * 24 * _HOUR
_LITRE: Final = 1e-3


@dataclass(frozen=True, slots=True)
class Unit:
    """One unit: SI value = `factor` * value + `offset`; `qudt` is its local name there, or empty."""

    symbol: str
    dimension: str
    factor: float
    qudt: str = ""
    aliases: tuple[str, ...] = ()
    offset: float = 0.0


def _pressure_units() -> list[Unit]:
    plain = [
        Unit("bar", "pressure", 1e5, "BAR"),
        Unit("mbar", "pressure", 100.0, "MilliBAR"),
        Unit("Pa", "pressure", 1.0, "PA"),
        Unit("hPa", "pressure", 100.0, "HectoPA"),
        Unit("kPa", "pressure", 1e3, "KiloPA"),
        Unit("MPa", "pressure", 1e6, "MegaPA"),
        Unit("GPa", "pressure", 1e9, "GigaPA"),
        Unit("N/mm2", "pressure", 1e6, "N-PER-MilliM2"),
        Unit("psi", "pressure", _PSI, "PSI", ("lbf/in2",)),
        Unit("kgf/cm2", "pressure", _GRAVITY * 1e4, "KiloGM_F-PER-CentiM2", ("kp/cm2", "at")),
        Unit("atm", "pressure", 101325.0, "ATM"),
    ]
    marked = [
        Unit(f"{unit.symbol}({mark})", f"{word}-pressure", unit.factor, "", (unit.symbol + mark,))
        for unit in plain
        if unit.symbol in {"bar", "mbar", "Pa", "kPa", "MPa", "psi"}
        for mark, word in (("g", "gauge"), ("a", "absolute"))
    ]
    return plain + marked


_TABLE: Final = (
    *_pressure_units(),
    Unit("mm", "length", 1e-3, "MilliM"),
    Unit("µm", "length", 1e-6, "MicroM", ("um", "micron")),
    Unit("cm", "length", 1e-2, "CentiM"),
    Unit("m", "length", 1.0, "M"),
    Unit("in", "length", _INCH, "IN", ("inch", "inches", '"')),
    Unit("ft", "length", _FOOT, "FT"),
    Unit("mm2", "area", 1e-6, "MilliM2"),
    Unit("cm2", "area", 1e-4, "CentiM2"),
    Unit("m2", "area", 1.0, "M2"),
    Unit("in2", "area", _INCH**2, "IN2"),
    Unit("l", "volume", _LITRE, "L", ("L", "dm3", "litre", "liter")),
    Unit("ml", "volume", 1e-6, "MilliL", ("mL", "cm3", "cc")),
    Unit("mm3", "volume", 1e-9, "MilliM3"),
    Unit("m3", "volume", 1.0, "M3"),
    Unit("in3", "volume", _INCH**3, "IN3"),
    Unit("N", "force", 1.0, "N"),
    Unit("kN", "force", 1e3, "KiloN"),
    Unit("lbf", "force", _POUND_FORCE, "LB_F"),
    Unit("kgf", "force", _GRAVITY, "KiloGM_F", ("kp",)),
    Unit("s", "time", 1.0, "SEC", ("sec",)),
    Unit("ms", "time", 1e-3, "MilliSEC"),
    Unit("min", "time", 60.0, "MIN"),
    Unit("h", "time", _HOUR, "HR", ("hr", "hour", "hours")),
    Unit("d", "time", 24 * _HOUR, "DAY", ("day", "days")),
    Unit("week", "time", 7 * 24 * _HOUR, "WK", ("weeks",)),
    Unit("month", "time", _YEAR / 12, "MO", ("months",)),
    Unit("a", "time", _YEAR, "YR", ("y", "yr", "year", "years")),
    Unit("°C", "temperature", 1.0, "DEG_C", ("degC", "C"), 273.15),
    Unit("K", "temperature", 1.0, "K"),
    Unit("°F", "temperature", 5 / 9, "DEG_F", ("degF", "F"), 459.67 * 5 / 9),
    Unit("N·m", "torque", 1.0, "N-M", ("Nm",)),
    Unit("lbf·ft", "torque", _POUND_FORCE * _FOOT, "FT-LB_F", ("ft·lbf", "lb·ft")),
    Unit("lbf·in", "torque", _POUND_FORCE * _INCH, "IN-LB_F", ("in·lbf", "lb·in")),
    Unit("l/min", "flow", _LITRE / 60, "L-PER-MIN", ("L/min", "dm3/min")),
    Unit("l/s", "flow", _LITRE, "L-PER-SEC", ("L/s", "dm3/s")),
    Unit("m3/h", "flow", 1 / _HOUR, "M3-PER-HR"),
    Unit("m3/min", "flow", 1 / 60, "M3-PER-MIN"),
    Unit("m3/s", "flow", 1.0, "M3-PER-SEC"),
    Unit("cm3/min", "flow", 1e-6 / 60, "CentiM3-PER-MIN", ("ml/min",)),
    Unit("cfm", "flow", _FOOT**3 / 60, "FT3-PER-MIN", ("ft3/min", "scfm")),
    Unit("gpm", "flow", 231 * _INCH**3 / 60, "GAL_US-PER-MIN"),
    Unit("kg/s", "mass-flow", 1.0, "KiloGM-PER-SEC"),
    Unit("g/s", "mass-flow", 1e-3, "GM-PER-SEC"),
    Unit("kg/h", "mass-flow", 1 / _HOUR, "KiloGM-PER-HR"),
    Unit("kg/d", "mass-flow", 1 / (24 * _HOUR), "KiloGM-PER-DAY", ("kg/day",)),
    Unit("dm3/(s·bar)", "conductance", 1e-8, "L-PER-SEC-BAR", ("l/(s·bar)",)),
    Unit("m3/(s·Pa)", "conductance", 1.0),
    Unit("kg", "mass", 1.0, "KiloGM"),
    Unit("g", "mass", 1e-3, "GM"),
    Unit("lb", "mass", _POUND, "LB", ("lbs",)),
    Unit("V", "voltage", 1.0, "V"),
    Unit("mV", "voltage", 1e-3, "MilliV"),
    Unit("A", "current", 1.0, "A"),
    Unit("mA", "current", 1e-3, "MilliA"),
    Unit("Ω", "resistance", 1.0, "OHM", ("ohm", "Ohm")),
    Unit("kΩ", "resistance", 1e3, "KiloOHM", ("kohm",)),
    Unit("W", "power", 1.0, "W"),
    Unit("kW", "power", 1e3, "KiloW"),
    Unit("J", "energy", 1.0, "J"),
    Unit("kJ", "energy", 1e3, "KiloJ"),
    Unit("m/s", "speed", 1.0, "M-PER-SEC"),
    Unit("mm/s", "speed", 1e-3, "MilliM-PER-SEC"),
    Unit("m/min", "speed", 1 / 60, "M-PER-MIN"),
    Unit("N/mm", "stiffness", 1e3, "N-PER-MilliM"),
    Unit("N/m", "stiffness", 1.0, "N-PER-M"),
    Unit("lbf/in", "stiffness", _POUND_FORCE / _INCH, "LB_F-PER-IN"),
    Unit("N·s/m", "damping", 1.0, "N-SEC-PER-M"),
    Unit("1/s", "rate", 1.0, "PER-SEC", ("/s",)),
    Unit("Hz", "rate", 1.0, "HZ"),
    Unit("1/min", "rate", 1 / 60, "PER-MIN", ("/min",)),
    Unit("rpm", "rate", 1 / 60, "REV-PER-MIN"),
    Unit("1/h", "rate", 1 / _HOUR, "PER-HR", ("/h",)),
    Unit("1/d", "rate", 1 / (24 * _HOUR), "PER-DAY", ("/d", "1/day", "/day")),
    Unit("1/a", "rate", 1 / _YEAR, "PER-YR", ("/a", "1/year", "/year", "1/y")),
    Unit("FIT", "rate", 1e-9 / _HOUR),
    Unit("1/cycle", "rate-per-cycle", 1.0, "", ("/cycle",)),
    Unit("kg/m3", "concentration", 1.0, "KiloGM-PER-M3"),
    Unit("g/m3", "concentration", 1e-3, "GM-PER-M3"),
    Unit("mg/m3", "concentration", 1e-6, "MilliGM-PER-M3"),
    Unit("1/m3", "number-density", 1.0, "NUM-PER-M3", ("/m3",)),
    Unit("°", "angle", math.pi / 180, "DEG", ("deg",)),
    Unit("rad", "angle", 1.0, "RAD"),
    Unit("1", "ratio", 1.0, "UNITLESS", ("cycles", "cycle", "pcs")),
    Unit("%", "ratio", 1e-2, "PERCENT"),
    Unit("ppm", "ratio", 1e-6, "PPM"),
)

UNITS: Final = MappingProxyType({unit.symbol: unit for unit in _TABLE})
"""Every unit by its symbol."""

_BY_QUDT: Final = {unit.qudt: unit.symbol for unit in _TABLE if unit.qudt}
_SPELLING: Final = str.maketrans(
    {"²": "2", "³": "3", "^": None, "*": "·", "⋅": "·", "\N{MULTIPLICATION SIGN}": "·", ".": "·"}
)
_LETTERS: Final = str.maketrans({"μ": "µ", "º": "°", "″": '"', "\N{OHM SIGN}": "Ω"})
_NUMBER: Final = re.compile(
    r"\s*(?P<sign>[-+\u2212]?)\s*(?:(?:(?P<whole>\d+)[ -])?(?P<top>\d+)/(?P<bottom>\d+)"
    r"|(?P<decimal>(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?))(?P<unit>.*)",
    re.DOTALL,
)


def _key(text: str) -> str:
    return "".join(text.translate(_LETTERS).translate(_SPELLING).split())


_EXACT: Final = {_key(spelling): unit for unit in _TABLE for spelling in (unit.symbol, *unit.aliases)}


def _folded() -> dict[str, Unit]:
    """Spellings whose case does not matter because no two units share them."""
    rows: dict[str, set[Unit]] = {}
    for spelling, unit in _EXACT.items():
        rows.setdefault(spelling.casefold(), set()).add(unit)
    return {spelling: units.pop() for spelling, units in rows.items() if len(units) == 1}


_FOLDED: Final = _folded()


def units_of(dimension: str) -> tuple[str, ...]:
    """Symbols of the units of a dimension, the usual one first; empty for an unknown dimension."""
    return tuple(unit.symbol for unit in _TABLE if unit.dimension == dimension)


def find_unit(text: str) -> Unit:
    """Find the unit that a spelling stands for; case is forgiven where it changes nothing.

    Raises
    ------
    QuantityError
        If no unit is spelt so; the sentence names the nearest one.

    Examples
    --------
    >>> find_unit("N*m").symbol, find_unit("BAR").symbol
    ('N·m', 'bar')
    """
    key = _key(text)
    unit = _EXACT.get(key) or _FOLDED.get(key.casefold())
    if unit is None:
        near = get_close_matches(key, _EXACT, n=1, cutoff=0.4) or ["bar"]
        raise QuantityError(f"'{text.strip()}' is not a unit known here; the nearest is '{near[0]}'.")
    return unit


@dataclass(frozen=True, slots=True)
class Quantity:
    """A finite number with its unit.

    Examples
    --------
    >>> print(Quantity(6, "bar").to("psi").value.__round__(1), Quantity(40, "mm").si)
    87.0 0.04
    """

    value: float
    unit: str

    def __post_init__(self) -> None:
        unit = find_unit(self.unit)
        value = float(self.value)
        if not math.isfinite(value):
            raise QuantityError(f"{self.value} {unit.symbol} is not a finite quantity; give a plain number.")
        object.__setattr__(self, "value", value)
        object.__setattr__(self, "unit", unit.symbol)
        if unit.dimension in {"temperature", "absolute-pressure"} and self.si < -1e-9:
            floor = f"{from_si(0.0, unit.symbol).value:g} {unit.symbol}"
            raise QuantityError(f"{self} lies below zero on the absolute scale, which is {floor}.")

    def __str__(self) -> str:
        return f"{self.value:.6g}{'' if self.unit == '1' else ' ' + self.unit}"

    @property
    def dimension(self) -> str:
        """Name of what is measured, such as ``pressure``."""
        return UNITS[self.unit].dimension

    @property
    def si(self) -> float:
        """Value in the coherent SI unit of the dimension."""
        unit = UNITS[self.unit]
        return self.value * unit.factor + unit.offset

    def to(self, unit: str) -> "Quantity":
        """Return the same quantity in another unit of its dimension.

        Raises
        ------
        QuantityError
            If the unit measures something else; gauge and absolute pressure count as different,
            because they differ by the air pressure of the place.
        """
        target = find_unit(unit)
        if target.dimension != self.dimension:
            raise QuantityError(
                f"{self} is a {_words(self.dimension)} and cannot be told in {target.symbol}, "
                f"a unit of {_words(target.dimension)}."
            )
        return from_si(self.si, target.symbol)


def from_si(value: float, unit: str) -> Quantity:
    """Tell an SI value in a trade unit.

    Examples
    --------
    >>> print(from_si(293.15, "°C"))
    20 °C
    """
    target = find_unit(unit)
    return Quantity((value - target.offset) / target.factor, target.symbol)


def _words(dimension: str) -> str:
    return dimension.replace("-", " ")


def _example(dimension: str | None) -> str:
    units = units_of(dimension) if dimension else ("bar", "mm")
    return " or ".join(f"'{unit}'" for unit in units[:2]) or f"a unit of {_words(dimension or '')}"


def _number(match: re.Match[str]) -> float:
    if match["decimal"]:
        size = float(match["decimal"])
    elif int(match["bottom"]) == 0:
        raise QuantityError(f"'{match[0].strip()}' divides by zero; write the number in full.")
    else:
        size = int(match["whole"] or 0) + int(match["top"]) / int(match["bottom"])
    return -size if match["sign"] in {"-", "\N{MINUS SIGN}"} else size


def _as_dimension(quantity: Quantity, dimension: str, text: str) -> Quantity:
    """Check the dimension; a plain pressure takes the reference that the question states."""
    if quantity.dimension == dimension:
        return quantity
    if quantity.dimension == "pressure" and dimension.endswith("-pressure"):
        marked = f"{quantity.unit}({dimension[0]})"
        return Quantity(quantity.value, marked) if marked in UNITS else from_si(quantity.si, f"Pa({dimension[0]})")
    raise QuantityError(
        f"'{text.strip()}' is a {_words(quantity.dimension)}, but a {_words(dimension)} is asked for here, "
        f"in {_example(dimension)}."
    )


def parse(text: str, dimension: str | None = None) -> Quantity:
    """Read a quantity as it is written in the trade.

    Parameters
    ----------
    text
        A number and a unit, such as ``6bar``, ``87 psi``, ``1 9/16 in`` or ``1.2 dm3/(s*bar)``.
        The decimal sign is a point.
    dimension
        What must be measured, such as ``length``; None takes any. For ``gauge-pressure`` and
        ``absolute-pressure`` a plain pressure counts as what is asked for.

    Returns
    -------
    Quantity
        The number with its unit as written.

    Raises
    ------
    QuantityError
        If the number or the unit is missing or unknown, the unit measures something else,
        or the value is not finite.

    Examples
    --------
    >>> parse("1 9/16 in")
    Quantity(value=1.5625, unit='in')
    >>> parse("6bar", "gauge-pressure")
    Quantity(value=6.0, unit='bar(g)')
    """
    match = _NUMBER.fullmatch(text)
    if match is None:
        raise QuantityError(f"'{text.strip()}' does not start with a number; write a number and a unit such as 6 bar.")
    spelling = match["unit"].strip()
    if spelling.startswith(",") and spelling[1:2].isdigit():
        raise QuantityError(f"'{text.strip()}' has a comma in its number; the decimal sign is a point, as in 0.5 mm.")
    if not spelling:
        if dimension != "ratio":
            raise QuantityError(f"'{text.strip()}' has no unit; write for example {_example(dimension)} behind it.")
        spelling = "1"
    quantity = Quantity(_number(match), spelling)
    return quantity if dimension is None else _as_dimension(quantity, dimension, text)


def from_qudt(iri: str) -> str:
    """Find the unit symbol for a QUDT unit, given as ``unit:BAR`` or as its full IRI.

    Raises
    ------
    QuantityError
        If the table holds no such unit; the sentence names the nearest one.

    Examples
    --------
    >>> from_qudt("unit:N-PER-MilliM")
    'N/mm'
    """
    name = iri.removeprefix(_QUDT).removeprefix("unit:")
    if name not in _BY_QUDT:
        near = get_close_matches(name, _BY_QUDT, n=1, cutoff=0.0)
        raise QuantityError(f"'{iri}' is not a QUDT unit known here; the nearest is 'unit:{near[0]}'.")
    return _BY_QUDT[name]


def to_qudt(unit: str) -> str:
    """Tell the QUDT name of a unit, as ``unit:BAR``; gauge and absolute pressure share the plain unit.

    Raises
    ------
    QuantityError
        If the unit is unknown, or QUDT has none for it.

    Examples
    --------
    >>> to_qudt("bar(g)"), to_qudt("l/min")
    ('unit:BAR', 'unit:L-PER-MIN')
    """
    found = find_unit(unit)
    name = found.qudt or UNITS[found.symbol.removesuffix("(g)").removesuffix("(a)")].qudt
    if not name:
        raise QuantityError(f"QUDT has no unit for '{found.symbol}'; give it in other units.")
    return f"unit:{name}"
