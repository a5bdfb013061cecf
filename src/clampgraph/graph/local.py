"""Triples in this process: an Oxigraph store, in memory unless a folder is told."""

from collections.abc import Callable, Mapping
from functools import cached_property
from pathlib import Path
from threading import Lock
from typing import TYPE_CHECKING

from pyoxigraph import RdfFormat, Store

from clampgraph.errors import StoreError
from clampgraph.graph import named_queries
from clampgraph.graph.named_queries import NamedQuery, Row
from clampgraph.graph.terms import Plain

if TYPE_CHECKING:
    from clampgraph.graph.results import Reply
    from clampgraph.graph.sandbox import Sandbox

__all__ = ["Local"]


class Local:
    """A store in this process; opened when it is first needed, and once."""

    def __init__(self, opened: Callable[[], Store], folder: Path | None = None) -> None:
        self._opened, self._folder = opened, folder
        self._store: Store | None = None
        self._lock = Lock()

    @property
    def store(self) -> Store:
        """The triples themselves."""
        with self._lock:
            if self._store is None:
                self._store = self._opened()
            return self._store

    def __len__(self) -> int:
        return len(self.store)

    def select(self, query: NamedQuery, bindings: Mapping[str, Plain]) -> list[Row]:
        """Return the rows of a named query."""
        try:
            return named_queries.run(self.store, query, bindings)
        except OSError as error:
            raise StoreError(f"The store in {self._folder} cannot be read: {error}.") from error

    def reply(self, text: str, wanted: str, bindings: Mapping[str, Plain]) -> "Reply":
        """Run a query that is let in, and serialise its result."""
        from clampgraph.graph.results import reply  # noqa: PLC0415  # most questions want rows

        return reply(self.store, text, wanted, dict(bindings))

    @cached_property
    def sandbox(self) -> "Sandbox":
        """A process of its own for raw SPARQL, over the same folder, or over a copy of what is in memory."""
        from clampgraph.graph.sandbox import Sandbox  # noqa: PLC0415  # only raw SPARQL needs it

        store = self.store
        return Sandbox(self._folder or store.dump(format=RdfFormat.N_QUADS) or b"")

    def close(self) -> None:
        """End the processes for raw SPARQL, if there are any."""
        sandbox = vars(self).pop("sandbox", None)
        if sandbox is not None:
            sandbox.close()
