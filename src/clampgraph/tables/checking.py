"""Checks with their limits, and the cautions that stand before any of them."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from clampgraph.assembly import Assembly
from clampgraph.assembly.knowledge import Caution, Check, Outcome
from clampgraph.diagnosis.network import Node
from clampgraph.replacement.facts import Acceptance, Feature, Verification
from clampgraph.tables.columns import Cell, Column, Row
from clampgraph.tables.facts import Facts, Scope
from clampgraph.tables.reach import strongest_paths

__all__ = ["CAUTION_COLUMNS", "CHECK_CAVEATS", "CHECK_COLUMNS", "caution_rows", "check_rows"]

CHECK_COLUMNS = (
    Column("assembly", "Assembly", "Identifier of the assembly.", key=True),
    Column(
        "check",
        "Check",
        "Identifier of the check or verification, with its position where it is made at several.",
        key=True,
    ),
    Column("label", "What to do", "The check in words."),
    Column("how", "How", "How to take the reading."),
    Column("outcome", "Outcome", "Identifier of an abnormal outcome.", key=True),
    Column("meaning", "Reads", "The outcome in words."),
    Column("tells_of", "Tells of", "Failure modes and conditions that give this outcome, the surest first.", "list"),
    Column("minimum", "At least", "Least value that passes.", "number"),
    Column("maximum", "At most", "Greatest value that passes.", "number"),
    Column("unit", "Unit", "Unit of both limits."),
    Column("limit_from", "Limits from", "Where the limits stand."),
    Column("false_alarm", "False alarm", "Probability of the outcome although nothing is wrong.", "number"),
    Column("minutes", "Time", "Working time.", "number", "min"),
    Column("tools", "Tools", "What has to be at hand.", "list"),
    Column("lockout", "Lock-out", "Whether power and air must be locked out first.", "boolean"),
)

CHECK_CAVEATS = (
    "Behind a cause stands the probability that the check shows it when it is the only one, by the strongest path.",
    "Causes below 0.1 are left out.",
    "Limits from the machine's papers hold for that machine; a plausibility band only tells a reading from a blunder.",
)

CAUTION_COLUMNS = (
    Column("assembly", "Assembly", "Identifier of the assembly.", key=True),
    Column("caution", "Caution", "Identifier of the caution.", key=True),
    Column("text", "Warning", "What can hurt, and what to do against it."),
    Column(
        "because",
        "Applies because of",
        "Medium or positions that call for it; always where it never may be left out.",
        "list",
    ),
)

_WORTH_TELLING = 0.1


@dataclass(frozen=True)
class _Limits:
    """The verifications of one assembly by the check that takes their reading."""

    assembly: Assembly
    by_check: Mapping[str, Verification]

    def of(self, check: str) -> Acceptance | None:
        """Return the acceptance from the machine's papers, else the plausibility band, if there is one."""
        return _accepted(self.by_check[check], self.assembly) if check in self.by_check else None


def _accepted(verification: Verification, assembly: Assembly) -> Acceptance | None:
    own = [a for a in verification.acceptances if a.assembly == assembly.id]
    general = [a for a in verification.acceptances if a.assembly is None]
    return next(iter([*own, *general]), None)


def check_rows(facts: Facts, scope: Scope) -> Iterator[Row]:
    """Give one row for each abnormal outcome of each check, then one for each verification that is no check."""
    for assembly in facts.assemblies(scope):
        network = facts.loaded.network(assembly)
        causes = [node.id for kind in ("condition", "failure-mode") for node in network.of_kind(kind)]
        shows = strongest_paths(network, causes)
        verifications = facts.catalogue.verifications
        limits = _Limits(assembly, {v.check: v for v in verifications if v.check is not None})
        for node in sorted(network.of_kind("check"), key=lambda n: n.id):
            yield _check_row(facts, limits, node, shows[node.id])
        types = {kind for position in assembly.positions.values() for kind in position.type.lineage}
        for verification in verifications:
            if verification.check is None and (not verification.types or verification.types & types):
                yield _verification_row(facts, assembly, verification)


def _check_row(facts: Facts, limits: _Limits, node: Node, causes: Mapping[str, float]) -> Row:
    name, _, place = (node.check or "").partition("@")
    check = facts.knowledge.checks[name]
    outcome = next(o for o in check.outcomes if o.id == node.id.rpartition("/")[2])
    accepted = limits.of(name)
    told = sorted(causes.items(), key=lambda c: (-c[1], c[0]))
    assembly = limits.assembly
    return Row(
        (
            assembly.id, node.check, f"{check.label} ({place})" if place else check.label, check.how or None,
            outcome.id, outcome.label,
            tuple(f"{cause.removeprefix('condition/')} ({s:.2g})" for cause, s in told if s >= _WORTH_TELLING),
            *_limit_cells(accepted),
            outcome.false_alarm, check.minutes, check.tools, check.lockout,
        ),
        facts.told_by(check.iri, *_claims(check, outcome, accepted)),
        (check.iri, f"{check.iri}.{outcome.id}", *_claims(check, outcome, accepted)),
        (assembly.id, assembly.generation.id),
        (node.id,),
    )  # fmt: skip


def _claims(check: Check, outcome: Outcome, accepted: Acceptance | None) -> tuple[str, ...]:
    indications = tuple(i.claim for o in check.outcomes if o.id == outcome.id for i in o.indications)
    return indications if accepted is None else (*indications, accepted.claim)


def _limit_cells(accepted: Acceptance | None) -> tuple[Cell, Cell, Cell, Cell]:
    if accepted is None:
        return None, None, None, None
    bounds = [bound for bound in (accepted.minimum, accepted.maximum) if bound is not None]
    unit = next((bound.unit for bound in bounds if bound.unit), None)
    return _number(accepted.minimum), _number(accepted.maximum), unit, accepted.label


def _number(bound: Feature | None) -> Cell:
    return None if bound is None else bound.value


def _verification_row(facts: Facts, assembly: Assembly, verification: Verification) -> Row:
    accepted = _accepted(verification, assembly)
    claims = () if accepted is None else (accepted.claim,)
    return Row(
        (
            assembly.id, verification.id, verification.label, verification.how or None, "outside-limits",
            "outside the limits", (), *_limit_cells(accepted), None, verification.minutes, verification.tools, None,
        ),
        facts.told_by(*claims),
        claims,
    )  # fmt: skip


def caution_rows(facts: Facts, scope: Scope) -> Iterator[Row]:
    """Give one row for each caution that applies to an assembly, in the order of the pack."""
    for assembly in facts.assemblies(scope):
        for caution in facts.knowledge.cautions:
            reasons = _reasons(facts, assembly, caution)
            if reasons:
                source = facts.word(caution.source)
                yield Row((assembly.id, caution.id, caution.text, reasons), (source,), facts.caution_iris(caution.id))


def _reasons(facts: Facts, assembly: Assembly, caution: Caution) -> tuple[str, ...]:
    if caution.always:
        return ("always",)
    media = {port.medium for position in assembly.positions.values() for port in position.type.ports.values()}
    if caution.medium in media:
        return (facts.word(caution.medium or ""),)
    return tuple(p.id for p in assembly.positions.values() if caution.type in p.type.lineage)
