"""Fault trees after IEC 61025: minimal cut sets of each top event, and which cause matters how much."""

from collections.abc import Iterator

from clampgraph.assembly import Assembly
from clampgraph.diagnosis.fault_tree import FaultTree
from clampgraph.errors import UnknownNameError
from clampgraph.tables.columns import Column, Row
from clampgraph.tables.facts import Facts, Scope

__all__ = ["CAVEATS", "CUT_COLUMNS", "IMPORTANCE_COLUMNS", "cut_rows", "importance_rows"]

_TOP = (
    Column("assembly", "Assembly", "Identifier of the assembly.", key=True),
    Column("top_event", "Top event", "Identifier of the symptom.", key=True),
    Column("label", "What shows", "The symptom in words."),
)

CUT_COLUMNS = (
    *_TOP,
    Column("top_probability", "P(top)", "Exact probability of the top event, its leak included.", "number"),
    Column("order", "Order", "How many causes the set has.", "integer"),
    Column("events", "Minimal cut set", "Causes that together bring the top event about.", "list", key=True),
    Column("alone", "P(top | set)", "Probability of the top event when exactly these causes are present.", "number"),
    Column("probability", "P(set and top)", "The same times the prior probabilities of the causes.", "number"),
)

IMPORTANCE_COLUMNS = (
    *_TOP,
    Column("event", "Cause", "A condition, or a failure mode that begins by itself.", key=True),
    Column("prior", "Prior", "Probability of the cause over the exposure.", "number"),
    Column("birnbaum", "Birnbaum", "P(top) with the cause minus P(top) without it.", "number"),
    Column("fussell_vesely", "Fussell-Vesely", "Share of P(top) that goes when the cause cannot occur.", "number"),
    Column("raw", "RAW", "Risk achievement worth: P(top) with the cause, over P(top).", "number"),
    Column(
        "rrw",
        "RRW",
        "Risk reduction worth: P(top) over P(top) without the cause; no value where it is unbounded.",
        "number",
    ),
)

CAVEATS = (
    "Cut sets are those of the structure function: every link holds. Probabilities heed every strength and are exact.",
    "A failure mode stands for its beginning by itself; a condition that promotes it is a cause of its own.",
    "Prior probabilities are those of items of the assembly's default age.",
)


def _trees(facts: Facts, scope: Scope) -> Iterator[tuple[Assembly, FaultTree]]:
    known = facts.knowledge.symptoms
    if scope.symptom is not None and scope.symptom not in known:
        raise UnknownNameError("symptom", scope.symptom, facts.nearest(scope.symptom, known))
    for assembly in facts.assemblies(scope):
        for symptom in sorted(node.symptom or "" for node in facts.loaded.network(assembly).of_kind("symptom")):
            if scope.symptom in (None, symptom):
                yield assembly, facts.tree(assembly, f"symptom/{symptom}", scope.order)


def cut_rows(facts: Facts, scope: Scope) -> Iterator[Row]:
    """Give one row for each minimal cut set up to the order asked for."""
    for assembly, tree in _trees(facts, scope):
        symptom = facts.knowledge.symptoms[tree.top.partition("/")[2]]
        for cut in tree.cut_sets:
            yield Row(
                (
                    assembly.id, symptom.id, symptom.label, tree.probability,
                    len(cut.events), cut.events, cut.alone, cut.probability,
                ),
                facts.told_by(*facts.iris_of(assembly, cut.events)),
                (symptom.iri, *facts.iris_of(assembly, cut.events)),
                (assembly.id, assembly.generation.id),
                (*cut.events, tree.top),
            )  # fmt: skip


def importance_rows(facts: Facts, scope: Scope) -> Iterator[Row]:
    """Give one row for each cause of each top event, what matters most first."""
    for assembly, tree in _trees(facts, scope):
        symptom = facts.knowledge.symptoms[tree.top.partition("/")[2]]
        for cause in tree.importance:
            iris = facts.iris_of(assembly, (cause.event,))
            yield Row(
                (
                    assembly.id, symptom.id, symptom.label, cause.event, cause.prior,
                    cause.birnbaum, cause.fussell_vesely, cause.raw, cause.rrw,
                ),
                facts.told_by(*iris),
                (symptom.iri, *iris),
                (assembly.id, assembly.generation.id),
                (cause.event, tree.top),
            )  # fmt: skip
