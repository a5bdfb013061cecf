"""What a person reads: tables that can be read at arm's length."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rich.console import Console, Group, RenderableType
from rich.panel import Panel
from rich.table import Table
from rich.text import Text

if TYPE_CHECKING:  # a screen shows one answer: the models of all others need not be loaded
    from collections.abc import Iterable

    from clampgraph.answers.assemblies import AssembliesAnswer, ShowAnswer
    from clampgraph.answers.diagnosing.diagnosis import CauseOut, DiagnosisAnswer, NextCheckOut
    from clampgraph.answers.identifying.identify import IdentifyAnswer
    from clampgraph.answers.models import CautionOut
    from clampgraph.answers.query import QueriesAnswer
    from clampgraph.answers.stroke.agreement import AgreementAnswer
    from clampgraph.answers.symptoms import SymptomsAnswer
    from clampgraph.answers.table import TablesAnswer
    from clampgraph.answers.validate import ValidationAnswer

__all__ = ["assemblies", "diagnosis", "findings", "identification", "queries", "show", "symptoms", "table", "tables"]

BAR = 12
CHECKS_SHOWN = 5


def table(*columns: str) -> Table:
    """Return an empty table in the style of all screens."""
    empty = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0))
    for column in columns:
        empty.add_column(column, header_style="bold", overflow="fold")
    return empty


def _bar(chance: float) -> str:
    return "█" * round(chance * BAR) or "▏"


def _percent(chance: float) -> str:
    return f"{chance:.1%}" if chance < 0.0995 else f"{chance:.0%}"


def assemblies(answer: AssembliesAnswer) -> RenderableType:
    """List one assembly on each line."""
    rows = table("Assembly", "What it is", "Taper", "Actuator", "Generations")
    for a in answer.assemblies:
        rows.add_row(a.id, a.label, a.taper, a.actuator, ", ".join(g.id for g in a.generations))
    return rows


def show(answer: ShowAnswer) -> RenderableType:
    """Lay out positions with their designations and items."""
    head = Text.assemble(
        (answer.id, "bold"), f"  {answer.label}, {answer.generation}\n",
        f"{answer.taper}; {answer.actuator}; {answer.drive}\n",
        f"{len(answer.positions)} positions; derived network: {answer.network.nodes} nodes, "
        f"{answer.network.links} links, width {answer.network.width}",
    )  # fmt: skip
    rows = table("Position", "Designation", "What it is", "Fitted item", "Price")
    for p in answer.positions:
        first = p.items[0] if p.items else None
        price = f"{first.price.value:.2f} {first.price.unit}" if first and first.price else ""
        rows.add_row(p.id, p.designation, p.label, f"{first.mpn}  {first.label}" if first else "", price)
    return Group(head, "", rows)


def symptoms(answer: SymptomsAnswer) -> RenderableType:
    """List symptoms with what else they are called."""
    rows = table("Symptom", "Called", "Match")
    for s in answer.symptoms:
        called = "; ".join([s.label, *s.alternatives])
        rows.add_row(s.id, called, "" if s.score is None else f"{s.score:.0f}")
    return rows


def queries(answer: QueriesAnswer) -> RenderableType:
    """List the named queries with what they ask and need."""
    rows = table("Query", "What it asks", "Needs")
    for q in answer.queries:
        rows.add_row(q.name, q.question, ", ".join(q.bindings))
    return rows


def _causes(causes: Iterable[CauseOut]) -> Table:
    rows = table("Position", "What fails, and how it gets there", "Probability")
    for c in causes:
        text = Text(c.label)
        text.append(f"  [{c.designation}]", "dim")
        if c.figure.cases:
            text.append(f"  learned from {c.figure.cases} case{'' if c.figure.cases == 1 else 's'}", "dim")
        if c.paths:
            text.append(f"\n{c.paths[0].summary}", "dim")
        rows.add_row(Text(c.position, "bold"), text, f"{_percent(c.probability):>5} {_bar(c.probability)}")
    return rows


def _checks(checks: Iterable[NextCheckOut]) -> Table:
    rows = table("Next check", "Minutes", "Brings", "Then")
    for check in checks:
        locked = " + lock-out" if check.lockout else ""
        telling = [o for o in check.outcomes if o.leading_cause]
        then = "; ".join(f"{o.outcome}: {o.leading_cause}" for o in telling)
        brings = f"{check.gain:.2f} bit"
        if check.worthwhile:
            brings += f", saves {check.saving.value:.0f} min"
        rows.add_row(
            Text(f"{check.check}\n", "bold") + Text(check.label, "not bold dim"),
            f"{check.minutes:g}{locked}",
            brings,
            Text(then, "dim"),
        )
    return rows


def cautions(found: Iterable[CautionOut]) -> RenderableType:
    """Put the cautions that apply in a box."""
    told = Text("\n".join(f"! {c.text}" for c in found))
    return Panel(told, title=Text("Cautions"), title_align="left", border_style="red")


def diagnosis(answer: DiagnosisAnswer, *, everything: bool = False) -> RenderableType:
    """Lay out causes, what lies behind them, the next checks, the plan, and the cautions."""
    parts: list[RenderableType] = [
        Text.assemble((f"{answer.assembly} ", "bold"), answer.generation, "  ", _found(answer)),
        "",
    ]
    parts.append(_causes(answer.causes if everything else answer.causes[:8]))
    if answer.unexplained > 0.0:
        parts += ["", f"Nothing in the model explains it: {_percent(answer.unexplained)}"]
    behind = [c for c in answer.root_conditions if c.raised]
    if behind:
        parts += ["", Text("Behind it", "bold")]
        parts += [
            f"  {c.label}: {_percent(c.probability)} (before: {_percent(c.prior)}). {c.advice}" for c in behind[:2]
        ]
    if answer.next_checks:
        parts += ["", _checks(answer.next_checks[:CHECKS_SHOWN])]
    if answer.plan:
        parts += ["", Text("Plan", "bold")]
        parts += [f"  {s.step}. {s.action}: {s.text} ({s.time.value:.0f} min)" for s in answer.plan]
    parts += [f"Note: {warning}" for warning in answer.warnings]
    return Group(*parts, "", cautions(answer.cautions))


def identification(answer: IdentifyAnswer) -> RenderableType:
    """Lay out the candidates, what to look at next, and the cautions."""
    rows = table("Unit", "What it is", "Probability", "Against it")
    for c in answer.candidates:
        against = ", ".join(c.contradicted_by)
        rows.add_row(
            f"{c.assembly} {c.generation}", c.label, f"{_percent(c.probability):>5} {_bar(c.probability)}", against
        )
    parts: list[RenderableType] = [rows, f"None of the described units: {_percent(answer.undescribed)}"]
    if answer.next_feature is not None:
        f = answer.next_feature
        locked = " after lock-out" if f.lockout else ""
        values = "; ".join(f"{v.value}: {v.label}" if v.label != v.value else v.value for v in f.values)
        parts += ["", Text.assemble(("Look next: ", "bold"), f"{f.question} ({f.key}, {f.minutes:g} min{locked})")]
        parts += [f"  {f.how}", Text(f"  {values}", "dim")]
    return Group(*parts, "", cautions(answer.cautions))


def tables(answer: TablesAnswer) -> RenderableType:
    """List the tables with the questions they answer."""
    rows = table("Table", "What it answers")
    for t in answer.tables:
        rows.add_row(t.name, t.question)
    return Group(rows, f"Formats: {', '.join(answer.formats)}")


def findings(answer: ValidationAnswer) -> RenderableType:
    """List what is to be corrected, with place and hint."""
    compared = [_agreement(a) for a in answer.agreement]
    if not answer.findings:
        return Group("Sound: nothing to correct.", *compared)
    rows = table("Where", "What, and what to write instead")
    for f in answer.findings:
        text = Text(f"{f.severity}: ", "bold red" if f.severity == "error" else "bold yellow") + Text(f.message, "none")
        if f.hint:
            text.append(f"\n{f.hint}", "dim")
        rows.add_row(f"{f.pack}:{f.line}" if f.line else f.pack, text)
    return Group(rows, *compared)


def _agreement(answer: AgreementAnswer) -> RenderableType:
    from clampgraph.cli.number_screens import agreement  # that module draws on this one

    return agreement(answer)


def _found(answer: DiagnosisAnswer) -> str:
    found = [f"seen {s}" for s in answer.seen] + [f"not seen {s}" for s in answer.unseen]
    found += [f"{check} = {outcome}" for check, outcome in answer.readings.items()]
    return ", ".join(found) or "nothing found yet"


def console() -> Console:
    """Return standard output, as wide as the terminal and never narrower than a page."""
    wide = Console(highlight=False, emoji=False)  # what stands between two colons is no picture
    return wide if wide.is_terminal else Console(highlight=False, emoji=False, width=max(wide.width, 120))
