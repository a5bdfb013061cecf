"""What can be looked at to tell units apart, and how a user's text becomes a reading of it.

Words, amounts, counts, dates and serial numbers all end as a finite set of outcomes:
the values that some described unit shows, and `other`.
A range of dates or serial numbers is cut where any generation begins or ends; the cells between are the outcomes.
"""

import re
from bisect import bisect_right
from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from itertools import pairwise
from typing import Any, TypeVar

from clampgraph import units
from clampgraph.answers.library import Library, nearest
from clampgraph.assembly import Assembly
from clampgraph.diagnosis.identification import Trait
from clampgraph.errors import DataError, UnknownNameError, WrongCallError

__all__ = ["OTHER", "Feature", "candidates_of", "features_of"]

OTHER = "other"
"""The outcome that is none of the values that a described unit shows."""

Candidates = Mapping[str, Assembly]
B = TypeVar("B", int, date)


@dataclass(frozen=True, slots=True)
class Feature:
    """A feature with its trait, the labels of its outcomes, and the reader of what users write."""

    row: Mapping[str, Any]
    trait: Trait
    labels: Mapping[str, str]
    read: Callable[[str], Collection[str]]


@dataclass
class _Facts:
    """What the packs say, by feature and candidate."""

    candidates: Candidates
    marks: dict[str, dict[str, list[Mapping[str, Any]]]] = field(default_factory=dict)
    words: dict[str, dict[str, list[tuple[str, str, str]]]] = field(default_factory=dict)


def candidates_of(library: Library) -> dict[str, Assembly]:
    """Return every generation of every assembly, keyed ``assembly/generation``."""
    found = {}
    for name in sorted(library.assemblies):
        for generation in library.assembly(name).generations:
            found[f"{name}/{generation.id}"] = library.assembly(name, generation.id)
    return found


def features_of(library: Library, candidates: Candidates) -> dict[str, Feature]:
    """Return every identifying feature of the loaded packs, by its key."""
    facts = _Facts(candidates)
    for row in library.graph.ask("identification/list-marks"):
        seen = facts.marks.setdefault(str(row["feature"]), defaultdict(list))
        for name, unit in candidates.items():
            if row["assembly"] == unit.id and row["generation"] in (None, unit.generation.id):
                seen[name].append(row)
    for row in library.graph.ask("identification/list-feature-values"):
        called = facts.words.setdefault(str(row["feature"]), defaultdict(list))
        called[str(row["value"])].append((str(row["kind"]), str(row["language"]), str(row["label"])))
    makers = {"word": _word, "amount": _amount, "count": _count, "build-date": _build_date, "serial": _serial}
    found = {}
    for row in library.graph.ask("identification/list-features"):
        if row["kind"] not in makers:
            raise DataError(f"The feature {row['feature']} has no cg:valueKind of these: {', '.join(makers)}.")
        found[str(row["feature"])] = makers[str(row["kind"])](row, facts)
    return found


def _key(text: str) -> str:
    """Forgive case, blanks and hyphens; keep the stroke of fractions."""
    return "".join(c for c in text.casefold() if c.isalnum() or c == "/")


def _stated(row: Mapping[str, Any], facts: _Facts) -> dict[str, frozenset[str]]:
    """Return the words that each candidate shows: from marks, from its own properties, from its fitted items."""
    marks = facts.marks.get(str(row["feature"]), {})
    found = {}
    for name, unit in facts.candidates.items():
        shown = {str(mark["value"]) for mark in marks.get(name, ()) if mark["value"] is not None}
        if row["reads"]:
            shown |= {str(getattr(unit, str(row["reads"]), "") or "")} - {""}
        if row["type"]:
            here = [p for p in unit.positions.values() if row["type"] in p.type.lineage]
            shown |= {str(item.features[row["name"]]) for p in here for item in p.items if row["name"] in item.features}
        if shown:
            found[name] = frozenset(shown)
    return found


def _word(row: Mapping[str, Any], facts: _Facts) -> Feature:
    shown = _stated(row, facts)
    called = facts.words.get(str(row["feature"]), {})
    values = sorted({*called, *(v for some in shown.values() for v in some)})
    labels = dict.fromkeys(values, "") | {OTHER: "something else"}
    spellings = {_key(OTHER): OTHER}
    for value in values:
        preferred = [text for kind, language, text in called.get(value, ()) if (kind, language) == ("preferred", "en")]
        labels[value] = preferred[0] if preferred else value
        spellings |= dict.fromkeys((_key(text) for _, _, text in called.get(value, ())), value)
    spellings |= {_key(value): value for value in values}

    def read(text: str) -> Collection[str]:
        if _key(text) not in spellings:
            known = {spelling: value for value in values for spelling in (value, labels[value])}
            near = list(dict.fromkeys(known[found] for found in nearest(text, known)))
            raise UnknownNameError("value", text, near, f"of {row['feature']}; say 'other' if it is none of them")
        return [spellings[_key(text)]]

    return Feature(row, _trait(row, (*values, OTHER), shown), labels, read)


