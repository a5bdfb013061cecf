"""Which symptom points to which cause, and how strongly: as a matrix, or as a list for narrow pages."""

from collections.abc import Iterator, Mapping

from clampgraph.assembly import Assembly
from clampgraph.tables.columns import Column, Row
from clampgraph.tables.facts import Facts, Scope

__all__ = ["CAVEATS", "COMPACT_COLUMNS", "compact_rows", "matrix_columns", "matrix_rows"]

_CAUSE = (
    Column("position", "Position", "Identifier of the position; empty for a condition of the plant.", key=True),
    Column("cause", "Cause", "Identifier of the failure mode or condition.", key=True),
    Column("label", "What is wrong", "The cause in words."),
)
_ASSEMBLY = Column("assembly", "Assembly", "Identifier of the assembly.", key=True)

COMPACT_COLUMNS = (
    _ASSEMBLY,
    Column("symptom", "Symptom", "Identifier of the symptom.", key=True),
    Column("symptom_label", "What shows", "The symptom in words."),
    *_CAUSE,
    Column(
        "strength", "Strength", "Probability that the symptom shows when this is the only cause.", "number", digits=2
    ),
)

CAVEATS = (
    "A strength is the probability that the symptom shows when the cause is the only one present.",
    "It is not the probability of the cause: that depends on rates, ages and what else was found.",
    "An empty cell means that the cause alone cannot bring the symptom about.",
)


def _strengths(facts: Facts, assembly: Assembly) -> Mapping[str, Mapping[str, float]]:
    """Return the strength of every cause on every symptom of an assembly, by symptom and node of the cause."""
    symptoms = (node.symptom or "" for node in facts.loaded.network(assembly).of_kind("symptom"))
    trees = {symptom: facts.tree(assembly, f"symptom/{symptom}", 1) for symptom in sorted(symptoms)}
    return {symptom: {cut.events[0]: cut.alone for cut in tree.cut_sets} for symptom, tree in trees.items()}


def matrix_columns(facts: Facts, scope: Scope) -> tuple[Column, ...]:
    """Return the columns of the matrix: the cause, then one column for each symptom that can show."""
    present = {
        node.symptom
        for assembly in facts.assemblies(scope)
        for node in facts.loaded.network(assembly).of_kind("symptom")
    }
    shown = [symptom for symptom in facts.knowledge.symptoms.values() if symptom.id in present]
    strength = "Probability that the symptom shows when the cause is the only one present."
    return (_ASSEMBLY, *_CAUSE, *(Column(s.id, s.label, strength, "number", digits=2) for s in shown))


def matrix_rows(facts: Facts, scope: Scope) -> Iterator[Row]:
    """Give one row for each cause, one cell for each symptom."""
    shown = [column.name for column in matrix_columns(facts, scope)[1 + len(_CAUSE) :]]
    for assembly in facts.assemblies(scope):
        strengths = _strengths(facts, assembly)
        for cause in sorted({node for found in strengths.values() for node in found}, key=_order):
            iris = facts.iris_of(assembly, (cause,))
            cells = tuple(strengths.get(symptom, {}).get(cause) for symptom in shown)
            yield Row(
                (assembly.id, *facts.cause(assembly, cause), *cells),
                facts.told_by(*iris),
                iris,
                (assembly.id, assembly.generation.id),
                (cause,),
            )


def compact_rows(facts: Facts, scope: Scope) -> Iterator[Row]:
    """Give one row for each pair of a symptom and a cause, the strongest first."""
    for assembly in facts.assemblies(scope):
        for name, found in _strengths(facts, assembly).items():
            symptom = facts.knowledge.symptoms[name]
            for cause, strength in sorted(found.items(), key=lambda f: (-f[1], _order(f[0]))):
                iris = facts.iris_of(assembly, (cause,))
                yield Row(
                    (assembly.id, name, symptom.label, *facts.cause(assembly, cause), strength),
                    facts.told_by(*iris),
                    (symptom.iri, *iris),
                    (assembly.id, assembly.generation.id),
                    (cause, f"symptom/{name}"),
                )


def _order(node: str) -> tuple[bool, str]:
    """Failure modes first, conditions of the plant last."""
    return node.startswith("condition/"), node
