"""A graph that answers named questions, wherever its triples are kept."""

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Protocol

from pyoxigraph import Store

from clampgraph.graph import named_queries
from clampgraph.graph.local import Local
from clampgraph.graph.named_queries import NamedQuery, Row
from clampgraph.graph.snapshot import Snapshot
from clampgraph.graph.terms import Plain

if TYPE_CHECKING:
    from clampgraph.graph.results import Reply
    from clampgraph.graph.sandbox import Sandbox

__all__ = ["GraphStore", "Kept"]


class Kept(Protocol):
    """Where triples are kept: in this process, in a folder, behind an endpoint."""

    @property
    def store(self) -> Store:
        """All triples, in a store of this process."""

    @property
    def sandbox(self) -> "Sandbox":
        """A process of its own for raw SPARQL."""

    def __len__(self) -> int: ...

    def select(self, query: NamedQuery, bindings: Mapping[str, Plain]) -> list[Row]:
        """Return the rows of a named query."""

    def reply(self, text: str, wanted: str, bindings: Mapping[str, Plain]) -> "Reply":
        """Run a query that is let in, and serialise its result."""

    def close(self) -> None:
        """Let go of processes and connections; the next question makes new ones."""


class GraphStore:
    """Loaded packs; read only for everyone but the loader.

    Parameters
    ----------
    kept
        A store in this process, or whatever keeps triples elsewhere.
    snapshot
        Answers kept from earlier runs, which spare asking again.
    edition
        What tells these triples from any others; empty where nobody knows.
    """

    def __init__(self, kept: Store | Kept, snapshot: Snapshot | None = None, edition: str = "") -> None:
        self.edition = edition
        self._kept: Kept = Local(lambda: kept) if isinstance(kept, Store) else kept
        self._snapshot = snapshot

    def __len__(self) -> int:
        return len(self._kept)

    @property
    def store(self) -> Store:
        """All triples; whoever takes them may change them, so that from now on nothing is answered from memory."""
        self._snapshot = None
        return self._kept.store

    def twin(self, name: str, change: Callable[[Store], Store]) -> "GraphStore":
        """Return the graph that a change makes of this one; changed when first needed, with a snapshot of its own."""
        memory = self._snapshot.twin(name) if self._snapshot is not None else None
        return GraphStore(Local(lambda: change(self._kept.store)), memory)

    def ask(self, name: str, **bindings: Plain) -> list[Row]:
        """Run a named query with bound values.

        Parameters
        ----------
        name
            Area and verb-noun of a file below `queries/`, for example ``assembly/list-positions``.
        bindings
            Values for the query's variables; bound as terms, never formatted into its text.

        Returns
        -------
        list of Row
            One mapping from column to plain value for each solution, in the order of the query.

        Raises
        ------
        UnknownNameError
            If there is no query of that name.
        StoreError
            If the triples cannot be reached.
        """
        query, memory = named_queries.find(name), self._snapshot
        known = memory.get(name, bindings) if memory is not None else None
        if known is not None:
            return list(known)
        rows = self._kept.select(query, bindings)
        if memory is not None:
            memory.put(name, bindings, rows)
        return rows

    def reply(self, name: str, bindings: Mapping[str, Plain], wanted: str = "") -> "Reply":
        """Run a named query and serialise its result; see `results.reply`.

        Raises
        ------
        UnknownNameError
            If there is no query of that name, or it has no such binding.
        WrongCallError
            If a binding is missing, or the format does not hold the result.
        """
        query = named_queries.find(name)
        named_queries.check_bindings(query, name, bindings)
        return self._kept.reply(query.text, wanted, bindings)

    @property
    def sandbox(self) -> "Sandbox":
        """A process of its own for raw SPARQL."""
        return self._kept.sandbox

    def close(self) -> None:
        """Let go of processes and connections; the next question makes new ones."""
        self._kept.close()
