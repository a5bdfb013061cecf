"""Named queries, and the SPARQL 1.1 Protocol for reading."""

import re
from collections.abc import Sequence
from typing import Annotated
from urllib.parse import parse_qsl

from fastapi import APIRouter, HTTPException, Query, Request, Response
from starlette.concurrency import run_in_threadpool

from clampgraph.answers import query as asking
from clampgraph.answers.library import Library
from clampgraph.answers.query import QueriesAnswer
from clampgraph.api.accepting import accepted, best
from clampgraph.api.linked import LINKED
from clampgraph.api.problems import DeclinedError
from clampgraph.api.routes import Loaded, send
from clampgraph.errors import WrongCallError

__all__ = ["FORM", "GRAPHS", "QUERY", "ROWS", "router"]

router = APIRouter()

QUERY, FORM = "application/sparql-query", "application/x-www-form-urlencoded"
"""The types of body that hold a query."""

ROWS = {
    "application/sparql-results+json": "json",
    "application/json": "json",
    "application/sparql-results+xml": "xml",
    "application/xml": "xml",
    "text/csv": "csv",
    "text/tab-separated-values": "tsv",
}
"""Formats of SELECT and ASK."""

GRAPHS = {"text/turtle": "turtle", "application/n-triples": "ntriples", LINKED: "jsonld"}
"""Formats of CONSTRUCT and DESCRIBE."""

_FORM_OF_QUERY = re.compile(
    r"(?:\s|#[^\n]*(?:\n|$)|PREFIX\s+[^\s:<]*:\s*<[^>]*>|BASE\s*<[^>]*>)*+(SELECT|ASK|CONSTRUCT|DESCRIBE)\b",
    re.IGNORECASE,
)
_DATASET = ("default-graph-uri", "named-graph-uri")

Format = Annotated[str, Query(description="json, xml, csv, tsv; turtle, ntriples, jsonld for graphs.")]


def _wanted(request: Request, text: str, told: str) -> str:
    """Return the short name of the format told, or that Accept wants most of those that hold the answer to a query."""
    if told and "/" not in told:
        return told
    form = _FORM_OF_QUERY.match(text)
    if form is None:
        return ""
    offered = GRAPHS if form[1].upper() in ("CONSTRUCT", "DESCRIBE") else ROWS
    if told:  # some clients tell media types here, as in Accept
        return offered.get(best(told, offered) or "", told)
    return accepted(request, offered, "")


@router.get("/queries", response_model=QueriesAnswer, summary="Which questions are kept ready?")
def get_queries() -> Response:
    """List the named queries with their bindings and columns."""
    return send(asking.queries())


@router.get(
    "/queries/{name:path}",
    summary="What does a named query answer?",
    openapi_extra={
        "parameters": [
            {
                "name": "bindings",
                "in": "query",
                "description": "A value for each binding of the query, under its name.",
                "style": "form",
                "explode": True,
                "schema": {"type": "object", "additionalProperties": {"type": "string"}},
            }
        ]
    },
)
def get_query(library: Loaded, request: Request, name: str, format: Format = "") -> Response:  # noqa: A002  # what people type
    """Run a named query; every other parameter binds a value."""
    bindings = {key: value for key, value in request.query_params.items() if key != "format"}
    reply = asking.run(library, name, bindings, format or accepted(request, ROWS, ""))
    return Response(reply.body, media_type=reply.media_type)


@router.get("/sparql", summary="What do you want to ask of the graph?")
def get_sparql(
    library: Loaded,
    request: Request,
    query: Annotated[str, Query(description="SELECT, ASK, CONSTRUCT or DESCRIBE.")] = "",
    format: Format = "",  # noqa: A002  # as above
) -> Response:
    """Run a SELECT, ASK, CONSTRUCT or DESCRIBE over what is loaded (SPARQL 1.1 Protocol, 2.1.1)."""
    _check_protocol(request.query_params.multi_items())
    return _answer(request, library, query, _wanted(request, query, format))


@router.post(
    "/sparql",
    summary="What do you want to ask of the graph, in a body?",
    openapi_extra={
        "requestBody": {
            "required": True,
            "content": {
                QUERY: {"schema": {"type": "string"}},
                FORM: {
                    "schema": {"type": "object", "properties": {"query": {"type": "string"}}, "required": ["query"]}
                },
            },
        }
    },
)
async def post_sparql(library: Loaded, request: Request) -> Response:
    """Run a query sent as the body, or as the field `query` of a form (SPARQL 1.1 Protocol, 2.1.2 and 2.1.3)."""
    kind = request.headers.get("content-type", "").split(";")[0].strip().lower()
    if kind not in (QUERY, FORM):
        told = f"The body is of the type '{kind}'; send {QUERY}, or {FORM} with the field 'query'."
        raise HTTPException(415, told, {"accept": f"{QUERY}, {FORM}"})
    try:
        text = (await request.body()).decode("utf-8")
    except UnicodeDecodeError as error:
        raise DeclinedError(400, WrongCallError(f"The body is no UTF-8, from byte {error.start} on.")) from error
    fields = [*request.query_params.multi_items(), *(parse_qsl(text, keep_blank_values=True) if kind == FORM else ())]
    _check_protocol([*fields, *([("query", text)] if kind == QUERY else ())])
    named = dict(fields)
    query = text if kind == QUERY else named.get("query", "")
    wanted = _wanted(request, query, named.get("format", ""))
    return await run_in_threadpool(_answer, request, library, query, wanted)


def _check_protocol(fields: Sequence[tuple[str, str]]) -> None:
    """Refuse what the protocol forbids or what would reach beyond the loaded graph."""
    names = [name for name, _ in fields]
    if names.count("query") != 1:
        told = "no query" if "query" not in names else f"{names.count('query')} queries"
        raise DeclinedError(400, WrongCallError(f"There is {told} in the request; send exactly one as 'query'."))
    if "update" in names:
        raise DeclinedError(400, WrongCallError("Updates are refused: data is only read here; send 'query'."))
    for name in _DATASET:
        if name in names:
            told = f"'{name}' is refused: a query sees only what is loaded here, as one graph; leave it out."
            raise DeclinedError(400, WrongCallError(told))


def _answer(request: Request, library: Library, query: str, wanted: str) -> Response:
    try:
        reply = asking.raw(library, query, wanted, request.app.state.settings.queries)
    except WrongCallError as error:
        # The protocol has 400 for what is no query and for what a service declines to run (2.1.4).
        raise DeclinedError(400, error) from error
    return Response(reply.body, media_type=reply.media_type)
