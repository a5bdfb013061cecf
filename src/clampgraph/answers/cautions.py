"""Which cautions apply to an assembly."""

from clampgraph.answers.models import CautionOut
from clampgraph.assembly import Assembly, Knowledge

__all__ = ["cautions_for"]


def cautions_for(knowledge: Knowledge, assembly: Assembly) -> tuple[CautionOut, ...]:
    """Return the cautions for the media and component types of an assembly, in the order of the pack."""
    types = {name for position in assembly.positions.values() for name in position.type.lineage}
    media = {port.medium for position in assembly.positions.values() for port in position.type.ports.values()}
    return tuple(
        CautionOut(id=c.id, text=c.text, source=knowledge.words.get(c.source, c.source))
        for c in knowledge.cautions
        if c.always or c.medium in media or c.type in types
    )
