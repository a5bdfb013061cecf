"""Pictures: the circuit of an assembly, the influence of one cause, and what must come off before what."""

import math
from collections.abc import Collection, Iterator, Sequence

from pydantic import Field

from clampgraph.answers.cautions import cautions_at
from clampgraph.answers.diagnosing.telling import StepOut, tell_path
from clampgraph.answers.library import Library, nearest
from clampgraph.answers.models import Request
from clampgraph.answers.replacing.workshop import position_in, workshop
from clampgraph.assembly import Assembly
from clampgraph.diagnosis.explanation import PathStep, influence_paths
from clampgraph.diagnosis.network import Network
from clampgraph.drawing.disassembly import Warned, disassembly, in_order
from clampgraph.drawing.influence import Station, Trail, influence
from clampgraph.errors import UnknownNameError, WrongCallError
from clampgraph.replacement.access import least_opening
from clampgraph.replacement.facts import Site

__all__ = [
    "DisassemblyRequest",
    "DrawRequest",
    "InfluenceRequest",
    "disassembly_halves",
    "draw",
    "draw_disassembly",
    "draw_influence",
]


class DrawRequest(Request):
    """Which picture of which assembly."""

    assembly: str = Field(examples=["brannoch-40t"])
    generation: str | None = Field(None, description="The newest one if left out.")
    phase: str = Field("clamped", description="Shows which lines carry pressure and which vent.")
    highlight: tuple[str, ...] = Field((), description="Suspects: POSITION, or POSITION:MODE.")


class InfluenceRequest(Request):
    """Which cause of which assembly."""

    assembly: str = Field(examples=["brannoch-40t"])
    generation: str | None = Field(None, description="The newest one if left out.")
    cause: str = Field(description="POSITION:MODE, or a condition.", examples=["silencer:clogged"])
    symptom: str | None = Field(None, description="All that it leads to if left out.", examples=["slow-return"])


class DisassemblyRequest(Request):
    """What is to be reached in which assembly."""

    assembly: str = Field(examples=["brannoch-40t"])
    generation: str | None = Field(None, description="The newest one if left out.")
    positions: tuple[str, ...] = Field((), description="All joints if left out.", examples=[["piston-seal"]])


def draw(library: Library, request: DrawRequest, name: str = "") -> str:
    """Draw the circuit as SVG; `name` is the stem of its identifiers, for a page that holds several pictures.

    Raises
    ------
    UnknownNameError
        If an assembly, generation, phase, position or failure mode is not known; names the nearest.
    """
    from clampgraph.drawing.circuit import CircuitStyle, circuit  # noqa: PLC0415  # loads the layout library

    assembly = library.assembly(request.assembly, request.generation)
    if request.phase not in assembly.phases:
        raise UnknownNameError(
            "phase", request.phase, nearest(request.phase, assembly.phases), f"in the cycle of {assembly.id}"
        )
    known = {str(row["type"]): str(row["symbol"]) for row in library.graph.ask("drawing/list-symbols")}
    symbols = {
        p.id: next((known[kind] for kind in p.type.lineage if kind in known), "box")
        for p in assembly.positions.values()
    }
    suspects = dict(_suspect(assembly, named) for named in request.highlight)
    return circuit(assembly, library.knowledge, CircuitStyle(request.phase, symbols, suspects, name))


def _suspect(assembly: Assembly, named: str) -> tuple[str, str]:
    place, _, mode = named.partition(":")
    position = assembly.positions[position_in(assembly, place)]
    return place, _mode(assembly, place, mode) if mode else position.type.label


def _mode(assembly: Assembly, place: str, mode: str) -> str:
    modes = assembly.positions[position_in(assembly, place)].type.modes
    if mode not in modes:
        raise UnknownNameError("failure mode", mode, nearest(mode, modes), f"of {place}")
    return modes[mode].label


