"""What a person reads about parts."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rich.console import Group, RenderableType
from rich.text import Text

from clampgraph.answers.models import Value
from clampgraph.cli.screens import cautions, table

if TYPE_CHECKING:  # as in screens: the models of other answers need not be loaded
    from clampgraph.answers.replacing.fits import FeatureOut, FitsAnswer, PlaceOut
    from clampgraph.answers.replacing.replacements import OrderOut, SwapAnswer, VerificationOut

__all__ = ["fits", "swap"]

_MARKS = {"fits": "✓", "fits-with-changes": "✓ with changes", "does-not-fit": "✗", "unknown": "? unknown"}


def told(value: Value | str | None) -> str:
    """Tell a value with its unit; the word nothing where there is none."""
    if value is None:
        return "nothing"
    return f"{value.value:g} {value.unit}" if isinstance(value, Value) else str(value)


def fits(answer: FitsAnswer) -> RenderableType:
    """Lay out the places with verdict, the features that decide, changes and missing data."""
    found = table("Place", "Verdict", "Why")
    for place in answer.places:
        where = Text(place.position, "bold")
        where.append(f"\n{place.assembly} {place.generation}", "dim")
        if answer.item != place.item:
            where.append(f"\n{place.item}  {place.label}", "dim")
        found.add_row(where, _MARKS[place.verdict], _why(place))
    head = [Text.assemble((answer.item, "bold"), f"  {answer.label}")] if answer.item else []
    if answer.replaces:
        head.append(Text(f"replaces {', '.join(answer.replaces)}"))
    if answer.replaced_by:
        head.append(Text(f"replaced by {', '.join(answer.replaced_by)}"))
    return Group(*head, "", found if answer.places else "It goes nowhere in what is described here.")


def _why(place: PlaceOut) -> str:
    lines = ["as the builder fitted it"] if place.as_built else []
    lines += [_feature(f) for f in place.features if f.verdict != "fits"]
    lines += [change.text for change in place.changes]
    lines += [f"not known: {missing}" for missing in place.missing]
    return "\n".join(lines) or f"{len(place.features)} features agree"


def _feature(feature: FeatureOut) -> str:
    by = f" (of {feature.neighbour})" if feature.neighbour else ""
    return f"{feature.feature}: {feature.rule} {told(feature.required)}{by}, offered {told(feature.offered)}"


def swap(answer: SwapAnswer) -> RenderableType:
    """Lay out what is renewed and why, the order, the steps, the verification and the cautions."""
    lines = table("Level", "Position", "Item", "Why")
    for line in answer.lines:
        item = f"{line.quantity} × {line.item or 'nobody lists one'}\n{line.label}"  # noqa: RUF001  # the sign for times
        why = "\n".join(reason.text for reason in line.reasons)
        lines.add_row(Text(line.level, "bold"), line.position or "", item, why)
    steps = table("Step", "What to do", "Minutes", "Tools")
    for step in answer.steps:
        steps.add_row(str(step.step), step.text, told(step.time), ", ".join(step.tools))
    readings = table("Verify", "Accept", "Where the value comes from")
    for reading in answer.verification:
        readings.add_row(reading.label, _limits(reading), reading.acceptance)
    head = Text.assemble((f"{answer.assembly} ", "bold"), f"{answer.generation}: renew {', '.join(answer.positions)}")
    notes = [f"Note: {note.text}" for note in answer.notes]
    return Group(
        head, "", lines, "", *_order(answer.order), "", steps, "", readings, "", *notes, cautions(answer.cautions)
    )


def _limits(reading: VerificationOut) -> str:
    low, high = reading.minimum, reading.maximum
    if low is not None and high is not None:
        return f"{low.value:g} to {told(high)}"
    if low is not None:
        return f"at least {told(low)}"
    return f"at most {told(high)}" if high is not None else "no fault found"


def _order(order: OrderOut) -> list[RenderableType]:
    rows = table("Order", "What it is", "Pieces", "Price each")
    for line in order.lines:
        rows.add_row(line.mpn, f"{line.label} ({line.kind})", str(line.quantity), told(line.price))
    proof = "the cheapest there is" if order.optimal else "not proven to be the cheapest"
    total = (
        f"Parts {told(order.parts)}, labour {order.labour_minutes:.0f} min at {told(order.labour_rate)}; "
        f"together {told(order.total)}, {proof}."
    )
    found: list[RenderableType] = [rows, total]
    found += [f"Next best: {told(a.difference)} more; {a.why}" for a in order.alternatives]
    found += [Text(f"Cannot be ordered: {u.text}", "bold red") for u in order.unmet]
    return found
