"""What a shop knows of itself, from a small TOML file, as defaults for every question it asks.

The purity class of its air and its coolant decide whether conditions hold, by rules that are data;
hours or tool changes of a year stretch or shrink ages to the use for which failure rates are told.
A question's own fields go before those of its site.
"""

import math
import tomllib
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from clampgraph.answers.library import Library, nearest
from clampgraph.errors import QuantityError, UnknownNameError, WrongCallError

__all__ = ["COOLANTS", "Site", "apply_site", "read_site"]

COOLANTS = ("emulsion", "oil", "mist", "dry")
"""What is sprayed at the tool."""

_CLASSES = (*map(str, range(10)), "X")
_NUMBERS = ("labour_rate", "hours_per_year", "cycles_per_year", "default_age_years")
_TABLES = ("air", "conditions", "age_years")
_KEYS = ("site", "coolant", *_NUMBERS, *_TABLES)
_AIR = ("particles", "water", "oil")


@dataclass(frozen=True)
class Site:
    """A site as its file tells it.

    `use` is the yearly use over the one for which failure rates are told [-]; ages are calendar years [yr].
    """

    library: Library
    name: str
    labour_rate: float | None = None
    use: float = 1.0
    default_age: float | None = None
    conditions: Mapping[str, bool] = field(default_factory=dict)
    ages: Mapping[str, Mapping[str, float]] = field(default_factory=dict)


def read_site(library: Library, path: Path) -> Site:
    """Read a site file.

    Raises
    ------
    UnknownNameError
        If there is no such file, or it names a key, condition, assembly or position that is not known.
    WrongCallError
        If it is not TOML, or a value is of the wrong kind.
    QuantityError
        If a figure is not above zero.
    """
    try:
        told = tomllib.loads(path.read_text("utf-8"))
    except OSError as error:
        raise UnknownNameError("readable site file", str(path)) from error
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise WrongCallError(f"{path.name} is not TOML in UTF-8: {str(error).rstrip('.')}.") from error
    file = path.name
    _known(told, _KEYS, "key", file)
    for name in _TABLES:
        if not isinstance(told.get(name, {}), dict):
            raise WrongCallError(f"'{name}' in {file} must be a table: write [{name}] and its keys below it.")
    figures = {name: _number(told[name], name, file) for name in _NUMBERS if name in told}
    return Site(
        library=library,
        name=str(told.get("site", path.stem)),
        labour_rate=figures.get("labour_rate"),
        use=_use(library, figures),
        default_age=figures.get("default_age_years"),
        conditions=_ruled(library, _facts(told, file)) | _conditions(library, told.get("conditions", {}), file),
        ages=_ages(library, told.get("age_years", {}), file),
    )


def apply_site(site: Site, request: Mapping[str, Any]) -> dict[str, Any]:
    """Return a request for a diagnosis or a replacement with what its site knows; its own fields go first.

    Parameters
    ----------
    site
        As read from its file.
    request
        Plain data with at least ``assembly``; ``ages`` [yr of ordinary use], ``conditions`` and ``labour_rate`` [EUR/h]
        are filled in where the request says nothing.

    Raises
    ------
    UnknownNameError
        If the assembly or its generation is not known.
    """
    filled = dict(request)
    unit = site.library.assembly(str(request.get("assembly", "")), request.get("generation"))
    own = site.ages.get(unit.id, {})
    general = site.default_age if site.default_age is not None else unit.exposure
    if own or site.default_age is not None or site.use != 1.0:
        ages = {position: own.get(position, general) * site.use for position in unit.positions}
        filled["ages"] = ages | dict(request.get("ages") or {})
    if site.conditions:
        filled["conditions"] = dict(site.conditions) | _as_mapping(request.get("conditions"))
    if site.labour_rate is not None:
        filled.setdefault("labour_rate", site.labour_rate)
    return filled


def _as_mapping(conditions: Any) -> dict[str, bool]:
    """Accept a list of conditions that hold, as requests do."""
    return dict(conditions or {}) if isinstance(conditions, Mapping) else dict.fromkeys(conditions or (), True)


def _known(told: Iterable[str], known: Iterable[str], kind: str, file: str, table: str = "") -> None:
    names = list(known)
    for name in told:
        if name not in names:
            raise UnknownNameError(kind, f"{table}{name}", [f"{table}{n}" for n in nearest(name, names)], f"in {file}")


def _number(value: object, name: str, file: str) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise WrongCallError(f"'{name}' in {file} is {value!r}; write a plain number.")
    if not (math.isfinite(value) and value > 0.0):
        raise QuantityError(f"'{name}' in {file} is {value:g}; write a number above 0.")
    return float(value)


def _use(library: Library, figures: Mapping[str, float]) -> float:
    """Compare the yearly use with the one that failure rates are told for; tool changes say more than hours."""
    ordinary = {str(row["figure"]): float(row["number"]) for row in library.graph.ask("sites/list-figures")}  # type: ignore[arg-type]  # a number by its shape
    for name in ("cycles_per_year", "hours_per_year"):
        if name in figures and name.replace("_", "-") in ordinary:
            return figures[name] / ordinary[name.replace("_", "-")]
    return 1.0


def _facts(told: Mapping[str, Any], file: str) -> dict[str, str]:
    """Return the fields that rules may ask for, as text."""
    _known(told.get("air", {}), _AIR, "key", file, "air.")
    facts = {f"air.{name}": str(value).upper() for name, value in told.get("air", {}).items()}
    for name, value in facts.items():
        if value not in _CLASSES:
            raise WrongCallError(f"'{name}' in {file} is {value}; write a class of ISO 8573-1 from 0 to 9, or \"X\".")
    if "coolant" in told:
        _known([str(told["coolant"])], COOLANTS, "coolant", file)
        facts["coolant"] = str(told["coolant"])
    return facts


def _ruled(library: Library, facts: Mapping[str, str]) -> dict[str, bool]:
    """Return the conditions that the rules decide: a rule speaks when each of its fields has one of its values."""
    rules: dict[tuple[str, str, bool], dict[str, set[str]]] = defaultdict(lambda: defaultdict(set))
    for row in library.graph.ask("sites/list-rules"):
        rules[str(row["rule"]), str(row["condition"]), bool(row["holds"])][str(row["field"])].add(str(row["value"]))
    met = {
        (condition, holds)
        for (_, condition, holds), tests in rules.items()
        if all(facts.get(name) in values for name, values in tests.items())
    }
    return {condition: (condition, True) in met for condition, _ in sorted(met)}


def _conditions(library: Library, told: Mapping[str, object], file: str) -> dict[str, bool]:
    _known(told, library.knowledge.conditions, "condition", file)
    found = {}
    for name, holds in told.items():
        if not isinstance(holds, bool):
            raise WrongCallError(f"'conditions.{name}' in {file} is {holds!r}; write true or false.")
        found[name] = holds
    return found


def _ages(library: Library, told: Mapping[str, object], file: str) -> dict[str, dict[str, float]]:
    _known(told, library.assemblies, "assembly", file)
    found = {}
    for name, ages in told.items():
        if not isinstance(ages, dict):
            raise WrongCallError(f"'age_years.{name}' in {file} must be a table: write [age_years.{name}] above it.")
        units = [library.assembly(name, g.id) for g in library.assembly(name).generations]
        _known(ages, {p for unit in units for p in unit.positions}, "position", file, f"age_years.{name}.")
        found[name] = {
            position: _number(years, f"age_years.{name}.{position}", file) for position, years in ages.items()
        }
    return found
