"""What a person reads of cases: one, many, what was learned, and how good predictions were."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rich.console import Group, RenderableType
from rich.text import Text

from clampgraph.cli.screens import table

if TYPE_CHECKING:  # a screen shows one answer: the models of all others need not be loaded
    from clampgraph.answers.recording.calibrating import CalibrationAnswer
    from clampgraph.answers.recording.cases import CaseOut, CasesAnswer
    from clampgraph.answers.recording.figures import ExposureOut, FiguresAnswer
    from clampgraph.answers.recording.listing import ForgottenAnswer

__all__ = ["calibration", "case", "cases", "exposure", "figures", "forgotten"]


def _told(text: str | None) -> Text:
    """Show what a person wrote letter by letter: it neither formats a screen nor steers a terminal."""
    return Text("".join(c if c.isprintable() or c == "\n" else repr(c)[1:-1] for c in text or ""))


def case(answer: CaseOut) -> RenderableType:
    """Show one case."""
    rows = table("Case", str(answer.id))
    told = answer.evidence
    conditions = [name if holds else f"{name}=absent" for name, holds in told.conditions.items()]
    lines: dict[str, str | None] = {
        "recorded": answer.recorded,
        "assembly": f"{answer.assembly} ({answer.generation})",
        "seen": ", ".join(told.seen),
        "not seen": ", ".join(told.unseen),
        "readings": ", ".join(f"{check}={outcome}" for check, outcome in told.readings.items()),
        "ages": ", ".join(f"{position}={years:g}" for position, years in told.ages.items()),
        "conditions": ", ".join(conditions),
        "found": _found(answer),
        "replaced": ", ".join(f"{r.quantity} {r.mpn}" for r in answer.replaced),
        "minutes": "" if answer.minutes is None else f"{answer.minutes:g}",
        "author": answer.author,
        "note": answer.note,
        "corrects": _number(answer.corrects),
        "corrected by": _number(answer.corrected_by),
    }
    for name, value in lines.items():
        if value:
            rows.add_row(name, _told(value))
    return rows


def _number(case_id: int | None) -> str | None:
    return None if case_id is None else str(case_id)


def _found(answer: CaseOut) -> str:
    return ", ".join(f"{f.position}:{f.failure_mode}" for f in answer.found) or "nothing"


def cases(answer: CasesAnswer) -> RenderableType:
    """List one case on each line."""
    if not answer.cases:
        return "No such case is kept."
    rows = table("Case", "Recorded", "Assembly", "Seen", "Found", "Author", "")
    for c in answer.cases:
        remark = f"corrected by {c.corrected_by}" if c.corrected_by else ""
        rows.add_row(
            str(c.id), c.recorded[:16], c.assembly, ", ".join(c.evidence.seen), _found(c), _told(c.author), remark
        )
    more = [f"More: --after {answer.after}"] if answer.after is not None else []
    return Group(rows, *more)


def _cases(count: int) -> str:
    return "1 case" if count == 1 else f"{count} cases"


def figures(answer: FiguresAnswer) -> RenderableType:
    """Set what was learned beside the pack's figures; rates that no case told of are left to `--json`."""
    rates = table("Type", "Failure mode", "Cases", "Unit-years", "Pack [1/yr]", "Learned [1/yr]", "90 % between")
    for r in answer.rates:
        if r.cases:
            years = f"{r.exposure.value:.4g}" + ("" if r.stated else " (assumed)")
            between = "" if r.interval is None else f"{r.interval[0]:.3g} and {r.interval[1]:.3g}"
            rates.add_row(
                r.component_type, r.label, str(r.cases), years, f"{r.pack.value:.3g}", f"{r.learned.value:.3g}", between
            )
    strengths = table("Symptom", "Cases", "Seen", "Pack", "Learned", "90 % between")
    for s in answer.strengths:
        between = f"{s.interval[0]:.2f} and {s.interval[1]:.2f}"
        strengths.add_row(s.symptom, str(s.looked), str(s.seen), f"{s.pack:.2f}", f"{s.learned:.2f}", between)
    passed_over = f", {answer.passed_over} passed over" if answer.passed_over else ""
    head = f"Learned from {_cases(answer.cases)}{passed_over}"
    return Group(head, "", rates, "", "How reliably a deviation shows as its symptom:", strengths)


def calibration(answer: CalibrationAnswer) -> RenderableType:
    """Show the scores and the bins."""
    if answer.brier is None or answer.brier_pack is None:
        return "There is no past case to judge."
    rows = table("Predicted", "How many", "Mean", "Found", "90 % between")
    for b in answer.bins:
        span = f"{b.low:.1f} to {b.high:.1f}"
        between = f"{b.bounds[0]:.2f} and {b.bounds[1]:.2f}"
        rows.add_row(span, str(b.count), f"{b.predicted:.3f}", f"{b.found:.3f}", between)
    head = (
        f"{_cases(answer.cases)}, {answer.predictions} predictions, {answer.basis}\n"
        f"Brier score {answer.brier:.5f}; with the pack's figures {answer.brier_pack:.5f}"
    )
    if answer.first_found is not None and answer.first_found_pack is not None:
        head += (
            f"\nThe likeliest cause was right in {answer.first_found:.0%}; "
            f"with the pack's figures in {answer.first_found_pack:.0%}"
        )
    return Group(head, "", rows)


def exposure(answer: ExposureOut) -> RenderableType:
    """Say what was stated."""
    return f"{answer.years.value:g} machine-years stand behind the cases of {answer.assembly}."


def forgotten(answer: ForgottenAnswer) -> RenderableType:
    """Say what was erased."""
    which = "1 case is" if answer.forgotten == 1 else f"{answer.forgotten} cases are"
    return f"{which} now kept under no name and without free text."
