"""The calculations that a technician calls by name, and the way from trade text to trade results.

>>> result = run("cylinder-force", {"pressure": "6bar", "bore": "100mm"})
>>> round(result["results"]["push"]["value"], 2), result["results"]["push"]["unit"]
(4.71, 'kN')
"""

from collections.abc import Mapping
from difflib import get_close_matches
from types import MappingProxyType
from typing import Any, Final

from clampgraph.errors import QuantityError, UnknownNameError
from clampgraph.physics.calculation import Calculation, Input, Output
from clampgraph.physics.calculations import air, force, joints, life
from clampgraph.units import from_si, parse

__all__ = ["CALCULATIONS", "Calculation", "Input", "Output", "run"]

CALCULATIONS: Final[Mapping[str, Calculation]] = MappingProxyType(
    {calculation.name: calculation for room in (force, air, joints, life) for calculation in room.CALCULATIONS}
)
"""Every calculation by its name."""


def run(name: str, given: Mapping[str, str]) -> dict[str, Any]:
    """Calculate from text, in trade units.

    Parameters
    ----------
    name
        Name of the calculation, such as ``cylinder-force``.
    given
        Text of each input by its name or symbol, such as ``{"pressure": "6bar"}``.

    Returns
    -------
    dict
        ``calculation``, ``title``, ``inputs`` and ``results`` (each by name, as ``{"value", "unit"}``;
        the unit is empty for text), ``source``, ``validity`` and ``warnings`` (sentences).

    Raises
    ------
    UnknownNameError
        If there is no such calculation or input; it names the nearest.
    QuantityError
        If an input is missing, is no quantity of its dimension, or lies outside its range.
    """
    calculation = CALCULATIONS.get(name)
    if calculation is None:
        raise UnknownNameError("calculation", name, _nearest(name, CALCULATIONS))
    texts = _by_input(calculation, given)
    shown: dict[str, dict[str, Any]] = {}
    values: dict[str, Any] = {}
    for entry in calculation.inputs:
        values[entry.symbol], shown_value = _read(entry, texts.get(entry.name, entry.default), name)
        if shown_value is not None:
            shown[entry.name] = shown_value
    found = calculation.function(**values)
    return {
        "calculation": name,
        "title": calculation.title,
        "inputs": shown,
        "results": {out.name: _told(out, found[out.name]) for out in calculation.outputs if out.name in found},
        "source": calculation.source,
        "validity": calculation.validity,
        "warnings": list(calculation.cautions(values, found)),
    }


def _nearest(word: str, words: Mapping[str, Any]) -> list[str]:
    return get_close_matches(word, words, n=3, cutoff=0.4)


def _by_input(calculation: Calculation, given: Mapping[str, str]) -> dict[str, str]:
    keys = {entry.symbol: entry.name for entry in calculation.inputs}
    keys |= {entry.name: entry.name for entry in calculation.inputs}
    texts: dict[str, str] = {}
    for key, text in given.items():
        if key not in keys:
            raise UnknownNameError("input", key, _nearest(key, keys), f"of {calculation.name}")
        if keys[key] in texts:
            raise QuantityError(f"The input '{keys[key]}' of {calculation.name} is given twice; once is right.")
        texts[keys[key]] = text
    return texts


def _read(entry: Input, text: str | None, place: str) -> tuple[Any, dict[str, Any] | None]:
    """Return the SI value for the function and the input as it is echoed."""
    if text is None:
        if entry.optional:
            return None, None
        example = entry.unit or " or ".join(entry.choices) or "a word"
        raise QuantityError(f"{place} needs '{entry.name}' ({entry.description}), in {example}.")
    if entry.dimension == "text":
        return text, {"value": text, "unit": ""}
    if entry.dimension == "choice":
        if text not in entry.choices:
            raise QuantityError(f"'{entry.name}' of {place} is one of {', '.join(entry.choices)}, not '{text}'.")
        return text, {"value": text, "unit": ""}
    quantity = parse(text, "ratio" if entry.dimension == "count" else entry.dimension)
    shown = {"value": quantity.value, "unit": "" if quantity.unit == "1" else quantity.unit}
    if entry.dimension != "count":
        return quantity.si, shown
    if not quantity.si.is_integer():
        raise QuantityError(f"'{entry.name}' of {place} is a whole number, not {text.strip()}.")
    return int(quantity.si), {"value": int(quantity.si), "unit": ""}


def _told(out: Output, value: Any) -> dict[str, Any]:
    if out.dimension == "text":
        return {"value": str(value), "unit": ""}
    quantity = from_si(float(value), out.unit)
    return {"value": quantity.value, "unit": "" if quantity.unit == "1" else quantity.unit}
