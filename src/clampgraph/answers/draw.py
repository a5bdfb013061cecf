"""A picture: the circuit of an assembly, with the suspects of a diagnosis."""

from pydantic import Field

from clampgraph.answers.library import Library, nearest
from clampgraph.answers.models import Request
from clampgraph.assembly import Assembly
from clampgraph.errors import UnknownNameError

__all__ = ["DrawRequest", "draw"]


class DrawRequest(Request):
    """Which picture of which assembly."""

    assembly: str = Field(examples=["brannoch-40t"])
    generation: str | None = Field(None, description="The newest one if left out.")
    phase: str = Field("clamped", description="Shows which lines carry pressure and which vent.")
    highlight: tuple[str, ...] = Field((), description="Suspects: POSITION, or POSITION:MODE.")


def draw(library: Library, request: DrawRequest) -> str:
    """Draw the circuit as SVG.

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
    return circuit(assembly, library.knowledge, CircuitStyle(request.phase, symbols, suspects))


def _suspect(assembly: Assembly, named: str) -> tuple[str, str]:
    place, _, mode = named.partition(":")
    position = assembly.positions.get(place)
    if position is None:
        raise UnknownNameError("position", place, nearest(place, assembly.positions), f"in {assembly.id}")
    if not mode:
        return place, position.type.label
    if mode not in position.type.modes:
        raise UnknownNameError("failure mode", mode, nearest(mode, position.type.modes), f"of {place}")
    return place, position.type.modes[mode].label
