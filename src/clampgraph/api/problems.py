"""Errors over HTTP: RFC 9457 problem details with the same sentence as on the command line."""

import re
from collections.abc import Mapping
from http import HTTPStatus

from fastapi import FastAPI, Request, Response
from fastapi.exceptions import RequestValidationError
from starlette.exceptions import HTTPException
from starlette.routing import Match

from clampgraph.answers.models import sentence
from clampgraph.answers.problems import PROBLEM_TYPES, ProblemOut, problem_of
from clampgraph.api.versions import unknown_version
from clampgraph.errors import ClampgraphError, WrongCallError

__all__ = ["MEDIA", "DeclinedError", "install", "problem", "unforeseen"]

MEDIA = "application/problem+json"
"""The media type of a problem document."""

_JSON = re.compile(r"application/(?:[\w.+-]+\+)?json\s*(?:;|$)", re.IGNORECASE)


class DeclinedError(Exception):
    """An error of ours that the protocol of one route gives another status than usual."""

    def __init__(self, status: int, error: ClampgraphError) -> None:
        super().__init__(str(error))
        self.status, self.error = status, error


def problem(status: int, detail: str, headers: Mapping[str, str] | None = None) -> Response:
    """Return the problem document of an HTTP status that no error of ours stands for; its name is the type."""
    return _document(_plain(status, detail), headers)


def _plain(status: int, detail: str) -> ProblemOut:
    title = "The request cannot be served"
    return ProblemOut(type=PROBLEM_TYPES + _slug(HTTPStatus(status).phrase), title=title, status=status, detail=detail)


def unforeseen() -> ProblemOut:
    """Return what is told of a fault that nobody foresaw."""
    return _plain(500, "The service failed on this request; its log says where.")


def _slug(name: str) -> str:
    return re.sub(r"[^a-z]+", "-", name.lower()).strip("-")


def _document(told: ProblemOut, headers: Mapping[str, str] | None = None) -> Response:
    pause = {"retry-after": str(told.retry_after)} if told.retry_after is not None else {}
    return Response(told.model_dump_json(), told.status, {**pause, **(headers or {})}, MEDIA)


def _told(error: ClampgraphError, status: int | None = None) -> Response:
    return _document(problem_of(error, status))


def _known(_: Request, error: Exception) -> Response:
    if isinstance(error, DeclinedError):
        return _told(error.error, error.status)
    if not isinstance(error, ClampgraphError):
        raise error
    return _told(error)


def _invalid(request: Request, error: Exception) -> Response:
    if not isinstance(error, RequestValidationError):
        raise error
    if request.method == "POST" and not _JSON.match(kind := request.headers.get("content-type", "")):
        return problem(415, f"The body is of the type '{kind}'; send application/json.", {"accept": "application/json"})
    return _told(WrongCallError(sentence(error.errors())))


def _http(request: Request, error: Exception) -> Response:
    if not isinstance(error, HTTPException):
        raise error
    detail, headers = str(error.detail), {k.lower(): v for k, v in (error.headers or {}).items()}
    bare = detail == HTTPStatus(error.status_code).phrase
    if bare and error.status_code == HTTPStatus.NOT_FOUND:
        detail = unknown_version(request.url.path) or f"Nothing is at {request.url.path}; /openapi.json lists what is."
    if bare and error.status_code == HTTPStatus.METHOD_NOT_ALLOWED:
        allowed = ", ".join(_methods(request))
        headers["allow"] = allowed
        if request.method == "OPTIONS":
            return Response(status_code=204, headers=headers)
        detail = f"{request.method} is not for {request.url.path}; use {allowed}."
    return problem(error.status_code, detail, headers)


def _methods(request: Request) -> list[str]:
    """Return the methods with which this path may be asked."""
    routes = request.app.routes
    taken = [
        method
        for method in ("GET", "POST", "PUT", "PATCH", "DELETE")
        if any(route.matches({**request.scope, "method": method})[0] is Match.FULL for route in routes)
    ]
    return [*(("GET", "HEAD") if "GET" in taken else ()), *(m for m in taken if m != "GET"), "OPTIONS"]


def _unforeseen(_: Request, __: Exception) -> Response:
    return _document(unforeseen())


def install(app: FastAPI) -> None:
    """Answer every error of this application as a problem document."""
    app.add_exception_handler(ClampgraphError, _known)
    app.add_exception_handler(DeclinedError, _known)
    app.add_exception_handler(RequestValidationError, _invalid)
    app.add_exception_handler(HTTPException, _http)
    app.add_exception_handler(Exception, _unforeseen)
