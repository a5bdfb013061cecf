"""Physics against graph: what each failure mode does in a simulated stroke, and what the derived network claims.

A failure mode is injected, everything else sound. Physics shows something when an observable moves past its
threshold. The graph claims something when the deviation behind it is more likely than not, and allows it when it is
not negligible. They agree when the graph allows what physics shows, and does not claim what physics does not show.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Final, Literal

from pydantic import Field

from clampgraph.answers.library import Library
from clampgraph.answers.models import Answer
from clampgraph.answers.stroke.parameters import Fault, faults_of, parameters_of
from clampgraph.answers.stroke.simulate import simulated
from clampgraph.assembly import Assembly
from clampgraph.errors import DataError
from clampgraph.physics.stroke import DIMENSIONS, observe
from clampgraph.units import Quantity, from_qudt

__all__ = ["AgreementAnswer", "AgreementRow", "UnsimulatedOut", "Verdict", "agreement"]

CLAIMS: Final = 0.5
"""Probability above which the graph counts as claiming a deviation: more likely than not."""
ALLOWS: Final = 0.02
"""Probability from which on the graph counts as allowing a deviation."""

Verdict = Literal["agrees", "physics shows more", "graph claims more"]


class AgreementRow(Answer):
    """One failure mode and one thing that may show."""

    position: str
    failure_mode: str
    showing: str
    observable: str
    healthy: float | None = Field(description="Observable without the fault, in its SI unit; none if never reached.")
    faulty: float | None
    physics: bool = Field(description="Whether it shows in the simulated stroke.")
    graph: float = Field(description="Probability that the network gives to the deviation, everything else sound.")
    verdict: Verdict
    reason: str | None = Field(None, description="Why they differ, where the data say so.")


class UnsimulatedOut(Answer):
    """A failure mode that changes nothing a stroke is computed from."""

    position: str
    failure_mode: str
    reason: str


class AgreementAnswer(Answer):
    """The table of agreement of one assembly: rows where physics shows or graph claims something."""

    assembly: str
    generation: str
    rows: tuple[AgreementRow, ...]
    agreed: int
    explained: int
    unexplained: int
    unsimulated: tuple[UnsimulatedOut, ...]


@dataclass(frozen=True, slots=True)
class _Showing:
    id: str
    observable: str
    sense: str
    threshold: Quantity
    patterns: frozenset[tuple[str, str, str, str, str]]
    outranked_by: frozenset[str]

    def shows(self, healthy: float | None, faulty: float | None) -> bool:
        """Say whether the change from healthy to faulty passes the threshold; what is never reached is boundless."""
        endless = DIMENSIONS[self.observable] == "time"
        if healthy is None or (faulty is None and not endless):
            return False
        if faulty is None:
            return self.sense == "more"
        change = faulty - healthy if self.sense == "more" else healthy - faulty
        relative = self.threshold.dimension == "ratio" and DIMENSIONS[self.observable] != "ratio"
        return change > self.threshold.si * (abs(healthy) if relative else 1.0)


def _showings(library: Library) -> dict[str, _Showing]:
    rows: dict[str, list[Mapping[str, Any]]] = {}
    for row in library.graph.ask("simulation/list-showings"):
        rows.setdefault(str(row["showing"]), []).append(row)
    found = {}
    for name, same in rows.items():
        row = same[0]
        if row["observable"] not in DIMENSIONS:
            raise DataError(f"The showing {name} names the observable {row['observable']}, which no stroke has.")
        found[name] = _Showing(
            name, str(row["observable"]), str(row["sense"]),
            Quantity(float(str(row["threshold"])), from_qudt(str(row["unit"]))),
            frozenset(
                (str(r["phase"]), str(r["type"]), str(r["port"]), str(r["quantity"]), str(r["guideword"]))
                for r in same
            ),
            frozenset(str(r["outrankedBy"]) for r in same if r["outrankedBy"] is not None),
        )  # fmt: skip
    return found


def agreement(library: Library, assembly: str, generation: str | None = None) -> AgreementAnswer:
    """Compare physics and graph for every failure mode of an assembly.

    Raises
    ------
    UnknownNameError
        If there is no such assembly or generation.
    DataError
        If the data state too little for a simulation.
    """
    unit = library.assembly(assembly, generation)
    names = [f"{p.id}:{mode}" for p in unit.positions.values() for mode in p.type.modes]
    faults = faults_of(library, unit, names)
    showings = _showings(library)
    claims = _claims(library, unit, [f.name for f in faults if f.changes], showings)
    rows = tuple(_rows(library, unit, faults, showings, claims))
    return AgreementAnswer(
        assembly=unit.id,
        generation=unit.generation.id,
        rows=rows,
        agreed=sum(row.verdict == "agrees" for row in rows),
        explained=sum(row.verdict != "agrees" and row.reason is not None for row in rows),
        unexplained=sum(row.verdict != "agrees" and row.reason is None for row in rows),
        unsimulated=tuple(
            UnsimulatedOut(position=f.position, failure_mode=f.mode, reason=f.reason) for f in faults if not f.changes
        ),
    )


def _claims(
    library: Library, unit: Assembly, faults: list[str], showings: Mapping[str, _Showing]
) -> dict[str, dict[str, float]]:
    """Return, for each fault alone, the probability of each showing: that of its likeliest deviation."""
    network = library.network(unit)
    nodes = {name: list(_nodes(library, unit, showing)) for name, showing in showings.items()}
    wanted = [node for found in nodes.values() for node in found]
    plan = library.plan(unit, network, {}, wanted)
    sound = {n.id: False for n in network if n.kind in ("failure-mode", "condition")}
    present = [fault for fault in faults if fault in network.by_id]
    result = plan.evaluate(plan.evidence([{**sound, fault: True} for fault in present]))
    return {
        fault: {
            name: max((float(row[plan.columns[node]]) for node in found), default=0.0) for name, found in nodes.items()
        }
        for fault, row in zip(present, result.posterior, strict=True)
    }


def _nodes(library: Library, unit: Assembly, showing: _Showing) -> Iterator[str]:
    known = library.network(unit).by_id
    for position in unit.positions.values():
        for phase, kind, port, quantity, guideword in showing.patterns:
            node = f"{phase}/{position.id}.{port}/{quantity}/{guideword}"
            if kind in position.type.lineage and node in known:
                yield node


def _rows(
    library: Library, unit: Assembly, faults: tuple[Fault, ...], showings: Mapping[str, _Showing],
    claims: Mapping[str, Mapping[str, float]],
) -> Iterator[AgreementRow]:  # fmt: skip
    parameters = parameters_of(library, unit)
    healthy = observe(simulated(parameters))
    reasons = {
        (row["type"], row["name"], row["showing"], row["assembly"]): str(row["reason"])
        for row in library.graph.ask("simulation/list-differences")
    }
    for fault in faults:
        if not fault.changes:
            continue
        faulty = observe(simulated(parameters, [fault]))
        shown = {n for n, s in showings.items() if s.shows(healthy.get(s.observable), faulty.get(s.observable))}
        kinds = unit.positions[fault.position].type.lineage
        for name, showing in showings.items():
            claim = claims.get(fault.name, {}).get(name, 0.0)
            if showing.observable not in healthy or (name not in shown and claim <= CLAIMS):
                continue
            verdict = _verdict(physics=name in shown, outranked=bool(showing.outranked_by & shown), claim=claim)
            yield AgreementRow(
                position=fault.position, failure_mode=fault.mode, showing=name, observable=showing.observable,
                healthy=healthy.get(showing.observable), faulty=faulty.get(showing.observable),
                physics=name in shown, graph=claim, verdict=verdict,
                reason=None if verdict == "agrees" else _reason(reasons, kinds, fault.mode, (name, unit.id)),
            )  # fmt: skip


def _reason(
    reasons: Mapping[tuple[Any, ...], str], kinds: tuple[str, ...], mode: str, place: tuple[str, str]
) -> str | None:
    """Return the reason that the data give at this assembly or at any, for the type or a more general one."""
    showing, assembly = place
    keys = [(kind, mode, showing, where) for kind in kinds for where in (assembly, None)]
    return next((reasons[key] for key in keys if key in reasons), None)


def _verdict(*, physics: bool, outranked: bool, claim: float) -> Verdict:
    if outranked or (physics and claim >= ALLOWS):
        return "agrees"
    return "physics shows more" if physics else "graph claims more"