def draw_influence(library: Library, request: InfluenceRequest, name: str = "") -> str:
    """Draw how one cause leads to a symptom, or to all that it leads to, port by port, as SVG.

    Raises
    ------
    UnknownNameError
        If an assembly, generation, position, failure mode, condition or symptom is not known; names the nearest.
    WrongCallError
        If the cause does not lead to the symptom in this assembly; names the symptoms that it leads to.
    """
    assembly = library.assembly(request.assembly, request.generation)
    node, title = _cause(library, assembly, request.cause)
    network, known = library.network(assembly), library.knowledge.symptoms
    if request.symptom is not None and request.symptom not in known:
        raise UnknownNameError("symptom", request.symptom, nearest(request.symptom, known))
    asked = None if request.symptom is None else (f"symptom/{request.symptom}",)
    paths = _paths_from(network, node, asked)
    if not paths:
        leads = ", ".join(sorted(_paths_from(network, node))) or "no symptom"
        named = request.symptom or "any symptom"
        raise WrongCallError(f"In {assembly.id} {request.cause} does not lead to {named}; it leads to {leads}.")
    trails = []
    for symptom in sorted(paths):
        steps = tell_path(library, assembly, paths[symptom])
        chance = math.prod(step.strength for step in steps)
        trails.append(Trail(known[symptom].label, tuple(_stations(library, steps)), chance))
    words = [library.knowledge.words.get(phase, phase) for phase in assembly.phases]
    unit = f"{assembly.label}, {assembly.generation.id}"
    return influence(title, unit, words, trails, name)


def _paths_from(
    network: Network, cause: str, findings: Collection[str] | None = None
) -> dict[str, tuple[PathStep, ...]]:
    """Return the most probable path of a cause to each symptom asked for that it leads to, by the symptom's name."""
    shown = [node.id for node in network.of_kind("symptom") if findings is None or node.id in findings]
    found = influence_paths(network, shown)
    return {top.partition("/")[2]: of[cause] for top, of in found.items() if cause in of}


def _cause(library: Library, assembly: Assembly, named: str) -> tuple[str, str]:
    """Return node and title of a cause: a failure mode at a position, or a condition."""
    place, colon, mode = named.partition(":")
    if colon:
        return f"{place}:{mode}", f"{place}: {_mode(assembly, place, mode)}"
    conditions = library.knowledge.conditions
    name = named.removeprefix("condition/")
    if name not in conditions:
        raise UnknownNameError("cause", named, nearest(named, [*_modes(assembly), *conditions]), f"in {assembly.id}")
    return f"condition/{name}", conditions[name].label


def _modes(assembly: Assembly) -> Iterator[str]:
    for position in assembly.positions.values():
        yield from (f"{position.id}:{mode}" for mode in position.type.modes)


def _stations(library: Library, steps: Sequence[StepOut]) -> Iterator[Station]:
    words = library.knowledge.words
    for step in steps:
        source = "" if step.source in (None, "by construction") else step.source or ""
        if step.port is None:
            yield Station(step.node, "", (), step.text, "", step.strength, source)
            continue
        phase, quantity, guideword = (words.get(w, w) for w in (step.phase, step.quantity, step.guideword) if w)
        yield Station(
            step.node, step.position or "", (step.port,), f"{quantity} {guideword}", phase, step.strength, source
        )


def draw_disassembly(library: Library, request: DisassemblyRequest, name: str = "") -> str:
    """Draw which joints must be open before which, with minutes, tools and cautions, as SVG.

    With positions, only the joints on the quickest way to them are shown.

    Raises
    ------
    UnknownNameError
        If an assembly, generation or position is not known; names the nearest.
    """
    site = workshop(library).site(library.assembly(request.assembly, request.generation))
    wanted = [position_in(site.assembly, position) for position in request.positions]
    shown = least_opening(site, wanted).joints if wanted else frozenset(site.joints)
    title = f"To reach {', '.join(wanted)}" if wanted else "What must come off before what"
    return _joints_drawn(library, site, title, shown, name)


def disassembly_halves(library: Library, request: DisassemblyRequest) -> tuple[str, str]:
    """Draw the joints of an assembly on two pictures: those that have an order, and those that open by themselves.

    Raises
    ------
    UnknownNameError
        If an assembly or generation is not known; names the nearest.
    """
    site = workshop(library).site(library.assembly(request.assembly, request.generation))
    ordered = in_order(site.joints)
    rest = frozenset(site.joints) - ordered
    return (
        _joints_drawn(library, site, "What must come off before what", ordered, "ordered-joints"),
        _joints_drawn(library, site, "What opens by itself", rest, "other-joints"),
    )


def _joints_drawn(library: Library, site: Site, title: str, shown: Collection[str], name: str) -> str:
    knowledge, assembly = library.knowledge, site.assembly
    joints = {joint: site.joints[joint] for joint in sorted(shown)}
    at = {name: cautions_at(knowledge, assembly, joint.joins) for name, joint in joints.items()}
    warned = Warned(at, {c.id: c.text for c in knowledge.cautions})
    return disassembly(title, f"{assembly.label}, {assembly.generation.id}", joints, warned, name)
