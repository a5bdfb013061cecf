"""One running service: requests with its token, in its language, again after a pause where that is safe."""

import random
import time
from collections.abc import Mapping
from datetime import UTC, datetime
from email.utils import parsedate_to_datetime
from types import TracebackType
from typing import Any, Self, TypeVar

import httpx
from pydantic import ValidationError

from clampgraph.answers.models import Answer
from clampgraph.client.failing import error_of
from clampgraph.errors import DataError

__all__ = ["Service"]

A = TypeVar("A", bound=Answer)

VERSION = "/v1"
"""The version of the interface that is spoken here."""

_BUSY = frozenset({429, 502, 503, 504})
_FIRST_PAUSE, _LONGEST_PAUSE = 0.1, 30.0


class Service:
    """A running service.

    Parameters
    ----------
    url
        Where it listens, for example ``http://localhost:8350``.
    token
        Sent as ``Authorization: Bearer`` if given.
    timeout
        Seconds for each step of a request: to connect, to send, to hear anything.
    language
        Language of labels: en, de, es, ja; the service's own if None.
    attempts
        How often a question is put at most while the service is busy or out of reach.
    transport
        What carries the requests; the network if None.
    """

    def __init__(  # noqa: PLR0913  # one parameter for each thing to set
        self,
        url: str,
        token: str | None = None,
        timeout: float = 60.0,
        *,
        language: str | None = None,
        attempts: int = 3,
        transport: httpx.BaseTransport | None = None,
    ) -> None:
        self.url, self.attempts = url, attempts
        headers = {"authorization": f"Bearer {token}"} if token else {}
        if language is not None:
            headers["accept-language"] = language
        self._base = url.rstrip("/").removesuffix(VERSION) + VERSION
        self._http = httpx.Client(headers=headers, timeout=timeout, transport=transport)

    def __enter__(self) -> Self:
        """Return the service, to be closed at the end."""
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Close the connections."""
        self.close()

    def close(self) -> None:
        """Close the connections; nothing can be asked afterwards."""
        self._http.close()

    def ask(
        self, method: str, path: str, model: type[A], sent: Mapping[str, Any] | None = None, *, again: bool = True
    ) -> A:
        """Put a question and return its answer; a list in pages is read to its end, unless `limit` asks for one page.

        Parameters
        ----------
        method, path
            What to call; the path without a version.
        model
            Of the answer.
        sent
            The JSON body, or the query of a GET or DELETE.
        again
            Whether the call may be made twice: true for all that only read or that are the same when done twice.

        Raises
        ------
        ClampgraphError
            The error that the service reports, with its own sentence.
        DataError
            If the service cannot be reached, stays busy, or answers something else.
        """
        given: dict[str, Any] = {"params" if method in ("GET", "DELETE") else "json": sent or {}}
        reply = self._request(method, self._base + path, given, again=again)
        try:
            if "next" not in reply.links or "limit" in (sent or {}):
                return model.model_validate_json(reply.content)
            body = reply.json()
            while "next" in reply.links:
                reply = self._request("GET", str(reply.url.join(reply.links["next"]["url"])), {}, again=again)
                body = _joined(body, reply.json())
            return model.model_validate(body)
        except ValueError as error:
            what = "a field that does not belong there" if isinstance(error, ValidationError) else "no JSON"
            raise DataError(f"The service at {self.url} answered {path} with {what}; is it of this version?") from error

    def document(self, path: str, query: Mapping[str, str | list[str]] | None = None, sparql: str = "") -> bytes:
        """Get a document, for SPARQL if some is given; empty parameters are left out.

        Raises
        ------
        ClampgraphError
            The error that the service reports, with its own sentence.
        DataError
            If the service cannot be reached or stays busy.
        """
        given: dict[str, Any] = {"params": {key: value for key, value in (query or {}).items() if value}}
        if not sparql:
            return self._request("GET", self._base + path, given, again=True).content
        given |= {"content": sparql.encode(), "headers": {"content-type": "application/sparql-query"}}
        return self._request("POST", self._base + path, given, again=True).content

    def _request(self, method: str, url: str, given: dict[str, Any], *, again: bool) -> httpx.Response:
        for attempt in range(self.attempts if again else 1):
            last = not again or attempt == self.attempts - 1
            pause = _FIRST_PAUSE * 4.0**attempt * (0.5 + random.random())  # noqa: S311  # spreads callers out
            try:
                reply = self._http.request(method, url, **given)
            except (httpx.NetworkError, httpx.RemoteProtocolError, httpx.ConnectTimeout) as error:
                if last:
                    raise self._silent(error) from error
            except (httpx.HTTPError, httpx.InvalidURL, UnicodeError) as error:
                raise self._silent(error) from error
            else:
                if reply.is_success:
                    return reply
                pause = max(pause, _asked_pause(reply.headers.get("retry-after", "")))
                if last or reply.status_code not in _BUSY or pause > _LONGEST_PAUSE:
                    raise error_of(self.url, reply.status_code, reply.content)
            time.sleep(pause)
        raise DataError(f"The service at {self.url} was not asked: give at least one attempt.")

    def _silent(self, error: Exception) -> DataError:
        return DataError(f"The service at {self.url} does not answer: {str(error) or type(error).__name__}.")


def _asked_pause(header: str) -> float:
    """Return the seconds that ``Retry-After`` asks for, as a number or as a date (RFC 9110, 10.2.3); 0 if none."""
    if header.isdecimal():
        return float(header)
    try:
        return (parsedate_to_datetime(header) - datetime.now(UTC)).total_seconds()
    except (ValueError, TypeError):
        return 0.0


def _joined(body: dict[str, Any], more: dict[str, Any]) -> dict[str, Any]:
    """Join two pages: the list that differs is the one that is cut; what stands beside it is told by the later one."""
    cut = {key: value for key, value in body.items() if isinstance(value, list) and value != more.get(key)}
    return {**more, **{key: [*value, *more[key]] for key, value in cut.items()}}
