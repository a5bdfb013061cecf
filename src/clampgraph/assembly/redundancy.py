"""Ports with several feeds: a quantity is lost only when every feed loses it.

Twin main valves or several quick exhaust valves share a load.
For the guidewords that take something away, the port deviates so when every feed does;
while only some feeds fail, or each in its own way, the port runs short of capacity.
A quantity that is its own shortfall needs no gate for that: any failing feed leaves less of it.
One gate for each guideword keeps the network narrow, which more exact mixtures of double faults would not.
"""

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass

from clampgraph.assembly.deviations import Deviation
from clampgraph.assembly.knowledge import Quantity

__all__ = ["DEGRADING", "Gate", "gates_at"]

DEGRADING = ("no", "less", "late", "other-than")
"""Guidewords that take something away; the others add something and need only one feed."""

Place = tuple[str, str, str, str]


@dataclass(frozen=True, slots=True)
class Gate:
    """A node that is on when all (`and`) or any (`or`) of its causes are."""

    id: str
    kind: str
    causes: tuple[str, ...]


def gates_at(
    place: Place, feeds: Sequence[tuple[str, str]], arrivals: Collection[Deviation], quantity: Quantity
) -> Iterator[Gate]:
    """List the gates of a port that several feeds serve.

    Parameters
    ----------
    place
        Phase, position, port and quantity where the feeds meet.
    feeds
        Position and port of every live feed.
    arrivals
        Degrading deviations of the quantity in this phase at the feeds.
    quantity
        The redundant quantity.
    """
    phase, position, port, _ = place
    by_feed = [{d.guideword: d.id for d in arrivals if (d.position, d.port) == feed} for feed in feeds]
    short = Deviation(phase, position, port, quantity.shortfall, "less").id if quantity.shortfall else None
    for word in sorted({d.guideword for d in arrivals}):
        target = Deviation(phase, position, port, quantity.id, word).id
        if target != short:
            yield from _all_feeds(target, word, by_feed)
    worse = tuple(sorted(d.id for d in arrivals))
    if short and worse:
        yield Gate(short, "or", worse)


def _all_feeds(target: str, word: str, by_feed: Sequence[dict[str, str]]) -> Iterator[Gate]:
    if all(word in found for found in by_feed):
        yield Gate(f"{target}/every-feed", "and", tuple(found[word] for found in by_feed))
        yield Gate(target, "or", (f"{target}/every-feed",))
