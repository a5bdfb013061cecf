"""What is there: the assemblies that are described, and everything about one of them."""

from datetime import date

from pydantic import Field

from clampgraph.answers.library import Library
from clampgraph.answers.models import Answer, Value
from clampgraph.assembly import Assembly
from clampgraph.assembly.topology import Position

__all__ = ["AssembliesAnswer", "AssemblyOut", "ShowAnswer", "assemblies", "show"]


class GenerationOut(Answer):
    """A generation with its effectivity."""

    id: str
    iri: str
    label: str
    built_from: date | None
    built_until: date | None
    serial_from: int | None
    serial_until: int | None


class AssemblyOut(Answer):
    """An assembly in a list."""

    id: str
    iri: str
    label: str
    builder: str
    taper: str
    actuator: str
    drive: str
    generations: tuple[GenerationOut, ...]


class AssembliesAnswer(Answer):
    """All assemblies, in alphabetical order."""

    assemblies: tuple[AssemblyOut, ...]


class ItemOut(Answer):
    """An item as fitted by the builder."""

    mpn: str
    iri: str
    label: str
    maker: str
    price: Value | None


class PositionOut(Answer):
    """A position of the assembly."""

    id: str
    iri: str
    designation: str = Field(description="IEC 81346-2 reference designation.")
    type: str
    label: str
    kind: str
    number: int = Field(description="How many pieces sit at this position.")
    actuated_in: tuple[str, ...]
    items: tuple[ItemOut, ...]


class ConnectionOut(Answer):
    """Two joined ports, in the direction of flow."""

    iri: str
    from_position: str
    from_port: str
    to_position: str
    to_port: str


class NetworkOut(Answer):
    """The size of the derived network; the width is that of its largest table, in variables, minus one."""

    nodes: int
    links: int
    width: int


class ShowAnswer(AssemblyOut):
    """One generation of one assembly in full."""

    generation: str
    phases: tuple[str, ...]
    exposure: Value = Field(description="Default age of the items.")
    positions: tuple[PositionOut, ...]
    connections: tuple[ConnectionOut, ...]
    symptoms: tuple[str, ...] = Field(description="Symptoms that some failure mode of this assembly can cause.")
    checks: tuple[str, ...]
    network: NetworkOut


def _generations(assembly: Assembly) -> tuple[GenerationOut, ...]:
    return tuple(
        GenerationOut(
            id=g.id, iri=g.iri, label=g.label, built_from=g.built_from, built_until=g.built_until,
            serial_from=g.serial_from, serial_until=g.serial_until,
        )
        for g in assembly.generations
    )  # fmt: skip


def assemblies(library: Library) -> AssembliesAnswer:
    """Answer which assemblies are described."""
    found = [library.assembly(name) for name in sorted(library.assemblies)]
    return AssembliesAnswer(
        assemblies=tuple(
            AssemblyOut(
                id=a.id, iri=a.iri, label=a.label, builder=a.builder, taper=a.taper, actuator=a.actuator,
                drive=a.drive, generations=_generations(a),
            )
            for a in found
        )
    )  # fmt: skip


def show(library: Library, name: str, generation: str | None = None) -> ShowAnswer:
    """Answer what one generation of an assembly consists of.

    Raises
    ------
    UnknownNameError
        If there is no such assembly or generation; names the nearest.
    """
    a = library.assembly(name, generation)
    network = library.network(a)
    checks = {node.check: None for node in network.of_kind("check") if node.check}
    return ShowAnswer(
        id=a.id, iri=a.iri, label=a.label, builder=a.builder, taper=a.taper, actuator=a.actuator, drive=a.drive,
        generations=_generations(a),
        generation=a.generation.id,
        phases=a.phases,
        exposure=Value(value=a.exposure, unit="yr"),
        positions=tuple(_position(p) for p in a.positions.values()),
        connections=tuple(
            ConnectionOut(
                iri=c.iri, from_position=c.from_position, from_port=c.from_port,
                to_position=c.to_position, to_port=c.to_port,
            )
            for c in a.connections
        ),
        symptoms=tuple(sorted(node.symptom or "" for node in network.of_kind("symptom"))),
        checks=tuple(sorted(checks)),
        network=NetworkOut(
            nodes=len(network),
            links=sum(len(node.links) for node in network),
            width=library.plan(a, network, {}, [node.id for node in network]).width,
        ),
    )  # fmt: skip


def _position(position: Position) -> PositionOut:
    return PositionOut(
        id=position.id,
        iri=position.iri,
        designation=position.designation,
        type=position.type.id,
        label=position.type.label,
        kind=position.type.kind,
        number=position.number,
        actuated_in=tuple(sorted(position.actuated)),
        items=tuple(
            ItemOut(
                mpn=i.mpn, iri=i.iri, label=i.label, maker=i.maker,
                price=None if i.price is None else Value(value=i.price, unit=i.currency or "EUR"),
            )
            for i in position.items
        ),
    )  # fmt: skip
