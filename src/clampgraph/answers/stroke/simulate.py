"""One tool change in numbers: healthy, or with failure modes injected."""

from collections.abc import Iterable
from typing import Final

from pydantic import Field, StrictBool

from clampgraph.answers.library import Library
from clampgraph.answers.models import Answer, Request, Value
from clampgraph.answers.stroke.parameters import Fault, Parameters, faults_of, parameters_of
from clampgraph.answers.stroke.stroke_unit import unit_of
from clampgraph.assembly import Assembly
from clampgraph.physics.stroke import DIMENSIONS, Cycle, books, observe, run
from clampgraph.units import from_si

__all__ = [
    "BookOut",
    "ChangeOut",
    "FaultOut",
    "HappeningOut",
    "PhaseOut",
    "SimulateRequest",
    "SimulationAnswer",
    "TraceOut",
    "observed",
    "simulate",
    "simulated",
]

UNITS: Final = {
    "speed": "m/s",
    "energy": "J",
    "length": "mm",
    "time": "ms",
    "force": "kN",
    "ratio": "%",
    "volume": "l",
    "flow": "l/min",
    "gauge-pressure": "bar(g)",
}
"""Unit in which each dimension is told."""


class SimulateRequest(Request):
    """Which stroke to simulate."""

    assembly: str = Field(examples=["brannoch-40t"])
    generation: str | None = Field(None, description="The newest one if left out.")
    faults: tuple[str, ...] = Field(
        (),
        description="Failure modes to inject, as POSITION:MODE.",
        examples=[["quick-exhaust-valve:diaphragm-sticks"]],
    )
    trace: StrictBool = Field(default=False, description="Whether to return the course over time.")


class ChangeOut(Answer):
    """What a fault does to one parameter."""

    parameter: str
    was: Value
    becomes: Value
    source: str


class FaultOut(Answer):
    """An injected failure mode; without changes, a note says why."""

    position: str
    failure_mode: str
    label: str
    changes: tuple[ChangeOut, ...]
    note: str | None = None


class PhaseOut(Answer):
    """A phase of the cycle."""

    phase: str
    start: Value
    end: Value
    travel: Value = Field(description="Travel of the rod from home, at the end of the phase.")


class HappeningOut(Answer):
    """Something that happened."""

    event: str
    time: Value
    speed: Value
    energy: Value


class BookOut(Answer):
    """An account of conservation over the whole cycle."""

    name: str
    error: float = Field(description="Relative error.")
    limit: float = Field(description="Relative error that is allowed.")
    closes: bool


class TraceOut(Answer):
    """The course over time, one value for each instant."""

    time: tuple[float, ...] = Field(description="[ms]")
    travel: tuple[float, ...] = Field(description="Travel of the rod [mm].")
    speed: tuple[float, ...] = Field(description="[m/s], outwards positive.")
    pressure: tuple[float, ...] = Field(description="Gauge pressure on the piston [bar].")
    line_pressure: tuple[float, ...] = Field(description="Gauge pressure in the line [bar].")
    force: tuple[float, ...] = Field(description="Push of the drive on the rod [kN].")


class SimulationAnswer(Answer):
    """One simulated tool change."""

    assembly: str
    generation: str
    actuator: str
    faults: tuple[FaultOut, ...]
    results: dict[str, Value] = Field(description="What shows; a time whose end is never reached is left out.")
    healthy: dict[str, Value] = Field(description="The same without faults; empty when none is injected.")
    phases: tuple[PhaseOut, ...]
    events: tuple[HappeningOut, ...]
    conservation: tuple[BookOut, ...]
    source: str
    validity: str
    warnings: tuple[str, ...]
    trace: TraceOut | None = None


def simulated(parameters: Parameters, faults: Iterable[Fault] = ()) -> Cycle:
    """Simulate a unit with some faults."""
    return run(unit_of(parameters.with_faults(faults)))


def observed(cycle: Cycle) -> dict[str, Value]:
    """Return what a cycle shows in trade units."""
    return {name: _value(value, DIMENSIONS[name]) for name, value in observe(cycle).items()}


