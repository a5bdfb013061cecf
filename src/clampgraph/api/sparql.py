"""Named queries, and the SPARQL 1.1 Protocol for reading."""

from typing import Annotated
from urllib.parse import parse_qs

from fastapi import APIRouter, Query, Request, Response
from starlette.concurrency import run_in_threadpool

from clampgraph.answers import query as asking
from clampgraph.answers.query import QueriesAnswer
from clampgraph.api.routes import Loaded, accepted, send
from clampgraph.errors import WrongCallError

__all__ = ["router"]

router = APIRouter()

_SHORT = {
    "application/sparql-results+json": "json",
    "application/json": "json",
    "application/sparql-results+xml": "xml",
    "text/csv": "csv",
    "text/tab-separated-values": "tsv",
    "text/turtle": "turtle",
    "application/n-triples": "ntriples",
    "application/ld+json": "jsonld",
}

Format = Annotated[str, Query(description="json, xml, csv, tsv; turtle, ntriples, jsonld for graphs.")]


def _wanted(request: Request, format: str) -> str:  # noqa: A002  # the name of the parameter that people type
    """Return the short name of a format: the parameter if given, else the first known one that Accept names."""
    return format or accepted(request, _SHORT, "")


@router.get("/queries", response_model=QueriesAnswer, summary="Which questions are kept ready?")
def get_queries() -> Response:
    """List the named queries with their bindings and columns."""
    return send(asking.queries())


@router.get("/queries/{name:path}", summary="Answer a named query")
def get_query(library: Loaded, request: Request, name: str, format: Format = "") -> Response:  # noqa: A002  # as above
    """Run a named query; every other parameter binds a value."""
    bindings = {key: value for key, value in request.query_params.items() if key != "format"}
    reply = asking.run(library, name, bindings, _wanted(request, format))
    return Response(reply.body, media_type=reply.media_type)


@router.get("/sparql", summary="SPARQL 1.1 Protocol, read only")
def get_sparql(library: Loaded, request: Request, query: str, format: Format = "") -> Response:  # noqa: A002  # as above
    """Run a SELECT, ASK, CONSTRUCT or DESCRIBE over what is loaded."""
    reply = asking.raw(library, query, _wanted(request, format))
    return Response(reply.body, media_type=reply.media_type)


@router.post("/sparql", summary="SPARQL 1.1 Protocol, read only")
async def post_sparql(library: Loaded, request: Request) -> Response:
    """Run a query sent as the body, or as the field `query` of a form."""
    body = (await request.body()).decode("utf-8", "replace")
    kind = request.headers.get("content-type", "").split(";")[0].strip()
    if kind == "application/x-www-form-urlencoded":
        body = parse_qs(body).get("query", [""])[0]
    elif kind != "application/sparql-query":
        raise WrongCallError(f"The body is of type '{kind}'; send application/sparql-query or a form with 'query'.")
    reply = await run_in_threadpool(asking.raw, library, body, _wanted(request, ""))
    return Response(reply.body, media_type=reply.media_type)
