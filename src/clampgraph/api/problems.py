"""Errors over HTTP: RFC 9457 problem details with the same sentence as on the command line."""

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse
from starlette.exceptions import HTTPException

from clampgraph.answers.models import sentence
from clampgraph.errors import ClampgraphError, UnknownNameError, WrongCallError

__all__ = ["install"]

_TYPE = "https://w3id.org/clampgraph/problems#"


def _problem(status: int, slug: str, title: str, detail: str, **more: object) -> JSONResponse:
    body = {"type": _TYPE + slug, "title": title, "status": status, "detail": detail, **more}
    return JSONResponse(body, status, media_type="application/problem+json")


def _known(_: Request, error: Exception) -> JSONResponse:
    if not isinstance(error, ClampgraphError):
        raise error
    more = {"nearest": list(error.nearest)} if isinstance(error, UnknownNameError) else {}
    return _problem(error.http_status, error.slug, error.title, str(error), **more)


def _invalid(_: Request, error: Exception) -> JSONResponse:
    if not isinstance(error, RequestValidationError):
        raise error
    wrong = WrongCallError
    return _problem(wrong.http_status, wrong.slug, wrong.title, sentence(error.errors()))


def _http(_: Request, error: Exception) -> JSONResponse:
    if not isinstance(error, HTTPException):
        raise error
    return _problem(error.status_code, "http", "The request cannot be served", str(error.detail))


def install(app: FastAPI) -> None:
    """Answer every error of this application as a problem document."""
    app.add_exception_handler(ClampgraphError, _known)
    app.add_exception_handler(RequestValidationError, _invalid)
    app.add_exception_handler(HTTPException, _http)
