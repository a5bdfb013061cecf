"""Triples behind a SPARQL 1.1 endpoint: each question is sent over HTTP, each answer read back as terms.

SPARQL 1.1 binds no values over the wire.
They go into the query as inline data at the head of its pattern, written by the serialiser of terms.
"""

import re
import time
import weakref
from collections.abc import Mapping
from functools import cached_property
from http import HTTPStatus
from threading import Lock
from typing import TYPE_CHECKING
from urllib.parse import urlsplit, urlunsplit

from pyoxigraph import (
    Quad,
    QueryBoolean,
    QueryResultsFormat,
    QuerySolutions,
    RdfFormat,
    Store,
    Triple,
    parse,
    parse_query_results,
)

from clampgraph.errors import StoreError, WrongCallError
from clampgraph.graph.named_queries import NamedQuery, Row, rows, substitutions
from clampgraph.graph.results import Reply, Result, written
from clampgraph.graph.sandbox import Sandbox
from clampgraph.graph.terms import Plain

if TYPE_CHECKING:
    import httpx

__all__ = ["Remote", "bound"]

CONNECT, ANSWER = 5.0, 60.0
"""Seconds within which an endpoint must take a connection, and must have answered."""

LARGEST = 256_000_000
"""Bytes that an answer of an endpoint may have."""

_TABLES = "application/sparql-results+json", "application/json"
_GRAPHS = "application/n-triples", "text/plain"
_WORDS = re.compile(
    r"""\#[^\n]* | <[^<>"{}|^`\\\s]*> | "{3}.*?(?<!\\)"{3} | '{3}.*?(?<!\\)'{3}
    | "(?:[^"\\\n]|\\.)*" | '(?:[^'\\\n]|\\.)*' | (?P<open>\{)""",
    re.VERBOSE | re.DOTALL,
)


def bound(text: str, bindings: Mapping[str, Plain]) -> str:
    """Return a SELECT query with values bound, as inline data at the head of its pattern.

    Examples
    --------
    >>> bound("SELECT ?s { ?s ?p ?o }", {"o": "} LIMIT 1 #"})
    'SELECT ?s { VALUES (?o) { ("} LIMIT 1 #") } ?s ?p ?o }'
    """
    if not bindings:
        return text
    given = substitutions(bindings)
    cut = next((word.end() for word in _WORDS.finditer(text) if word["open"]), None)
    if cut is None:
        raise WrongCallError("The query has no pattern to bind values in; write it as SELECT … { … }.")
    names, values = " ".join(map(str, given)), " ".join(map(str, given.values()))
    return f"{text[:cut]} VALUES ({names}) {{ ({values}) }}{text[cut:]}"


class Remote:
    """A SPARQL 1.1 endpoint; nothing is kept of it, so that it may go and come back."""

    def __init__(self, address: str, seconds: float = ANSWER) -> None:
        self._address, self._seconds = address, seconds
        self._told = _without_password(address)
        self._lock = Lock()
        self._client: httpx.Client | None = None

    @property
    def store(self) -> Store:
        """A copy of all that the endpoint holds, fetched anew."""
        copy = Store()
        graph = self._asked("CONSTRUCT { ?s ?p ?o } WHERE { ?s ?p ?o }")
        if isinstance(graph, QueryBoolean | QuerySolutions):
            raise self._strange("a table where a graph was asked for")
        copy.bulk_extend(Quad(*triple) for triple in graph)
        return copy

    def __len__(self) -> int:
        counted = self._asked("SELECT (COUNT(*) AS ?n) WHERE { ?s ?p ?o }")
        number = rows(counted, "counting triples")[0]["n"]
        if not isinstance(number, int):
            raise self._strange("no number of triples")
        return number

    def select(self, query: NamedQuery, bindings: Mapping[str, Plain]) -> list[Row]:
        """Return the rows of a named query."""
        return rows(self._asked(bound(query.text, bindings)), query.name)

    def reply(self, text: str, wanted: str, bindings: Mapping[str, Plain]) -> Reply:
        """Run a query that is let in, and serialise its result."""
        media, body = self._fetched(bound(text, bindings))
        return written(lambda: self._parsed(media, body), wanted)

    @cached_property
    def sandbox(self) -> Sandbox:
        """A process of its own that judges raw SPARQL and sends on what it lets in."""
        return Sandbox(self._address)

    def close(self) -> None:
        """Let go of connections, and of the process for raw SPARQL; the next question makes new ones."""
        if "sandbox" in vars(self):
            self.sandbox.close()
        with self._lock:
            if self._client is not None:
                self._client.close()
            self._client = None

    def _asked(self, text: str) -> Result:
        return self._parsed(*self._fetched(text))

    def _parsed(self, media: str, body: bytes) -> Result:
        try:
            if media in _TABLES:
                return parse_query_results(body, QueryResultsFormat.JSON)
            if media in _GRAPHS:
                quads = list(parse(body, format=RdfFormat.N_TRIPLES))
                return (Triple(q.subject, q.predicate, q.object) for q in quads)
        except (SyntaxError, ValueError) as error:
            raise self._strange(f"what is no {media}: {error}") from error
        raise self._strange(f"'{media}'")

    def _fetched(self, text: str) -> tuple[str, bytes]:
        """Send a query; return the media type of the answer and its body."""
        import httpx  # noqa: PLC0415  # only an endpoint needs it

        head = {"accept": f"{_TABLES[0]}, {_GRAPHS[0]}", "content-type": "application/sparql-query; charset=utf-8"}
        end = time.monotonic() + self._seconds
        try:
            with self._opened().stream("POST", self._address, content=text.encode(), headers=head) as answer:
                body = self._whole(answer, end)
        except (httpx.HTTPError, httpx.InvalidURL, OSError) as error:
            reason = str(error) or type(error).__name__
            raise StoreError(f"The store at {self._told} does not answer ({reason}): check that it runs.") from error
        media = answer.headers.get("content-type", "").split(";")[0].strip().lower()
        if answer.status_code == HTTPStatus.BAD_REQUEST:
            said = body.decode("utf-8", "replace").strip().splitlines()[:1]
            raise WrongCallError(f"The query cannot be run: {''.join(said)[:300].rstrip('.')}.")
        if answer.status_code != HTTPStatus.OK:
            raise StoreError(f"The store at {self._told} answered with status {answer.status_code}: check its address.")
        return media, body

    def _whole(self, answer: "httpx.Response", end: float) -> bytes:
        blocks, size = [], 0
        for block in answer.iter_bytes():
            size += len(block)
            if size > LARGEST:
                raise WrongCallError(f"The store at {self._told} answers with more than {LARGEST} bytes.")
            if time.monotonic() > end:
                raise StoreError(f"The store at {self._told} took longer than {self._seconds:g} s: ask again later.")
            blocks.append(block)
        return b"".join(blocks)

    def _opened(self) -> "httpx.Client":
        import httpx  # noqa: PLC0415  # only an endpoint needs it

        with self._lock:
            if self._client is None:
                self._client = httpx.Client(timeout=httpx.Timeout(self._seconds, connect=CONNECT))
                weakref.finalize(self, self._client.close)  # a store that nobody holds any more keeps no connection
            return self._client

    def _strange(self, what: str) -> StoreError:
        return StoreError(f"The store at {self._told} answered {what}: is it a SPARQL 1.1 endpoint?")


def _without_password(address: str) -> str:
    parts = urlsplit(address)
    return urlunsplit(parts._replace(netloc=parts.netloc.rpartition("@")[2]))
