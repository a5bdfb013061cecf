"""The numbers of an assembly, as positions and component types state them, and what failure modes do to them."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from clampgraph.answers.library import Library, nearest
from clampgraph.assembly import Assembly
from clampgraph.assembly.topology import Position
from clampgraph.errors import DataError, QuantityError, UnknownNameError, WrongCallError
from clampgraph.units import Quantity, from_qudt

__all__ = ["Change", "Fault", "Parameter", "Parameters", "faults_of", "parameters_of"]


@dataclass(frozen=True, slots=True)
class Parameter:
    """One number with its unit and source."""

    quantity: Quantity
    source: str


@dataclass(frozen=True, slots=True)
class Change:
    """What a failure mode does to one parameter of its position: multiply, set or add."""

    parameter: str
    operation: str
    quantity: Quantity
    source: str

    def of(self, before: Quantity) -> Quantity:
        """Return the parameter after the change."""
        if self.operation == "factor":
            return replace(before, value=before.value * self.quantity.si)
        if self.operation == "set":
            return self.quantity.to(before.unit)
        if self.operation == "add":
            return replace(before, value=before.value + self.quantity.to(before.unit).value)
        raise DataError(f"The change of {self.parameter} has the operation '{self.operation}'; use factor, set or add.")


@dataclass(frozen=True, slots=True)
class Fault:
    """A failure mode at a position, and what it changes; without changes, `reason` says why."""

    position: str
    mode: str
    label: str
    changes: tuple[Change, ...]
    reason: str

    @property
    def name(self) -> str:
        """The fault as users write it, ``POSITION:MODE``."""
        return f"{self.position}:{self.mode}"


@dataclass(frozen=True)
class Parameters:
    """Every stated parameter of one assembly, by position; values in the unit they were stated in."""

    assembly: Assembly
    by_position: Mapping[str, Mapping[str, Parameter]] = field(default_factory=dict)

    def has(self, position: str, name: str) -> bool:
        """Say whether a parameter is stated."""
        return name in self.by_position[position]

    def si(self, position: str, name: str) -> float:
        """Return a parameter in SI units.

        Raises
        ------
        DataError
            If it is not stated.
        """
        found = self.by_position[position].get(name)
        if found is None:
            raise DataError(
                f"{self.assembly.id} states no {name} for {position}, which a stroke is computed from; "
                f"add a cg:Parameter."
            )
        return found.quantity.si

    def with_faults(self, faults: Iterable[Fault]) -> "Parameters":
        """Return the parameters after the changes of some faults."""
        changed = {position: dict(known) for position, known in self.by_position.items()}
        for fault in faults:
            known = changed[fault.position]
            for change in fault.changes:
                if change.parameter not in known:
                    raise DataError(f"{fault.name} changes {change.parameter}, which {fault.position} does not state.")
                known[change.parameter] = replace(
                    known[change.parameter], quantity=change.of(known[change.parameter].quantity)
                )
        return Parameters(self.assembly, changed)


def _quantity(row: Mapping[str, Any]) -> Quantity:
    try:
        return Quantity(float(row["value"]), from_qudt(str(row["unit"])))
    except QuantityError as error:
        raise DataError(f"The parameter {row['parameter']} ({row['iri']}) cannot be read: {error}") from error


def parameters_of(library: Library, assembly: Assembly) -> Parameters:
    """Return the parameters of an assembly; what a position does not state, its component types may.

    Raises
    ------
    DataError
        If a unit is not known.
    """
    usual: dict[str, dict[str, Parameter]] = {}
    for row in library.graph.ask("simulation/list-type-parameters"):
        usual.setdefault(str(row["type"]), {})[str(row["parameter"])] = Parameter(_quantity(row), str(row["source"]))
    found: dict[str, dict[str, Parameter]] = {}
    for position in assembly.positions.values():
        own: dict[str, Parameter] = {}
        for kind in reversed(position.type.lineage):
            own |= usual.get(kind, {})
        found[position.id] = own
    rows = library.graph.ask("simulation/list-parameters", assembly=assembly.id)
    for row in sorted(rows, key=lambda r: r["generation"] is not None):
        if row["generation"] in (None, assembly.generation.id) and row["position"] in found:
            found[str(row["position"])][str(row["parameter"])] = Parameter(_quantity(row), str(row["source"]))
    return Parameters(assembly, found)


def faults_of(library: Library, assembly: Assembly, names: Iterable[str]) -> tuple[Fault, ...]:
    """Read faults as users write them, ``POSITION:MODE``.

    Raises
    ------
    UnknownNameError
        If the assembly has no such position, or the position cannot fail in this way.
    WrongCallError
        If a name lacks its colon.
    """
    changes: dict[tuple[str, str], list[Change]] = {}
    for row in library.graph.ask("simulation/list-changes"):
        change = Change(str(row["parameter"]), str(row["operation"]), _quantity(row), str(row["source"]))
        changes.setdefault((str(row["type"]), str(row["name"])), []).append(change)
    rows = library.graph.ask("simulation/list-unsimulated")
    reasons = {(str(row["type"]), str(row["name"])): str(row["reason"]) for row in rows}
    return tuple(_fault(assembly, name, changes, reasons) for name in names)


def _fault(
    assembly: Assembly,
    name: str,
    changes: Mapping[tuple[str, str], list[Change]],
    reasons: Mapping[tuple[str, str], str],
) -> Fault:
    position, colon, mode = name.partition(":")
    if not colon:
        raise WrongCallError(f"The fault '{name}' is incomplete; write POSITION:MODE, such as main-valve:sluggish.")
    where = assembly.positions.get(position)
    if where is None:
        raise UnknownNameError("position", position, nearest(position, assembly.positions), f"in {assembly.id}")
    known = where.type.modes.get(mode)
    if known is None:
        raise UnknownNameError("failure mode", mode, nearest(mode, where.type.modes), f"of {position}")
    # What a special type says of a failure mode comes before what its more general types say.
    said = next((kind for kind in where.type.lineage if {(kind, mode)} & {*changes, *reasons}), "")
    changed = tuple(changes.get((said, mode), ()))
    return Fault(position, mode, known.label, changed, reasons.get((said, mode), _unsaid(where)))


def _unsaid(position: Position) -> str:
    return f"The data state nothing that this failure mode of the {position.type.label} changes in a stroke."
