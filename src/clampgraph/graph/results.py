"""Results of a query in the formats of the SPARQL 1.1 standards."""

from dataclasses import dataclass
from typing import TypeVar

from pyoxigraph import QueryBoolean, QueryResultsFormat, QuerySolutions, QueryTriples, RdfFormat, Store

from clampgraph.errors import WrongCallError
from clampgraph.graph.named_queries import substitutions
from clampgraph.graph.terms import Plain

__all__ = ["GRAPH_FORMATS", "ROW_LIMIT", "TABLE_FORMATS", "Reply", "reply"]

F = TypeVar("F")

ROW_LIMIT = 100_000
"""Rows or triples that an answer may have."""

TABLE_FORMATS = {
    "json": QueryResultsFormat.JSON,
    "xml": QueryResultsFormat.XML,
    "csv": QueryResultsFormat.CSV,
    "tsv": QueryResultsFormat.TSV,
}
"""Formats for SELECT and ASK, by short name."""

GRAPH_FORMATS = {"turtle": RdfFormat.TURTLE, "ntriples": RdfFormat.N_TRIPLES, "jsonld": RdfFormat.JSON_LD}
"""Formats for CONSTRUCT and DESCRIBE, by short name."""


@dataclass(frozen=True, slots=True)
class Reply:
    """A serialised result and its media type."""

    media_type: str
    body: bytes


def reply(store: Store, text: str, wanted: str = "", bindings: dict[str, Plain] | None = None) -> Reply:
    """Run a query and serialise its result.

    Parameters
    ----------
    store
        What is loaded.
    text
        A query that `guard` has let in, or a named one.
    wanted
        Short name of a format; JSON for tables and Turtle for graphs if empty.
    bindings
        Values for variables of the query.

    Raises
    ------
    WrongCallError
        If the query is wrong, the format does not hold this kind of result, or there are more than `ROW_LIMIT` rows.
    """
    given = substitutions(bindings or {})
    try:
        result = store.query(text, substitutions=given)
        if isinstance(result, QueryBoolean):
            kind = _format(wanted, TABLE_FORMATS, "json", "true or false")
            return Reply(kind.media_type, result.serialize(format=kind) or b"")
        _count(result)
        result = store.query(text, substitutions=given)
        if isinstance(result, QueryTriples):
            graph = _format(wanted, GRAPH_FORMATS, "turtle", "a graph")
            return Reply(graph.media_type, result.serialize(format=graph) or b"")
        kind = _format(wanted, TABLE_FORMATS, "json", "a table")
        return Reply(kind.media_type, result.serialize(format=kind) or b"")
    except (SyntaxError, ValueError, RuntimeError) as error:
        raise WrongCallError(f"The query cannot be run: {str(error).splitlines()[0]}.") from error


def _count(result: QuerySolutions | QueryTriples) -> None:
    for number, _ in enumerate(result, 1):
        if number > ROW_LIMIT:
            raise WrongCallError(f"The answer has more than {ROW_LIMIT} rows: narrow the query, or add a LIMIT.")


def _format(wanted: str, known: dict[str, F], default: str, what: str) -> F:
    name = wanted or default
    if name not in known:
        raise WrongCallError(f"The format '{name}' does not hold {what}; choose one of {', '.join(known)}.")
    return known[name]
