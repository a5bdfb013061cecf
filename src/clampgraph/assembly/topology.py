"""What an assembly is: positions, their component types and items, and how their ports are joined."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from clampgraph.assembly.knowledge import ComponentType

__all__ = ["Assembly", "Connection", "FittedItem", "Generation", "Position"]


@dataclass(frozen=True, slots=True)
class Generation:
    """A generation of an assembly with its effectivity: build dates and serial numbers, inclusive."""

    iri: str
    id: str
    label: str
    built_from: date | None
    built_until: date | None
    serial_from: int | None
    serial_until: int | None


@dataclass(frozen=True, slots=True)
class FittedItem:
    """An item as fitted by the builder; an empty `generations` means all of them."""

    iri: str
    mpn: str
    label: str
    maker: str
    price: float | None
    currency: str | None
    generations: frozenset[str]
    features: Mapping[str, object]


@dataclass(frozen=True, slots=True)
class Position:
    """A place in an assembly that an item fills; `actuated` lists the phases in which it is driven."""

    iri: str
    id: str
    designation: str
    type: ComponentType
    number: int
    actuated: frozenset[str]
    items: tuple[FittedItem, ...]


@dataclass(frozen=True, slots=True)
class Connection:
    """Two joined ports, in the direction of flow."""

    iri: str
    from_position: str
    from_port: str
    to_position: str
    to_port: str


@dataclass(frozen=True)
class Assembly:
    """One generation of one assembly; `exposure` is the default age of its items [yr].

    `phases` are those its cycle has, in order.
    """

    iri: str
    id: str
    label: str
    builder: str
    taper: str
    actuator: str
    drive: str
    exposure: float
    phases: tuple[str, ...]
    generations: tuple[Generation, ...]
    generation: Generation
    positions: Mapping[str, Position]
    connections: tuple[Connection, ...]
