"""Standards and other sources that the data rest on, and how much of it rests on each."""

from collections import Counter, defaultdict
from collections.abc import Iterator

from clampgraph.tables.columns import Column, Row
from clampgraph.tables.facts import Facts, Scope

__all__ = ["CAVEATS", "COLUMNS", "rows"]

COLUMNS = (
    Column("source", "Source", "Standard, or other source, as it is cited.", key=True),
    Column("about", "What it is about", "What the source says or is."),
    Column("published", "Published", "Whether anybody has published it.", "boolean"),
    Column("claims", "Claims", "How many claims rest on it.", "integer"),
    Column("kinds", "Of which kind", "What is claimed, the most frequent first.", "list"),
)

CAVEATS = ("Common practice, construction and invented data are no publications: nobody else vouches for them.",)

_UNPUBLISHED = ("common-practice", "design", "demo")


def rows(facts: Facts, scope: Scope) -> Iterator[Row]:
    """Give one row for each source, published ones first; for one assembly only what it rests on."""
    kinds: dict[str, Counter[str]] = defaultdict(Counter)
    told: dict[str, tuple[str, str | None]] = {}
    claims: dict[str, dict[str, None]] = defaultdict(dict)
    needed = None if scope.assembly is None else _claims_of(facts, scope)
    for row in facts.ask("tables/list-claims"):
        if needed is None or row["claim"] in needed:
            told[row["source"]] = row["label"], row["definition"]
            claims[row["source"]][row["claim"]] = None
            kinds[row["source"]][row["kind"]] += 1
    for source in sorted(told, key=lambda s: (_is_unpublished(s), told[s][0])):
        label, about = told[source]
        counted = sorted(kinds[source].items(), key=lambda k: (-k[1], k[0]))
        yield Row(
            (label, about, not _is_unpublished(source), len(claims[source]), tuple(f"{k} ({n})" for k, n in counted)),
            (),
            (source, *claims[source]),
        )


def _is_unpublished(source: str) -> bool:
    return source.rpartition("#")[2] in _UNPUBLISHED


def _claims_of(facts: Facts, scope: Scope) -> set[str]:
    """Return what the influence graphs and the parts of an assembly rest on."""
    found: set[str] = set()
    for assembly in facts.generations(scope):
        found |= {link.claim for link in facts.loaded.influence(assembly).influences}
        found |= {assembly.iri, *(g.iri for g in assembly.generations)}
        for position in assembly.positions.values():
            found |= {position.iri, *(item.iri for item in position.items)}
            found |= {mode.iri for mode in position.type.modes.values()}
            found |= {i.claim for kind in position.type.lineage for i in facts.catalogue.interfaces.get(kind, ())}
        found |= {iri for caution in facts.knowledge.cautions for iri in facts.caution_iris(caution.id)}
    return found
