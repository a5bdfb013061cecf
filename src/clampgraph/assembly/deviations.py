"""Deviations of an assembly, and the small steps by which they spread.

A deviation is a phase, a port of a position, a quantity and a guideword (IEC 61882).
It spreads inside a position by what its component type passes and transforms,
and between positions wherever one port gives a quantity and the joined port takes it.
"""

from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

from clampgraph.assembly.knowledge import ALWAYS, Knowledge, Pattern
from clampgraph.assembly.topology import Assembly, Position

__all__ = ["Deviation", "Joints", "LocalStep", "local_steps", "phases_of"]


class Deviation(NamedTuple):
    """Something that is not as it should be: when, where, of which quantity, and how."""

    phase: str
    position: str
    port: str
    quantity: str
    guideword: str

    @property
    def id(self) -> str:
        """The deviation as one stable text, for example ``release/main-valve.2/pressure/no``."""
        return f"{self.phase}/{self.position}.{self.port}/{self.quantity}/{self.guideword}"

    @property
    def place(self) -> tuple[str, str, str, str]:
        """Phase, position, port and quantity: where feeds meet."""
        return self[:4]


class LocalStep(NamedTuple):
    """One deviation leads to another inside a position, perhaps only when a failure mode is present."""

    cause: Deviation
    effect: Deviation
    strength: float
    claim: str
    when_failed: str | None = None


def phases_of(phase: str, position: Position, order: tuple[str, ...]) -> tuple[str, ...]:
    """Expand a phase or a set of phases at a position, in the order of the cycle."""
    if phase == "any":
        return order
    if phase == "while-actuated":
        return tuple(p for p in order if p in position.actuated)
    if phase == "while-not-actuated":
        return tuple(p for p in order if p not in position.actuated)
    return (phase,) if phase in order or phase == ALWAYS else ()


def _at(position: Position, pattern: Pattern, phase: str) -> Deviation:
    return Deviation(phase, position.id, pattern.port, pattern.quantity, pattern.guideword)


def local_steps(position: Position, order: tuple[str, ...]) -> Iterator[LocalStep]:
    """List every pass and transform of a position, one for each phase it acts in."""
    for move in position.type.passes:
        target = Pattern(move.to_port, move.cause.quantity, move.cause.guideword, move.cause.phase)
        for phase in phases_of(move.cause.phase, position, order):
            yield LocalStep(
                _at(position, move.cause, phase), _at(position, target, phase),
                move.strength, move.claim, move.when_failed,
            )  # fmt: skip
    for change in position.type.transforms:
        for phase in phases_of(change.cause.phase, position, order):
            later = phase if change.effect.phase == change.cause.phase else change.effect.phase
            if later != phase and not phases_of(later, position, order):
                continue
            yield LocalStep(
                _at(position, change.cause, phase), _at(position, change.effect, later),
                change.strength, change.claim,
            )  # fmt: skip


@dataclass(frozen=True)
class Joints:
    """Who feeds whom: the joined ports of an assembly, read as giving and taking of quantities."""

    assembly: Assembly
    knowledge: Knowledge

    @cached_property
    def steps(self) -> tuple[LocalStep, ...]:
        """Every pass and transform inside the positions, one for each phase it acts in."""
        order = self.assembly.phases
        return tuple(step for position in self.assembly.positions.values() for step in local_steps(position, order))

    @cached_property
    def _pairs(self) -> Mapping[tuple[str, str], tuple[tuple[str, str, str], ...]]:
        found: dict[tuple[str, str], list[tuple[str, str, str]]] = defaultdict(list)
        for c in self.assembly.connections:
            found[c.from_position, c.from_port].append((c.to_position, c.to_port, c.iri))
            found[c.to_position, c.to_port].append((c.from_position, c.from_port, c.iri))
        return {key: tuple(value) for key, value in found.items()}

    def _port_has(self, position: str, port: str, role: str, quantity: str) -> bool:
        known = self.assembly.positions[position].type.ports.get(port)
        return known is not None and quantity in getattr(known, role)

    def takers(self, position: str, port: str, quantity: str) -> list[tuple[str, str, str]]:
        """Ports that take the quantity from this port, with the connection that joins them."""
        if not self._port_has(position, port, "gives", quantity):
            return []
        pairs = self._pairs.get((position, port), ())
        return [p for p in pairs if self._port_has(p[0], p[1], "takes", quantity)]

    def feeds(self, phase: str, position: str, port: str, quantity: str) -> list[tuple[str, str]]:
        """Ports that feed the quantity to this port in this phase, sorted, so that no order of writing shows."""
        pairs = self._pairs.get((position, port), ())
        return sorted({(p, q) for p, q, _ in pairs if (phase, p, q, quantity) in self._live})

    def supplies(self, phase: str, start: tuple[str, str], end: tuple[str, str], quantity: str) -> bool:
        """Say whether one port gives a quantity to another in this phase, when nothing has failed."""
        return (phase, *start, quantity) in self._live and any(
            end == (p, q) for p, q, _ in self.takers(*start, quantity)
        )

    @cached_property
    def _live(self) -> frozenset[tuple[str, str, str, str]]:
        """Ports at which a redundant quantity is available, phase by phase, when nothing has failed."""
        order = self.assembly.phases
        redundant = [q for q in self.knowledge.quantities.values() if q.redundant]
        inside: dict[tuple[str, str, str, str], set[str]] = defaultdict(set)
        live: list[tuple[str, str, str, str]] = []
        for step in self.steps:
            if step.when_failed is None and step.cause.quantity == step.effect.quantity:
                inside[step.cause.place].add(step.effect.port)
        for position in self.assembly.positions.values():
            for port in position.type.ports.values():
                for quantity in redundant:
                    open_end = quantity.free_when_open and (position.id, port.name) not in self._pairs
                    if quantity.id in port.origin or (open_end and quantity.id in port.takes):
                        live += [(phase, position.id, port.name, quantity.id) for phase in (*order, ALWAYS)]
        return self._spread(live, inside)

    def _spread(
        self, start: list[tuple[str, str, str, str]], inside: Mapping[tuple[str, str, str, str], set[str]]
    ) -> frozenset[tuple[str, str, str, str]]:
        seen = set(start)
        queue = list(seen)
        while queue:
            phase, position, port, quantity = queue.pop()
            further = [(position, to) for to in inside.get((phase, position, port, quantity), ())]
            further += [(p, q) for p, q, _ in self.takers(position, port, quantity)]
            for p, q in further:
                if (place := (phase, p, q, quantity)) not in seen:
                    seen.add(place)
                    queue.append(place)
        return frozenset(seen)
