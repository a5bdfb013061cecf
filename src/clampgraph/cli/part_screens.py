"""What a person reads about parts."""

from rich.console import Group, RenderableType
from rich.text import Text

from clampgraph.answers.fits import FeatureOut, FitsAnswer, PlaceOut
from clampgraph.answers.models import Value
from clampgraph.cli.screens import table

__all__ = ["fits"]

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
