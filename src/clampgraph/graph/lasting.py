"""A graph that outlasts its edition: what was derived from it stays true as long as all that was read stays the same.

Most packs that are loaded into a running service change nothing of what was asked so far: a note, a unit of another
builder's, a corrected label elsewhere.
So it is remembered what was read, as a digest for each named question,
and when other packs are loaded, the same questions are put to them.
If each is answered as before, everything derived from the old graph is what would be derived from the new one,
and may be kept; what is read from then on comes from the new one.
"""

from collections.abc import Callable, Iterator
from hashlib import blake2b
from threading import Lock

from pyoxigraph import Store

from clampgraph.graph.named_queries import Row
from clampgraph.graph.results import Reply
from clampgraph.graph.sandbox import Sandbox
from clampgraph.graph.store import GraphStore
from clampgraph.graph.terms import Plain

__all__ = ["MOST_READ", "Lasting"]

MOST_READ = 20_000
"""Questions remembered; a graph of which more was read does not last, since asking all again would take too long."""

_Asked = tuple[str, tuple[tuple[str, Plain], ...]]


class Lasting(GraphStore):
    """A graph that can go over to another in which everything that was read reads the same.

    Parameters
    ----------
    graph
        What is read first.
    """

    def __init__(self, graph: GraphStore, lock: "Lock | None" = None) -> None:
        self.graph = graph
        self.read: dict[_Asked, bytes] = {}
        self._twins: dict[str, tuple[Callable[[Store], Store], Lasting]] = {}
        self._lock = lock or Lock()  # one for a graph and its twins, which go over together

    @property
    def edition(self) -> str:  # type: ignore[override]  # it changes
        """What tells these triples from any others; empty where nobody knows."""
        return self.graph.edition

    def __len__(self) -> int:
        return len(self.graph)

    @property
    def store(self) -> Store:
        """All triples, as they are now."""
        return self.graph.store

    @property
    def sandbox(self) -> Sandbox:
        """A process of its own for raw SPARQL."""
        return self.graph.sandbox

    def twin(self, name: str, change: Callable[[Store], Store]) -> "Lasting":
        """Return the graph that a change makes of this one; it lasts with this one."""
        with self._lock:
            if name not in self._twins:
                self._twins[name] = change, Lasting(self.graph.twin(name, change), self._lock)
            return self._twins[name][1]

    def ask(self, name: str, **bindings: Plain) -> list[Row]:
        """Run a named query with bound values, and remember what it gave."""
        asked = name, tuple(sorted(bindings.items()))
        while True:
            graph = self.graph
            rows = graph.ask(name, **bindings)
            with self._lock:
                if graph is self.graph:  # else it went over meanwhile, without having checked this answer
                    if asked not in self.read:
                        self.read[asked] = _digest(rows)
                    return rows

    def reply(self, name: str, bindings: dict[str, Plain], wanted: str = "") -> Reply:  # type: ignore[override]
        """Run a named query and serialise its result."""
        return self.graph.reply(name, bindings, wanted)

    def close(self) -> None:
        """Let go of processes and connections; the next question makes new ones."""
        self.graph.close()

    def goes_over(self, other: GraphStore) -> bool:
        """Read another graph from now on, if everything that was read reads the same there; tell whether."""
        checked = set[tuple[int, _Asked]]()
        others = {id(self): other}
        while True:
            with self._lock:
                family = list(self.family(others))
                rest = [
                    (mine, other, asked) for mine, other in family for asked in mine.read
                    if (id(mine), asked) not in checked
                ]  # fmt: skip
                if not rest:
                    for mine, another in family:
                        mine.graph = another
                    return True
            if len(checked) + len(rest) > MOST_READ:
                return False
            for mine, another, (name, bindings) in rest:
                if _digest(another.ask(name, **dict(bindings))) != mine.read[name, bindings]:
                    return False
                checked.add((id(mine), (name, bindings)))

    def family(self, others: dict[int, GraphStore]) -> Iterator[tuple["Lasting", GraphStore]]:
        """Yield this graph and its twins, each with what it would read."""
        other = others[id(self)]
        yield self, other
        for name, (change, twin) in self._twins.items():
            if id(twin) not in others:
                others[id(twin)] = other.twin(name, change)
            yield from twin.family(others)


def _digest(rows: list[Row]) -> bytes:
    return blake2b(repr(rows).encode("utf-8", "surrogatepass"), digest_size=16).digest()