def _amount(row: Mapping[str, Any], facts: _Facts) -> Feature:
    if row["unit"] is None:
        raise DataError(f"The feature {row['feature']} is told as an amount and needs cg:tolerance with its unit.")
    unit, slack = units.from_qudt(str(row["unit"])), float(row["tolerance"])
    if any(mark["number"] is None for some in facts.marks.get(str(row["feature"]), {}).values() for mark in some):
        raise DataError(f"A mark of the feature {row['feature']} needs cg:value with its number and its unit.")
    told = {
        name: [units.Quantity(mark["number"], units.from_qudt(mark["unit"])).to(unit).value for mark in marks]
        for name, marks in facts.marks.get(str(row["feature"]), {}).items()
    }
    groups = _groups(sorted({x for some in told.values() for x in some}), slack)
    names = [" or ".join(f"{x:g}" for x in group) + f" {unit}" for group in groups]
    shown = {
        name: frozenset(names[i] for i, group in enumerate(groups) if set(group) & set(some))
        for name, some in told.items()
    }

    def read(text: str) -> Collection[str]:
        x = units.parse(text, units.find_unit(unit).dimension).to(unit).value
        near = [(min(abs(x - y) for y in group), name) for group, name in zip(groups, names, strict=True)]
        gap, name = min(near, default=(slack + 1.0, OTHER))
        return [name if gap <= slack else OTHER]

    labels = {name: name for name in names} | {OTHER: "another size"}
    return Feature(row, _trait(row, (*names, OTHER), shown), labels, read)


def _groups(values: Sequence[float], slack: float) -> list[list[float]]:
    """Put sizes that a reading cannot tell apart into one group."""
    groups = [[x] for x in values[:1]]
    for before, x in pairwise(values):
        if x - before <= slack:
            groups[-1].append(x)
        else:
            groups.append([x])
    return groups


def _count(row: Mapping[str, Any], facts: _Facts) -> Feature:
    def number(unit: Assembly) -> str:
        return str(sum(p.number for p in unit.positions.values() if row["counts"] in p.type.lineage))

    shown = {name: frozenset({number(unit)}) for name, unit in facts.candidates.items()}
    values = sorted({v for some in shown.values() for v in some}, key=int)

    def read(text: str) -> Collection[str]:
        count = text.strip()
        if count != OTHER and not (count.isascii() and count.isdigit()):
            raise WrongCallError(f"{row['feature']} is '{text}'; give a whole number such as 1.")
        return [str(int(count)) if count != OTHER and str(int(count)) in values else OTHER]

    labels = {v: v for v in values} | {OTHER: "another number"}
    return Feature(row, _trait(row, (*values, OTHER), shown), labels, read)


def _build_date(row: Mapping[str, Any], facts: _Facts) -> Feature:
    day = timedelta(days=1)
    ranges = {n: (u.generation.built_from, u.generation.built_until) for n, u in facts.candidates.items()}
    bounds = sorted({a for a, _ in ranges.values() if a} | {b + day for _, b in ranges.values() if b and b < date.max})
    cells = _cells([b.isoformat() for b in bounds], [(b - day).isoformat() for b in bounds])
    shown = {
        name: frozenset(cells[_span(bounds, a or date.min, b or date.max)]) for name, (a, b) in ranges.items() if a or b
    }

    def read(text: str) -> Collection[str]:
        return cells[_span(bounds, *_dates(text))]

    return Feature(row, _trait(row, cells, shown), {c: c for c in cells}, read)


def _serial(row: Mapping[str, Any], facts: _Facts) -> Feature:
    ranges = {n: (u.generation.serial_from, u.generation.serial_until) for n, u in facts.candidates.items()}
    bounds = sorted(
        {a for a, _ in ranges.values() if a is not None} | {b + 1 for _, b in ranges.values() if b is not None}
    )
    cells = _cells([str(b) for b in bounds], [str(b - 1) for b in bounds])
    top = (bounds[-1] if bounds else 0) + 1
    shown = {
        name: frozenset(cells[_span(bounds, 0 if a is None else a, top if b is None else b)])
        for name, (a, b) in ranges.items()
        if a is not None or b is not None
    }

    def read(text: str) -> Collection[str]:
        number = text.strip()
        if not (number.isascii() and number.isdigit()):
            raise WrongCallError(f"{row['feature']} is '{text}'; give the whole number without its letters.")
        return cells[_span(bounds, int(number), int(number))]

    return Feature(row, _trait(row, cells, shown), {c: c for c in cells}, read)


def _cells(starts: Sequence[str], ends: Sequence[str]) -> tuple[str, ...]:
    """Name the cells between bounds: until the first, from each to the next, from the last on."""
    if not starts:
        return ("any",)
    inner = [f"{a} to {b}" for a, b in zip(starts, ends[1:], strict=False)]
    return (f"before {starts[0]}", *inner, f"from {starts[-1]}")


def _span(bounds: Sequence[B], first: B, last: B) -> slice:
    return slice(bisect_right(bounds, first), bisect_right(bounds, last) + 1)


def _dates(text: str) -> tuple[date, date]:
    """Return the first and last day that a date, month or year may mean."""
    match = re.fullmatch(r"\s*(\d{4})(?:-(\d{2})(?:-(\d{2}))?)?\s*", text, re.ASCII)
    year, month, day = (int(part) if part else 0 for part in (match.groups() if match else ("0", "", "")))
    try:
        first = date(year, month or 1, day or 1)
        if day:
            return first, first
        return first, (date(year, month + 1, 1) if 0 < month < 12 else date(year + 1, 1, 1)) - timedelta(days=1)
    except ValueError:
        raise WrongCallError(f"The build date is '{text}'; write 2014-07-01, 2014-07 or 2014.") from None


def _trait(row: Mapping[str, Any], outcomes: Iterable[str], shown: Mapping[str, frozenset[str]]) -> Trait:
    return Trait(str(row["feature"]), tuple(outcomes), float(row["misreading"]), shown)