def _value(si: float, dimension: str) -> Value:
    quantity = from_si(si, UNITS[dimension])
    return Value(value=quantity.value, unit=quantity.unit)


def simulate(library: Library, request: SimulateRequest) -> SimulationAnswer:
    """Answer what one tool change does.

    Raises
    ------
    UnknownNameError
        If an assembly, generation, position or failure mode is not known.
    WrongCallError
        If a fault is not written as POSITION:MODE.
    DataError
        If the data state too little for a simulation.
    """
    assembly = library.assembly(request.assembly, request.generation)
    parameters = parameters_of(library, assembly)
    faults = faults_of(library, assembly, request.faults)
    cycle = simulated(parameters, faults)
    healthy = observed(simulated(parameters)) if faults else {}
    return SimulationAnswer(
        assembly=assembly.id,
        generation=assembly.generation.id,
        actuator=assembly.actuator,
        faults=tuple(_fault(library, parameters, fault) for fault in faults),
        results=observed(cycle),
        healthy=healthy,
        phases=tuple(
            PhaseOut(
                phase=p.name, start=_value(p.start, "time"), end=_value(p.end, "time"),
                travel=_value(p.travel, "length"),
            )
            for p in cycle.phases
        ),
        events=tuple(
            HappeningOut(
                event=h.name, time=_value(h.time, "time"), speed=_value(h.speed, "speed"),
                energy=_value(h.energy, "energy"),
            )
            for h in cycle.happenings
        ),
        conservation=tuple(
            BookOut(name=b.name, error=b.error, limit=b.limit, closes=b.error <= b.limit) for b in books(cycle)
        ),
        source="ISO 6358-1 flow, DIN EN 16984 stack, rod and drawbar as masses with dry friction",
        validity="level rod, air at constant temperature, stiff oil, plastic impacts; times come out slow, not fast",
        warnings=tuple(_warnings(assembly, cycle)),
        trace=_trace(cycle) if request.trace else None,
    )  # fmt: skip


def _fault(library: Library, parameters: Parameters, fault: Fault) -> FaultOut:
    words = library.knowledge.words
    changes = []
    for change in fault.changes:
        was = parameters.by_position[fault.position][change.parameter].quantity
        becomes = change.of(was)
        changes.append(
            ChangeOut(
                parameter=change.parameter,
                was=Value(value=was.value, unit=was.unit),
                becomes=Value(value=becomes.value, unit=becomes.unit),
                source=words.get(change.source, change.source),
            )
        )
    note = None if changes else fault.reason
    return FaultOut(
        position=fault.position, failure_mode=fault.mode, label=fault.label, changes=tuple(changes), note=note
    )


def _warnings(assembly: Assembly, cycle: Cycle) -> Iterable[str]:
    shown = observe(cycle)
    if shown["force-margin"] < 0.0:
        yield f"The actuator of {assembly.id} cannot open the stack: it lacks {-shown['force-margin'] / 1e3:.2f} kN."
    if "release-time" not in shown:
        yield "The rod never reaches the end of its stroke."
    if "return-time" not in shown:
        yield "The rod does not come home from a full stroke within the time that the controller waits."
    if shown["gap-at-rest"] <= 0.0:
        yield "There is no gap at rest: the push bolt rubs on the turning drawbar."
    for book in books(cycle):
        if book.error > book.limit:
            yield f"The account of {book.name} is off by {book.error:.1e}; do not rely on this run."


def _trace(cycle: Cycle) -> TraceOut:
    samples = cycle.samples
    return TraceOut(
        time=tuple(s.time * 1e3 for s in samples),
        travel=tuple(s.travel * 1e3 for s in samples),
        speed=tuple(s.speed for s in samples),
        pressure=tuple(s.pressure / 1e5 for s in samples),
        line_pressure=tuple(s.line_pressure / 1e5 for s in samples),
        force=tuple(s.force / 1e3 for s in samples),
    )
