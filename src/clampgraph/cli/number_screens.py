"""What a person reads of figures."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rich.console import Group, RenderableType
from rich.text import Text

from clampgraph.cli.screens import table

if TYPE_CHECKING:  # as in screens: the models of other answers need not be loaded
    from clampgraph.answers.calculate import CalculationAnswer, CalculationsAnswer, FigureOut
    from clampgraph.answers.models import Value
    from clampgraph.answers.stroke.agreement import AgreementAnswer
    from clampgraph.answers.stroke.simulate import SimulationAnswer

__all__ = ["agreement", "calculation", "calculations", "simulation"]


def _figure(figure: FigureOut | Value) -> str:
    shown = f"{figure.value:.4g}" if isinstance(figure.value, float) else str(figure.value)
    return f"{shown} {figure.unit}".rstrip()


def calculations(answer: CalculationsAnswer) -> RenderableType:
    """List the calculations with their inputs; those in brackets may be left out."""
    rows = table("Calculation", "What it gives", "Inputs")
    for c in answer.calculations:
        inputs = [f"[{i.name}]" if i.optional or i.default is not None else i.name for i in c.inputs]
        rows.add_row(c.name, c.title, Text(", ".join(inputs)))
    return rows


def calculation(answer: CalculationAnswer) -> RenderableType:
    """Lay out results first, then inputs, source, validity and warnings."""
    rows = table("", "")
    for name, figure in answer.results.items():
        rows.add_row(Text(name, "bold"), Text(_figure(figure), "bold"))
    for name, figure in answer.inputs.items():
        rows.add_row(Text(f"from {name}", "dim"), Text(_figure(figure), "dim"))
    notes = [f"Note: {warning}" for warning in answer.warnings]
    return Group(Text(answer.title, "bold"), rows, *notes, f"Valid: {answer.validity}", f"Source: {answer.source}")


def simulation(answer: SimulationAnswer) -> RenderableType:
    """Lay out what shows, beside the healthy stroke where faults are injected."""
    head = Text.assemble((f"{answer.assembly} ", "bold"), answer.generation)
    faults = [f"{f.position}: {f.label}" + (f" ({f.note})" if f.note else "") for f in answer.faults]
    rows = table("What shows", *(["With the fault", "Healthy"] if answer.faults else ["Value"]))
    for name in dict.fromkeys([*answer.results, *answer.healthy]):
        cells = [answer.results.get(name)] + ([answer.healthy.get(name)] if answer.faults else [])
        rows.add_row(name.replace("_", " "), *("never" if c is None else _figure(c) for c in cells))
    books = "; ".join(f"{b.name} closes to {b.error:.1e}" for b in answer.conservation)
    notes = [f"Note: {warning}" for warning in answer.warnings]
    return Group(head, *faults, "", rows, "", *notes, books, f"Valid: {answer.validity}", f"Source: {answer.source}")


def agreement(answer: AgreementAnswer) -> RenderableType:
    """Lay out where physics and graph differ; agreement is counted."""
    rows = table("Fault", "Shows as", "Verdict", "Reason")
    for r in answer.rows:
        if r.verdict != "agrees":
            rows.add_row(
                f"{r.position}:{r.failure_mode}", r.showing, r.verdict, r.reason or Text("none given", "bold red")
            )
    head = (
        f"{answer.assembly} {answer.generation}: {answer.agreed} agree, {answer.explained} differ with a reason, "
        f"{answer.unexplained} differ without one, {len(answer.unsimulated)} modes have no physical meaning here"
    )
    return Group(Text(head, "bold"), rows, "")
