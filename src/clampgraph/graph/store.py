"""A graph that answers named questions."""

from collections.abc import Mapping
from functools import cached_property

from pyoxigraph import Store

from clampgraph.graph import named_queries
from clampgraph.graph.named_queries import Row
from clampgraph.graph.results import Reply, reply
from clampgraph.graph.sandbox import Sandbox
from clampgraph.graph.terms import Plain

__all__ = ["GraphStore"]


class GraphStore:
    """Loaded packs in an Oxigraph store; read only for everyone but the loader."""

    def __init__(self, store: Store) -> None:
        self.store = store

    def __len__(self) -> int:
        return len(self.store)

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
        """
        return named_queries.run(self.store, name, bindings)

    def reply(self, name: str, bindings: Mapping[str, Plain], wanted: str = "") -> Reply:
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
        return reply(self.store, query.text, wanted, dict(bindings))

    @cached_property
    def sandbox(self) -> Sandbox:
        """A process of its own for raw SPARQL."""
        return Sandbox(self.store)
