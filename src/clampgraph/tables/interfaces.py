"""Seals, threads, ports and rings of the fitted items: what a fitter measures before he orders."""

from collections.abc import Iterator

from clampgraph.assembly import Assembly
from clampgraph.assembly.topology import Position
from clampgraph.tables.columns import Column, Row
from clampgraph.tables.facts import Facts, Scope

__all__ = ["CAVEATS", "COLUMNS", "rows"]

COLUMNS = (
    Column("assembly", "Assembly", "Identifier of the assembly.", key=True),
    Column("generation", "Generation", "Identifier of the generation.", key=True),
    Column("designation", "Designation", "Reference designation after IEC 81346-2."),
    Column("position", "Position", "Identifier of the position.", key=True),
    Column("item", "Item", "Part number of the fitted item.", key=True),
    Column("label", "What it is", "The item in words."),
    Column("feature", "Feature", "Which of its seals, threads, ports or rings.", key=True),
    Column("value", "Value", "What the item offers, with its unit."),
    Column("rule", "Rule", "How the value must compare with what the position asks for."),
)

CAVEATS = ("G, R and NPT threads never go together, however close they look; thread hands must match at a joint.",)

_WORDS = frozenset({"seal", "thread", "port", "ring", "gland"})


def rows(facts: Facts, scope: Scope) -> Iterator[Row]:
    """Give one row for each such feature of each fitted item."""
    for assembly in facts.generations(scope):
        for position in sorted(assembly.positions.values(), key=lambda p: p.designation):
            yield from _of_position(facts, assembly, position)


def _of_position(facts: Facts, assembly: Assembly, position: Position) -> Iterator[Row]:
    asked = {
        interface.feature: interface
        for kind in reversed(position.type.lineage)
        for interface in facts.catalogue.interfaces.get(kind, ())
    }
    for fitted in position.items:
        item = facts.catalogue.items[fitted.mpn]
        for name, value in sorted(item.features.items()):
            if not _WORDS & set(name.split("-")):
                continue
            interface = asked.get(name)
            claims = () if interface is None else (interface.claim,)
            yield Row(
                (
                    assembly.id, assembly.generation.id, position.designation, position.id, item.mpn, item.label,
                    name, str(value), None if interface is None else interface.rule,
                ),
                facts.told_by(item.iri, *claims),
                (item.iri, f"{item.iri}.{name}", position.iri, *claims),
            )  # fmt: skip
