"""Every table by name: what it is called, which question it answers, and how it is built."""

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from difflib import get_close_matches

from clampgraph.errors import UnknownNameError
from clampgraph.tables import (
    checking,
    failures,
    interfaces,
    parts,
    standards,
    swapping,
    symptoms,
    trees,
    variants,
)
from clampgraph.tables.columns import Column, Row, Table
from clampgraph.tables.facts import Facts, Scope

__all__ = ["TABLES", "TableSpec", "build"]


@dataclass(frozen=True, slots=True)
class TableSpec:
    """A table that can be asked for; `options` names the fields of a `Scope` that it heeds beside the assembly."""

    name: str
    title: str
    question: str
    columns: Callable[[Facts, Scope], tuple[Column, ...]]
    rows: Callable[[Facts, Scope], Iterable[Row]]
    caveats: Callable[[Scope], tuple[str, ...]]
    options: tuple[str, ...] = ()


def _fixed(columns: tuple[Column, ...]) -> Callable[[Facts, Scope], tuple[Column, ...]]:
    return lambda _facts, _scope: columns


def _always(*caveats: str) -> Callable[[Scope], tuple[str, ...]]:
    return lambda _scope: caveats


def _failure_columns(_facts: Facts, scope: Scope) -> tuple[Column, ...]:
    return (*failures.COLUMNS, *failures.PRIORITY) if scope.priority else failures.COLUMNS


def _failure_caveats(scope: Scope) -> tuple[str, ...]:
    return (*failures.CAVEATS, *failures.PRIORITY_CAVEATS) if scope.priority else failures.CAVEATS


def _symptom_columns(facts: Facts, scope: Scope) -> tuple[Column, ...]:
    return symptoms.COMPACT_COLUMNS if scope.compact else symptoms.matrix_columns(facts, scope)


def _symptom_rows(facts: Facts, scope: Scope) -> Iterable[Row]:
    return symptoms.compact_rows(facts, scope) if scope.compact else symptoms.matrix_rows(facts, scope)


def _tree_caveats(scope: Scope) -> tuple[str, ...]:
    left_out = (
        f"Sets of more than {scope.order} causes are left out." if scope.order > 1 else "Only single causes are listed."
    )
    return (left_out, *trees.CAVEATS)


_SPECS = (
    TableSpec(
        "where-used", "Where used", "In which assemblies, generations and positions is this item fitted?",
        _fixed(parts.WHERE_USED_COLUMNS), parts.where_used_rows, _always(*parts.WHERE_USED_CAVEATS), ("generation",),
    ),
    TableSpec(
        "interchange-and-supersession", "Interchange and supersession",
        "What replaces this item, and what does it replace?",
        _fixed(parts.INTERCHANGE_COLUMNS), parts.interchange_rows, _always(), ("generation",),
    ),
    TableSpec(
        "kit-contents", "Kit contents", "What does this kit, group or exchange unit hold, and what does it save?",
        _fixed(parts.KIT_COLUMNS), parts.kit_rows, _always(*parts.KIT_CAVEATS), ("generation",),
    ),
    TableSpec(
        "swap-with", "Swap with", "What else must, should or might be renewed with this position?",
        _fixed(swapping.COLUMNS), swapping.rows, _always(*swapping.CAVEATS), ("generation",),
    ),
    TableSpec(
        "symptom-by-cause", "Symptom by cause", "Which causes can bring this symptom about, and how surely?",
        _symptom_columns, _symptom_rows, _always(*symptoms.CAVEATS), ("generation", "compact"),
    ),
    TableSpec(
        "checks-with-limits", "Checks with limits", "How is this checked, what does it tell, and which values pass?",
        _fixed(checking.CHECK_COLUMNS), checking.check_rows, _always(*checking.CHECK_CAVEATS), ("generation",),
    ),
    TableSpec(
        "variants-side-by-side", "Variants side by side", "In what do the generations or assemblies differ?",
        variants.columns, variants.rows, _always(), ("generation", "differing"),
    ),
    TableSpec(
        "seals-and-threads", "Seals and threads", "Which seals, threads, ports and rings does each fitted item have?",
        _fixed(interfaces.COLUMNS), interfaces.rows, _always(*interfaces.CAVEATS), ("generation",),
    ),
    TableSpec(
        "standards-used", "Standards used", "On which standards and other sources do the data rest?",
        _fixed(standards.COLUMNS), standards.rows, _always(*standards.CAVEATS), ("generation",),
    ),
    TableSpec(
        "failure-modes-and-effects", "Failure modes and effects (IEC 60812)",
        "How can each item fail, what follows from it, how is it detected, and what ends it?",
        _failure_columns, failures.rows, _failure_caveats, ("generation", "priority"),
    ),
    TableSpec(
        "cut-sets", "Minimal cut sets (IEC 61025)", "Which smallest sets of causes bring each symptom about?",
        _fixed(trees.CUT_COLUMNS), trees.cut_rows, _tree_caveats, ("generation", "symptom", "order"),
    ),
    TableSpec(
        "importance", "Importance of causes (IEC 61025)", "How much does each cause matter for each symptom?",
        _fixed(trees.IMPORTANCE_COLUMNS), trees.importance_rows, _always(*trees.CAVEATS[1:]), ("generation", "symptom"),
    ),
    TableSpec(
        "cautions", "Cautions", "What can hurt whoever works on this assembly?",
        _fixed(checking.CAUTION_COLUMNS), checking.caution_rows, _always(), ("generation",),
    ),
)  # fmt: skip

TABLES: Mapping[str, TableSpec] = {spec.name: spec for spec in _SPECS}
"""Every table, in the order of a service manual: parts, symptoms, checks, variants, failures, cautions."""


def build(facts: Facts, name: str, scope: Scope | None = None, counted: Callable[[int], None] | None = None) -> Table:
    """Build a table.

    Parameters
    ----------
    facts
        The loaded packs.
    name
        Name of the table.
    scope
        The assembly it is about, and options; all assemblies where none is named.
    counted
        Told how many rows are there, after each of them.

    Raises
    ------
    UnknownNameError
        If there is no table, assembly, generation or symptom of that name; names the nearest.
    """
    spec = TABLES.get(name)
    if spec is None:
        raise UnknownNameError("table", name, get_close_matches(name, TABLES, 3, 0.2))
    wanted = scope or Scope()
    about = "" if wanted.assembly is None else _about(facts, wanted)
    rows = spec.rows(facts, wanted) if counted is None else _told(spec.rows(facts, wanted), counted)
    table = Table(
        name, spec.title, spec.question, spec.columns(facts, wanted), tuple(rows),
        about, facts.edition, spec.caveats(wanted),
    )  # fmt: skip
    return replace(table.without("assembly")) if about and name in _ONE_ASSEMBLY else table


def _told(rows: Iterable[Row], counted: Callable[[int], None]) -> Iterator[Row]:
    for number, row in enumerate(rows, 1):
        yield row
        counted(number)


_ONE_ASSEMBLY = frozenset(
    {
        "symptom-by-cause",
        "checks-with-limits",
        "seals-and-threads",
        "failure-modes-and-effects",
        "cut-sets",
        "importance",
        "cautions",
    }
)
"""Tables whose column of assemblies says nothing once there is only one."""


def _about(facts: Facts, scope: Scope) -> str:
    assembly = next(facts.assemblies(scope))
    return assembly.label if scope.generation is None else f"{assembly.label}, {assembly.generation.label}"
