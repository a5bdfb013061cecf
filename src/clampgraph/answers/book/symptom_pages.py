"""A page for each symptom: its likely causes, how they lead to it, and the checks that settle it, with limits."""

from collections.abc import Iterator, Mapping, Sequence
from html import escape

from clampgraph.answers.book.markup import Page, bullets, figure, grid, link, paragraph, section
from clampgraph.answers.diagnosing.diagnose import diagnose
from clampgraph.answers.diagnosing.diagnosis import CauseOut, DiagnoseRequest, DiagnosisAnswer, OutcomeOut
from clampgraph.answers.draw import InfluenceRequest, draw_influence
from clampgraph.answers.library import Library
from clampgraph.answers.models import parse
from clampgraph.answers.symptoms import SymptomOut
from clampgraph.assembly import Assembly
from clampgraph.tables import Table
from clampgraph.tables.columns import cell_text

__all__ = ["symptom_page"]

CAUSES, DRAWN, CHECKS = 10, 3, 8
"""How many causes, drawings of causes and checks a page holds; what is left out is counted."""


def symptom_page(
    library: Library, assembly: Assembly, symptom: SymptomOut, limits: Table
) -> tuple[Page, frozenset[str]]:
    """Write the page of a symptom; return it with the positions that it names as causes.

    Parameters
    ----------
    library
        What is loaded.
    assembly
        The generation that the book is about.
    symptom
        What shows, and what else it is called.
    limits
        The table of checks with limits of the same assembly.
    """
    unit = {"assembly": assembly.id, "generation": assembly.generation.id}
    answer = diagnose(library, parse(DiagnoseRequest, {**unit, "seen": [symptom.id], "all": True}))
    causes = [cause for cause in answer.causes if cause.explains]
    told = causes[:CAUSES]
    called = f"Also called: {', '.join(symptom.alternatives)}." if symptom.alternatives else ""
    body = [
        f'<p class="warning">Read the {link("cautions", "cautions")} first: lock out before anything is opened.</p>',
        paragraph(f"Identifier: {symptom.id}. {called}".strip()),
        section("causes", "Likely causes", _causes(told), paragraph(_left(answer, len(causes)), "about")),
        section("influence", "How they lead to it", *_pictures(library, assembly, symptom, told)),
        section("checks", "Checks, the most telling first", _checks(answer, _limits(limits))),
    ]
    return Page(f"symptom-{symptom.id}", symptom.label, "\n".join(body)), frozenset(c.position for c in told)


def _causes(causes: Sequence[CauseOut]) -> str:
    rows = [
        (
            link("parts", cause.position, f"position-{cause.position}"),
            escape(cause.label),
            f"{100.0 * cause.probability:.3g} %",
            "; ".join(escape(f"{r.label} ({r.time.value:g} {r.time.unit})") for r in cause.remedies),
            ", ".join(sorted({escape(r.item) for r in cause.remedies if r.item})),
        )
        for cause in causes
    ]
    head = ("Position", "What fails", "Probability", "Remedy", "Part")
    return grid("likely", "Causes when only this is seen", head, rows)


def _left(answer: DiagnosisAnswer, found: int) -> str:
    rest = f"{found - CAUSES} less probable causes are left out. " if found > CAUSES else ""
    return f"{rest}Probability that nothing described here explains it: {100.0 * answer.unexplained:.2g} %."


def _pictures(library: Library, assembly: Assembly, symptom: SymptomOut, causes: Sequence[CauseOut]) -> Iterator[str]:
    for number, cause in enumerate(causes[:DRAWN], 1):
        named = f"{cause.position}:{cause.failure_mode}"
        question = InfluenceRequest(
            assembly=assembly.id, generation=assembly.generation.id, cause=named, symptom=symptom.id
        )
        svg = draw_influence(library, question, f"influence-{number}")
        yield figure(svg, f"From {cause.position}, {cause.label}, to: {symptom.label}")
    if not causes:
        yield paragraph("No cause in this unit leads to it.")


def _limits(table: Table) -> Mapping[str, str]:
    """Return what passes, in words, by check."""
    names = [column.name for column in table.columns]
    found = {}
    for row in table.rows:
        cells = dict(zip(names, row.cells, strict=True))
        low, high, unit = cells["minimum"], cells["maximum"], cells["unit"] or ""
        ends = (("at least", low), ("at most", high))
        bounds = [f"{word} {cell_text(bound)} {unit}".strip() for word, bound in ends if bound is not None]
        if bounds:
            found[str(cells["check"])] = f"{', '.join(bounds)} ({cells['limit_from']})"
    return found


def _checks(answer: DiagnosisAnswer, limits: Mapping[str, str]) -> str:
    checks = answer.next_checks
    named = {cause.node: f"{cause.position}, {cause.label}" for cause in answer.causes}
    if not checks:
        return paragraph("No check tells more than the symptom itself.")
    rows = [
        (
            escape(check.label),
            escape(check.how),
            f"{check.minutes:g} min{', lock out first' if check.lockout else ''}",
            escape(limits.get(check.check, "–")),  # noqa: RUF001  # an en dash stands for an empty cell
            bullets(escape(_outcome(outcome, named)) for outcome in check.outcomes),
        )
        for check in checks[:CHECKS]
    ]
    return grid("tell", "What to check next", ("Check", "How", "Time", "Passes", "Then the likeliest cause is"), rows)


def _outcome(outcome: OutcomeOut, named: Mapping[str, str]) -> str:
    if outcome.leading_cause is None:
        return outcome.label
    cause = named.get(outcome.leading_cause, outcome.leading_cause)
    return f"{outcome.label}: {cause} ({100.0 * (outcome.leading_probability or 0.0):.2g} %)"
