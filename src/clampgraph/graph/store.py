"""A graph that answers named questions."""

from collections.abc import Mapping
from typing import Any

from pyoxigraph import Store

from clampgraph.graph import named_queries
from clampgraph.graph.named_queries import Row
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

    def any_query(self, text: str, bindings: Mapping[str, Plain]) -> Any:
        """Run SPARQL text with bound values and return Oxigraph's own result."""
        return self.store.query(text, substitutions=named_queries.substitutions(bindings))
