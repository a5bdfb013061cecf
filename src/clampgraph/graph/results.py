"""Results of a query in the formats of the SPARQL 1.1 standards."""

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from io import BytesIO
from typing import TypeVar

from pyoxigraph import QueryBoolean, QueryResultsFormat, QuerySolutions, RdfFormat, Store, Triple, serialize
from typing_extensions import Buffer

from clampgraph.errors import WrongCallError
from clampgraph.graph.named_queries import substitutions
from clampgraph.graph.terms import Plain

__all__ = ["BYTE_LIMIT", "GRAPH_FORMATS", "ROW_LIMIT", "TABLE_FORMATS", "Reply", "Result", "reply", "written"]

F = TypeVar("F")
T = TypeVar("T")

Result = QueryBoolean | QuerySolutions | Iterable[Triple]
"""What a query gives: true or false, a table, or a graph."""

ROW_LIMIT = 100_000
"""Rows or triples that an answer may have."""

BYTE_LIMIT = 64_000_000
"""Bytes that an answer may have."""

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


def reply(store: Store, text: str, wanted: str = "", bindings: Mapping[str, Plain] | None = None) -> Reply:
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
        If the query is wrong, the format does not hold this kind of result, or the answer is too large.
    """
    given = substitutions(bindings or {})
    try:
        return written(lambda: store.query(text, substitutions=given), wanted)
    except WrongCallError as error:
        # A result may only end in the thread that asked for it; frames in the traceback would carry it elsewhere.
        raise error.with_traceback(None) from None
    except (SyntaxError, ValueError, RuntimeError) as error:
        raise WrongCallError(
            f"The query cannot be run: {str(error).splitlines()[0].rstrip('.')}."
        ) from error.with_traceback(None)


def written(asked: Callable[[], Result], wanted: str = "") -> Reply:
    """Serialise a result; it is asked for twice if it is a table, once to count its rows.

    Raises
    ------
    WrongCallError
        If the format does not hold this kind of result, or there are more than `ROW_LIMIT` rows or `BYTE_LIMIT` bytes.
    """
    result, into = asked(), _Paper()
    if isinstance(result, QueryBoolean):
        kind = _format(wanted, TABLE_FORMATS, "json", "true or false")
        result.serialize(into, format=kind)
    elif isinstance(result, QuerySolutions):
        kind = _format(wanted, TABLE_FORMATS, "json", "a table")
        for _ in _counted(result):
            pass
        again = asked()
        assert isinstance(again, QuerySolutions)  # noqa: S101  # the same query gives the same kind
        again.serialize(into, format=kind)
    else:
        graph = _format(wanted, GRAPH_FORMATS, "turtle", "a graph")
        serialize(_counted(result), into, format=graph)
        return Reply(graph.media_type, into.getvalue())
    return Reply(kind.media_type, into.getvalue())


class _Paper(BytesIO):
    """Bytes that do not grow without end."""

    def write(self, block: Buffer) -> int:
        if self.tell() + len(memoryview(block)) > BYTE_LIMIT:
            raise WrongCallError(f"The answer has more than {BYTE_LIMIT} bytes: narrow the query, or add a LIMIT.")
        return super().write(block)


def _counted(result: Iterable[T]) -> Iterator[T]:
    for number, one in enumerate(result, 1):
        if number > ROW_LIMIT:
            raise WrongCallError(f"The answer has more than {ROW_LIMIT} rows: narrow the query, or add a LIMIT.")
        yield one


def _format(wanted: str, known: Mapping[str, F], default: str, what: str) -> F:
    name = wanted or default
    if name not in known:
        raise WrongCallError(f"The format '{name}' does not hold {what}; choose one of {', '.join(known)}.")
    return known[name]
