"""Two doors to the same answers: in this process, or a running service."""

from collections.abc import Mapping
from pathlib import Path
from typing import Any, TypeVar

from clampgraph import errors
from clampgraph.answers.library import Library
from clampgraph.answers.models import Answer
from clampgraph.errors import ClampgraphError, DataError, UnknownNameError

__all__ = ["fetch", "fetch_bytes", "open_library"]

A = TypeVar("A", bound=Answer)


def open_library(packs: list[Path]) -> Library:
    """Load the shipped packs and the given ones."""
    return Library.open(packs)


def fetch(
    server: str, call: tuple[str, str], body: Mapping[str, Any], model: type[A], language: str | None = None
) -> A:
    """Ask a running service; `call` is method and path, `body` the JSON body or the query of a GET.

    Raises
    ------
    ClampgraphError
        The error that the service reports, with its own sentence.
    DataError
        If the service cannot be reached.
    """
    method, path = call
    sent: dict[str, Any] = {"params" if method == "GET" else "json": body}
    if language is not None:
        sent["headers"] = {"accept-language": language}
    return model.model_validate_json(_send(server, method, path, sent))


def fetch_bytes(server: str, path: str, query: Mapping[str, str | list[str]]) -> bytes:
    """Get a document from a running service; empty parameters are left out.

    Raises
    ------
    ClampgraphError
        The error that the service reports, with its own sentence.
    DataError
        If the service cannot be reached.
    """
    return _send(server, "GET", path, {"params": {key: value for key, value in query.items() if value}})


def _send(server: str, method: str, path: str, sent: dict[str, Any]) -> bytes:
    import httpx  # only needed for a remote question

    try:
        reply = httpx.request(method, server.rstrip("/") + path, timeout=60.0, **sent)
    except (httpx.HTTPError, httpx.InvalidURL) as error:
        raise DataError(f"The service at {server} does not answer: {error}.") from error
    if reply.is_success:
        return reply.content
    raise _told(server, reply.status_code, reply.content)


def _told(server: str, status: int, content: bytes) -> ClampgraphError:
    import json  # only needed for a remote error

    try:
        problem = json.loads(content)
        slug, detail = problem["type"].rpartition("#")[2], problem["detail"]
    except (ValueError, KeyError, TypeError, AttributeError):
        return DataError(f"The service at {server} answered {status} without saying why.")
    if slug == UnknownNameError.slug:
        error = UnknownNameError("", "")
        error.args = (detail,)
        return error
    kinds = [getattr(errors, name) for name in errors.__all__]
    kind = next((k for k in kinds if k.slug == slug and k.__init__ is Exception.__init__), DataError)
    found: ClampgraphError = kind(detail)
    return found
