"""Is my data sound? Findings of text, shapes and rules, and of what follows from the assemblies."""

from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Literal

from pydantic import Field

from clampgraph.answers.languages import missing_translations
from clampgraph.answers.library import Library
from clampgraph.answers.models import Answer
from clampgraph.answers.stroke.agreement import AgreementAnswer, agreement
from clampgraph.assembly import Assembly, InfluenceGraph
from clampgraph.errors import ClampgraphError, CycleError
from clampgraph.graph.checking import Checked, Finding, check

__all__ = ["FindingOut", "ValidationAnswer", "validate"]


class FindingOut(Answer):
    """One thing to correct."""

    severity: Literal["error", "warning"]
    pack: str = Field(description="Name of the file.")
    line: int | None = Field(description="Line where the subject begins or the syntax breaks, where it can be told.")
    focus: str | None = Field(description="IRI of the subject; none for a blank node or a syntax error.")
    message: str
    hint: str | None = Field(description="What to write instead.")


class ValidationAnswer(Answer):
    """Whether the packs are sound: no finding is an error, and no difference from physics lacks its reason."""

    valid: bool
    findings: tuple[FindingOut, ...]
    agreement: tuple[AgreementAnswer, ...] = Field(
        (), description="What the graph claims against the simulated stroke, for each generation given; on request."
    )


def validate(packs: Iterable[Path], language: str | None = None, *, physics: bool = False) -> ValidationAnswer:
    """Answer whether packs are sound, amid the shipped knowledge and demo; warn of labels not told in a language.

    What follows from the assemblies (cycles of influence, silent failures) is derived only once
    text, shapes and rules are in order; before that it would only repeat their findings.

    Raises
    ------
    UnknownNameError
        If a path does not exist.
    DataError
        If a file is no pack by its suffix.
    WrongCallError
        If the paths hold no pack.
    """
    checked = check(packs)
    findings = list(checked.findings)
    if checked.homes and not any(f.severity == "error" for f in findings):
        findings += sorted(set(_consequences(checked)), key=lambda f: f.rank)
    if language is not None and checked.homes:
        findings += sorted(_untold(checked, language), key=lambda f: f.rank)
    sound = all(f.severity != "error" for f in findings)
    compared = tuple(_agreements(checked)) if physics and sound else ()
    return ValidationAnswer(
        valid=sound and all(a.unexplained == 0 for a in compared),
        agreement=compared,
        findings=tuple(
            FindingOut(
                severity="warning" if f.severity == "warning" else "error",
                pack=f.pack, line=f.line, focus=f.focus, message=f.message, hint=f.hint or None,
            )
            for f in findings
        ),
    )  # fmt: skip


def _agreements(checked: Checked) -> Iterator[AgreementAnswer]:
    library = Library(checked.graph)
    for name, row in library.assemblies.items():
        if checked.home_of(str(row["iri"])) is not None:
            for generation in library.assembly(name).generations:
                yield agreement(library, name, generation.id)


def _untold(checked: Checked, language: str) -> Iterator[Finding]:
    for missing in missing_translations(Library(checked.graph), language):
        message = f"The {missing.kind.lower()} '{missing.label}' has no label in {language}; English stands in."
        found = checked.at(missing.iri, "warning", message, f'skos:prefLabel "..."@{language}')
        if found is not None:
            yield found


def _consequences(checked: Checked) -> Iterator[Finding]:
    library = Library(checked.graph)
    derived: list[InfluenceGraph] = []
    try:
        library.knowledge  # noqa: B018  # read once here, so that its faults are told once
    except ClampgraphError as error:
        yield _of_any(checked, str(error))
        return
    for name, row in library.assemblies.items():
        try:
            first = library.assembly(name)
            whole = [library.assembly(name, generation.id) for generation in first.generations]
            derived += [library.influence(assembly) for assembly in whole]
        except CycleError as error:
            yield _of_cycle(checked, library.assembly(name), error)
        except ClampgraphError as error:
            yield checked.at(str(row["iri"]), "error", str(error)) or _of_any(checked, str(error))
    yield from _mute_positions(checked, derived)
    yield from _mute_failure_modes(checked, derived)
    yield from _unreachable_symptoms(checked, library, derived)


def _of_any(checked: Checked, message: str) -> Finding:
    """Tell what no given subject owns at the first given file: together with the shipped packs it goes wrong."""
    home = min(checked.homes.values(), key=lambda pack: pack.path)
    return Finding("error", home.path.name, None, None, message, "")


def _of_cycle(checked: Checked, assembly: Assembly, error: CycleError) -> Finding:
    """Tell a cycle at its assembly, or, if that is not given, at the component type of a member."""
    hint = "Take out the pass, transform or connection that runs back."
    places = [assembly.iri]
    for member in error.members:
        position = assembly.positions.get(member.partition("/")[2].partition(".")[0])
        if position is not None:
            places += [position.type.iri]
    told = (checked.at(iri, "error", str(error), hint) for iri in places)
    return next((f for f in told if f is not None), _of_any(checked, str(error)))


def _mute_positions(checked: Checked, derived: Iterable[InfluenceGraph]) -> Iterator[Finding]:
    for graph in derived:
        for position in graph.assembly.positions.values():
            modes = [f"{position.id}:{mode}" for mode in position.type.modes]
            if modes and set(modes) <= set(graph.silent):
                message = f"No failure mode of the position {position.id} shows in any symptom or check."
                found = checked.at(position.iri, "error", message, "Connect its ports to what they act on.")
                if found is not None:
                    yield found


def _mute_failure_modes(checked: Checked, derived: Iterable[InfluenceGraph]) -> Iterator[Finding]:
    heard: dict[str, bool] = {}
    for graph in derived:
        for position in graph.assembly.positions.values():
            for mode in position.type.modes.values():
                spoken = f"{position.id}:{mode.id}" not in graph.silent
                heard[mode.iri] = heard.get(mode.iri, False) or spoken
    for iri in sorted(i for i, told in heard.items() if not told):
        message = "The failure mode shows in nothing: in no assembly does it reach a symptom or a check."
        found = checked.at(iri, "error", message, "Follow its effects from port to port; a pass or a sign is missing.")
        if found is not None:
            yield found


def _unreachable_symptoms(checked: Checked, library: Library, derived: Iterable[InfluenceGraph]) -> Iterator[Finding]:
    graphs = list(derived)
    for symptom in library.knowledge.symptoms.values():
        types = {sign.type for sign in symptom.signs}
        meant = [
            graph
            for graph in graphs
            if any(types.intersection(position.type.lineage) for position in graph.assembly.positions.values())
        ]
        if meant and not any(f"symptom/{symptom.id}" in graph.nodes for graph in meant):
            message = "No failure mode can reach the symptom: in no assembly does a cause lead to one of its signs."
            found = checked.at(symptom.iri, "error", message, "Check port, quantity, guideword and phase of its signs.")
            if found is not None:
                yield found
