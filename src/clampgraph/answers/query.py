"""Ask anything: named queries with bound values, and raw SPARQL that only reads."""

from collections.abc import Mapping

from clampgraph.answers.library import Library
from clampgraph.answers.models import Answer
from clampgraph.graph.named_queries import catalogue
from clampgraph.graph.results import Reply

__all__ = ["QueriesAnswer", "QueryOut", "queries", "raw", "run"]


class QueryOut(Answer):
    """A named query: what it asks, what it needs, what it gives."""

    name: str
    question: str
    bindings: tuple[str, ...]
    columns: tuple[str, ...]


class QueriesAnswer(Answer):
    """All named queries, in alphabetical order."""

    queries: tuple[QueryOut, ...]


def queries() -> QueriesAnswer:
    """Answer which questions are kept ready."""
    return QueriesAnswer(
        queries=tuple(
            QueryOut(name=name, question=q.question, bindings=q.bindings, columns=q.columns)
            for name, q in sorted(catalogue().items())
        )
    )


def run(library: Library, name: str, bindings: Mapping[str, str], wanted: str = "") -> Reply:
    """Answer a named query in a format of the SPARQL 1.1 standards.

    Raises
    ------
    UnknownNameError
        If there is no such query or binding; names the nearest.
    WrongCallError
        If a binding is missing, or the format does not hold the result.
    """
    return library.graph.reply(name, bindings, wanted)


def raw(library: Library, text: str, wanted: str = "", at_once: int | None = None) -> Reply:
    """Answer raw SPARQL in a process of its own, within its limits of time and rows; only so many work at once.

    Raises
    ------
    WrongCallError
        If the query is no read-only query over what is loaded, or exceeds a limit.
    StoreError
        If too many queries wait already.
    """
    return library.graph.sandbox.ask(text, wanted, at_once)
