"""Which cautions apply to an assembly, and which to work on some of its positions."""

from collections.abc import Collection

from clampgraph.answers.models import CautionOut
from clampgraph.assembly import Assembly, Knowledge

__all__ = ["cautions_at", "cautions_for"]


def cautions_for(knowledge: Knowledge, assembly: Assembly) -> tuple[CautionOut, ...]:
    """Return the cautions for the media and component types of an assembly, in the order of the pack."""
    types = {name for position in assembly.positions.values() for name in position.type.lineage}
    media = {port.medium for position in assembly.positions.values() for port in position.type.ports.values()}
    return tuple(
        CautionOut(id=c.id, text=c.text, source=knowledge.words.get(c.source, c.source))
        for c in knowledge.cautions
        if c.always or c.medium in media or c.type in types
    )


def cautions_at(knowledge: Knowledge, assembly: Assembly, positions: Collection[str]) -> tuple[str, ...]:
    """Name the cautions of opening something at some positions: those of what is touched, or stands beside it."""
    near = set(positions)
    for connection in assembly.connections:
        ends = {connection.from_position, connection.to_position}
        if ends & set(positions):
            near |= ends
    types = {kind for p in near for kind in assembly.positions[p].type.lineage}
    media = {port.medium for p in positions for port in assembly.positions[p].type.ports.values()}
    return tuple(c.id for c in knowledge.cautions if c.type in types or c.medium in media)
