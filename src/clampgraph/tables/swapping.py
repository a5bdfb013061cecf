"""What goes with a position when it is renewed: what opening it spoils, what pays to renew, what to look at."""

from collections.abc import Iterator

from clampgraph.replacement.access import Opening, least_opening
from clampgraph.replacement.facts import Site
from clampgraph.replacement.renewal import Economy, worth_renewing
from clampgraph.replacement.site import read_site
from clampgraph.tables.columns import Cell, Column, Row
from clampgraph.tables.facts import Facts, Scope

__all__ = ["CAVEATS", "COLUMNS", "rows"]

COLUMNS = (
    Column("assembly", "Assembly", "Identifier of the assembly.", key=True),
    Column("generation", "Generation", "Identifier of the generation.", key=True),
    Column("position", "Renewed", "Identifier of the position that is renewed.", key=True),
    Column("minutes", "Time", "Working time to reach it and to close up again.", "number", "min"),
    Column("level", "Level", "must (spoiled), should (waiting is expected to cost more) or inspect (laid open)."),
    Column("with", "With it", "Identifier of the other position.", key=True),
    Column("item", "Item there", "Part number of the item fitted there."),
    Column("reason", "Reason", "Why it goes with it."),
)

CAVEATS = (
    "Every position is renewed like for like, by the quickest way in; a different item may ask for more.",
    "What should be renewed is weighed for items of the default age, with the cost figures of the knowledge pack.",
)


def rows(facts: Facts, scope: Scope) -> Iterator[Row]:
    """Give one row for each position and each other one that goes with it."""
    figures = facts.catalogue.figures
    economy = Economy(figures["labour-rate"][0], figures["visit"][0], figures["horizon"][0])
    for assembly in facts.generations(scope):
        site = read_site(facts.ask, facts.catalogue, assembly)
        for position in sorted(site.fitted):
            yield from _of_position(facts, site, position, economy)


def _of_position(facts: Facts, site: Site, position: str, economy: Economy) -> Iterator[Row]:
    opening = least_opening(site, (position,))
    told = {position}
    for level, other, reason in (
        *_must(site, position, opening),
        *_should(site, opening, economy),
        *_inspect(site, opening),
    ):
        if other not in told:
            told.add(other)
            yield _row(facts, site, (position, opening.minutes, level, other, reason))


def _row(facts: Facts, site: Site, told: tuple[str, float, str, str, str]) -> Row:
    position, minutes, level, other, reason = told
    item = site.fitted.get(other)
    assembly = site.assembly
    cells: tuple[Cell, ...] = (
        assembly.id, assembly.generation.id, position, minutes, level, other, item.mpn if item else None, reason,
    )  # fmt: skip
    rules = tuple(j.rule or j.id for name in site.holding[other] for j in (site.joints[name],))
    iris = (assembly.positions[position].iri, assembly.positions[other].iri, *((item.iri,) if item else ()))
    return Row(cells, facts.told_by(*rules), (*iris, *rules), (assembly.id, assembly.generation.id))


def _must(site: Site, position: str, opening: Opening) -> Iterator[tuple[str, str, str]]:
    for other in sorted(opening.positions - {position}):
        spoils = sorted(site.joints[j].label for j in opening.joints if other in site.joints[j].disturbs)
        yield "must", other, f"single use; spoiled when this is opened: {', '.join(spoils)}"


def _should(site: Site, opening: Opening, economy: Economy) -> Iterator[tuple[str, str, str]]:
    for renewal in worth_renewing(site, opening, {}, economy):
        if renewal.worthwhile:
            chance = f"chance to fail within {economy.horizon:g} years {renewal.chance:.2g}"
            cost = f"{renewal.now:.0f} EUR now against {renewal.later:.0f} EUR expected later"
            yield "should", renewal.position, f"{chance}: {cost}"


def _inspect(site: Site, opening: Opening) -> Iterator[tuple[str, str, str]]:
    laid_open: dict[str, list[str]] = {}
    for name in sorted(opening.joints):
        for other in site.joints[name].joins - opening.positions:
            laid_open.setdefault(other, []).append(site.joints[name].label)
    for other, joints in sorted(laid_open.items()):
        yield "inspect", other, f"laid open: {', '.join(joints)}"
