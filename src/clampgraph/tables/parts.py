"""Tables of what can be ordered: where it is used, what supersedes it, what a kit holds."""

from collections.abc import Iterator, Mapping

from clampgraph.replacement.facts import Item
from clampgraph.tables.columns import Column, Row
from clampgraph.tables.facts import Facts, Scope

__all__ = [
    "INTERCHANGE_COLUMNS",
    "KIT_CAVEATS",
    "KIT_COLUMNS",
    "WHERE_USED_CAVEATS",
    "WHERE_USED_COLUMNS",
    "interchange_rows",
    "kit_rows",
    "where_used_rows",
]

_ITEM = (
    Column("item", "Item", "Part number to order it by.", key=True),
    Column("label", "What it is", "The item in words."),
    Column("maker", "Maker", "Who makes it."),
)

WHERE_USED_COLUMNS = (
    *_ITEM,
    Column("assembly", "Assembly", "Identifier of the assembly.", key=True),
    Column("generation", "Generation", "Identifier of the generation.", key=True),
    Column("position", "Position", "Identifier of the position.", key=True),
    Column("designation", "Designation", "Reference designation after IEC 81346-2."),
    Column("number", "Pieces", "How many pieces sit at the position.", "integer"),
)
WHERE_USED_CAVEATS = (
    "As fitted by the builder; what else would fit is judged feature by feature, position by position.",
)

INTERCHANGE_COLUMNS = (
    *_ITEM,
    Column("relation", "Relation", "replaces, is replaced by, or interchanges with (each replaces the other)."),
    Column("other", "Other item", "Part number of the other item.", key=True),
    Column("other_label", "What it is", "The other item in words."),
    Column("current", "Order today", "The item at the end of the supersession; none where it branches.", "text"),
)

KIT_COLUMNS = (
    Column("kit", "Kit or group", "Part number of what is ordered.", key=True),
    Column("label", "What it is", "The kit or group in words."),
    Column("kind", "Kind", "kit (loose pieces), group (assembled) or exchange-unit (overhauled, against the old one)."),
    Column("item", "Holds", "Part number of the item inside.", key=True),
    Column("item_label", "What that is", "The item inside in words."),
    Column("number", "Pieces", "How many pieces of it are inside.", "integer"),
    Column("price", "Price of these pieces", "Price of these pieces bought singly.", "number", "EUR"),
    Column("kit_price", "Price of the kit", "Price of the whole kit or group.", "number", "EUR"),
    Column("saving", "Saving", "Price of all pieces bought singly, less the price of the kit.", "number", "EUR"),
)
KIT_CAVEATS = ("A saving is left empty where a price is not known or stands in another currency.",)


def where_used_rows(facts: Facts, scope: Scope) -> Iterator[Row]:
    """Give one row for each item at each position of each generation."""
    if scope.assembly is None:
        found = facts.ask("tables/list-fitments")
    else:
        found = facts.ask("tables/list-fitments-of", assembly=scope.assembly)
        chosen = {g.generation.id for g in facts.generations(scope)}
        found = [row for row in found if row["generation"] in chosen]
    for row in sorted(found, key=lambda r: (r["mpn"], r["assembly"], r["order"], r["position"])):
        yield Row(
            (
                row["mpn"], row["label"], row["maker"], row["assembly"], row["generation"], row["position"],
                row["designation"], row["number"] or 1,
            ),
            facts.told_by(row["iri"]),
            (row["iri"], row["fitment"], row["at"]),
        )  # fmt: skip


def _chosen_items(facts: Facts, scope: Scope) -> set[str]:
    """Return the items that belong to the assembly asked for, with what they replace or are replaced by."""
    items = facts.catalogue.items
    if scope.assembly is None:
        return set(items)
    fitted = {i.mpn for a in facts.generations(scope) for p in a.positions.values() for i in p.items}
    return {mpn for mpn, item in items.items() if mpn in fitted or fitted & {*item.replaces, *item.contents}}


def interchange_rows(facts: Facts, scope: Scope) -> Iterator[Row]:
    """Give one row for each item and each other one that it replaces or is replaced by."""
    items, chosen = facts.catalogue.items, _chosen_items(facts, scope)
    pairs = {(new.mpn, old) for new in items.values() for old in new.replaces if old in items}
    for one, other in sorted({*pairs, *((old, new) for new, old in pairs)}):
        if not {one, other} & chosen:
            continue
        forth, back = (one, other) in pairs, (other, one) in pairs
        relation = "interchanges with" if forth and back else "replaces" if forth else "is replaced by"
        item = items[one]
        yield Row(
            (
                one, item.label, item.maker or None, relation, other, items[other].label,
                _current(items, one),
            ),
            facts.told_by(item.iri),
            (item.iri, items[other].iri),
        )  # fmt: skip


def _current(items: Mapping[str, Item], mpn: str) -> str | None:
    """Follow a supersession to its end; items that replace each other count as one."""
    newer: dict[str, set[str]] = {}
    for item in items.values():
        for old in item.replaces:
            newer.setdefault(old, set()).add(item.mpn)
    seen = {mpn}
    while True:
        following = {n for n in newer.get(mpn, set()) if n not in seen}
        if not following:
            return mpn
        if len(following) > 1:
            return None
        mpn = following.pop()
        seen.add(mpn)


def kit_rows(facts: Facts, scope: Scope) -> Iterator[Row]:
    """Give one row for each item in each kit, group or exchange unit."""
    items, chosen = facts.catalogue.items, _chosen_items(facts, scope)
    for kit in (items[mpn] for mpn in sorted(items)):
        if not kit.contents or kit.mpn not in chosen:
            continue
        singly = [_price(items, kit, mpn) for mpn in kit.contents]
        known = None if None in singly else sum(price for price in singly if price is not None)
        saving = None if known is None or kit.price is None else round(known - kit.price, 2)
        for mpn in sorted(kit.contents):
            inside = items.get(mpn)
            yield Row(
                (
                    kit.mpn, kit.label, kit.kind, mpn, inside.label if inside else None, kit.contents[mpn],
                    _price(items, kit, mpn), kit.price, saving,
                ),
                facts.told_by(kit.iri),
                (kit.iri, f"{kit.iri}.holds-{mpn}", *([inside.iri] if inside else [])),
            )  # fmt: skip


def _price(items: Mapping[str, Item], kit: Item, mpn: str) -> float | None:
    inside = items.get(mpn)
    if inside is None or inside.price is None or inside.currency != kit.currency:
        return None
    return round(inside.price * kit.contents[mpn], 2)
