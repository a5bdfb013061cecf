"""The pages before and after the symptoms: cautions, how the unit is told from others, its circuit, its joints."""

from html import escape

from clampgraph.answers.book.markup import Page, figure, grid, is_wide, paragraph, section
from clampgraph.answers.cautions import cautions_for
from clampgraph.answers.draw import DisassemblyRequest, DrawRequest, disassembly_halves, draw
from clampgraph.answers.identifying.identifying_features import Feature, candidates_of, features_of
from clampgraph.answers.library import Library
from clampgraph.answers.models import parse
from clampgraph.assembly import Assembly

__all__ = ["caution_list", "circuit_page", "disassembly_page", "identification_page"]


def caution_list(library: Library, assembly: Assembly) -> str:
    """List the cautions that apply, each with its source."""
    told = cautions_for(library.knowledge, assembly)
    items = "".join(
        f'<li id="{c.id}">{escape(c.text)} <span class="source">{escape(c.source)}</span></li>' for c in told
    )
    return f'<ol class="cautions">{items}</ol>'


def identification_page(library: Library, assembly: Assembly) -> Page:
    """Tell what this unit is called, which generations there are, and what tells it from every other described unit."""
    about = grid(
        "about", "The unit", ("What", "This unit"),
        [
            (escape(name), escape(words or "not told"))
            for name, words in (
                ("Identifier", assembly.id), ("Name", assembly.label), ("Builder", assembly.builder),
                ("Taper", assembly.taper), ("Actuator", assembly.actuator), ("Drive", assembly.drive),
                ("Generation of this book", assembly.generation.label),
                ("Phases", ", ".join(library.knowledge.words.get(p, p) for p in assembly.phases)),
            )
        ],
    )  # fmt: skip
    generations = grid(
        "generations", "Generations", ("Generation", "Name", "Built", "Serial numbers"),
        [
            (g.id, escape(g.label), _span(g.built_from, g.built_until), _span(g.serial_from, g.serial_until))
            for g in assembly.generations
        ],
    )  # fmt: skip
    candidates = candidates_of(library)
    own = f"{assembly.id}/{assembly.generation.id}"
    rows = [
        _feature_row(feature, own, len(candidates))
        for feature in features_of(library, candidates).values()
        if own in feature.trait.shown
    ]
    head = ("Look at", "This unit shows", "Other units that differ", "How to look")
    features = grid("features", "What this unit shows", head, rows)
    return Page(
        "identification", "Identification",
        section("unit", "Unit and generations", about, generations)
        + section("tell-apart", "How to tell it from other units", features),
    )  # fmt: skip


def _span(start: object, end: object) -> str:
    if start is None and end is None:
        return "not told"
    return f"{'' if start is None else f'from {start}'} {'' if end is None else f'to {end}'}".strip()


def _feature_row(feature: Feature, own: str, units: int) -> tuple[str, ...]:
    row, shown = feature.row, feature.trait.shown
    differing = sum(1 for name, values in shown.items() if name != own and not values & shown[own])
    values = ", ".join(feature.labels.get(value, value) for value in feature.trait.outcomes if value in shown[own])
    care = "<strong>Lock out first.</strong> " if row["lockout"] else ""
    return (
        escape(str(row["label"])), escape(values), f"{differing} of {units - 1}",
        f"{escape(str(row['ask']))} {care}{escape(str(row['how']))} ({row['minutes']:g} min)",
    )  # fmt: skip


def circuit_page(library: Library, assembly: Assembly) -> Page:
    """Show the circuit in every phase of the cycle."""
    parts, wide = [], False
    unit = {"assembly": assembly.id, "generation": assembly.generation.id}
    for phase in assembly.phases:
        question = parse(DrawRequest, {**unit, "phase": phase})
        words = library.knowledge.words.get(phase, phase)
        svg = draw(library, question, f"circuit-{phase}")
        wide = wide or is_wide(svg)
        parts.append(section(f"phase-{phase}", f"Phase: {words}", figure(svg, f"Circuit, phase {words}", wide=True)))
    lead = "Symbols after ISO 1219-1; two marks with one letter are one line. Nothing has failed here."
    return Page("circuit", "Circuit, phase by phase", paragraph(lead) + "\n".join(parts), wide=wide)


def disassembly_page(library: Library, assembly: Assembly) -> Page:
    """Show what must come off before what, and what opens by itself."""
    question = parse(DisassemblyRequest, {"assembly": assembly.id, "generation": assembly.generation.id})
    lead = "Lock out, bleed and prove zero pressure before the first joint; assembly runs the other way round."
    ordered, alone = disassembly_halves(library, question)
    return Page(
        "disassembly", "Disassembly",
        paragraph(lead, "warning")
        + section("ordered", "What must come off before what", figure(ordered, "Joints in their order"))
        + section("alone", "What opens by itself", figure(alone, "Joints that wait for no other")),
    )  # fmt: skip
