"""Variants side by side: what one generation or assembly has, and the others have otherwise."""

from collections.abc import Iterator, Mapping

from clampgraph.assembly import Assembly
from clampgraph.tables.columns import Cell, Column, Row
from clampgraph.tables.facts import Facts, Scope

__all__ = ["columns", "rows"]


def columns(facts: Facts, scope: Scope) -> tuple[Column, ...]:
    """Return one column for each generation of the assembly asked for, or of every one."""
    return (
        Column("subject", "Subject", "The unit as a whole, or one of its positions.", key=True),
        Column("property", "Property", "What is compared.", key=True),
        *(
            Column(f"{a.id}/{a.generation.id}", f"{a.id} {a.generation.id}", f"{a.label}, {a.generation.label}.")
            for a in facts.generations(scope)
        ),
    )


def rows(facts: Facts, scope: Scope) -> Iterator[Row]:
    """Give one row for each property; on request only those in which the variants differ."""
    variants = list(facts.generations(scope))
    told = [_properties(facts, variant) for variant in variants]
    named = sorted({key for properties in told for key in properties}, key=_order)
    for subject, name in named:
        cells = tuple(properties.get((subject, name)) for properties in told)
        if scope.differing and len(set(cells)) == 1:
            continue
        at = [variant.positions[subject] for variant in variants if subject in variant.positions]
        iris = [p.iri for p in at] + [item.iri for p in at for item in p.items]
        iris += [iri for variant in variants for iri in (variant.iri, variant.generation.iri)]
        sources = facts.told_by(*(i.iri for p in at for i in p.items), *(v.generation.iri for v in variants))
        yield Row((subject, name, *cells), sources, tuple(dict.fromkeys(iris)))


def _order(key: tuple[str, str]) -> tuple[bool, str, int, str]:
    subject, name = key
    first = ("component", "item", "pieces")
    return subject != "unit", subject, first.index(name) if name in first else len(first), name


def _properties(facts: Facts, variant: Assembly) -> Mapping[tuple[str, str], Cell]:
    generation = variant.generation
    found: dict[tuple[str, str], Cell] = {
        ("unit", "builder"): variant.builder or None,
        ("unit", "taper"): variant.taper,
        ("unit", "actuator"): variant.actuator,
        ("unit", "drive"): variant.drive or None,
        ("unit", "generation"): generation.label,
        ("unit", "built"): _span(generation.built_from, generation.built_until),
        ("unit", "serial numbers"): _span(generation.serial_from, generation.serial_until),
        ("unit", "phases"): ", ".join(facts.word(phase) for phase in variant.phases),
    }
    for position in variant.positions.values():
        found[position.id, "component"] = position.type.label
        found[position.id, "pieces"] = str(position.number)
        found[position.id, "item"] = ", ".join(item.mpn for item in position.items) or None
        for item in position.items:
            for name, value in facts.catalogue.items[item.mpn].features.items():
                found[position.id, name] = str(value)
    return found


def _span(start: object, end: object) -> str | None:
    if start is None and end is None:
        return None
    return f"{'' if start is None else start} to {'' if end is None else end}".strip()
