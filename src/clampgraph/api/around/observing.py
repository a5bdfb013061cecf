"""One line of log and the metrics of each request."""

import time
from collections.abc import Mapping
from typing import Any

from starlette.types import ASGIApp, Message, Receive, Scope, Send

from clampgraph.api.around.asgi import state_of
from clampgraph.api.around.logs import Log
from clampgraph.api.around.metrics import Metrics

__all__ = ["Journal", "Observed"]

METHODS = frozenset({"GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "OPTIONS"})
"""Methods told by name; anyone can invent others, and each would be a series of its own."""


class Journal:
    """Tells method, route, status, time and caller of every request; the route's template, never what was asked."""

    def __init__(self, log: Log, metrics: Metrics) -> None:
        self.log, self.metrics = log, metrics
        self._finished = metrics.remembered.labels("finished").inc

    def tell(self, asked: tuple[str, str], status: int, seconds: float, state: Mapping[str, Any]) -> None:
        """Tell of one request: its method and route, how it ended after how many seconds, and what is known of it."""
        method, route = asked
        self.metrics.request(method, route, status, seconds)
        fault = state.get("fault")
        tell = self.log.info if fault is None else self.log.error
        told = {} if fault is None else {"exc_info": fault}
        if caller := state.get("caller"):
            told["caller"] = caller
        tell(
            "request",
            method=method, route=route, status=status, ms=round(seconds * 1000.0, 2),
            request_id=state["request_id"], **told,
        )  # fmt: skip

    def finished(self, asked: tuple[str, str], seconds: float, state: Mapping[str, Any]) -> None:
        """Tell of a request whose answer lay ready."""
        self._finished()
        self.tell(asked, 200, seconds, state)


class Observed:
    """Tell of every request how it went."""

    def __init__(self, app: ASGIApp, journal: Journal) -> None:
        self.app, self.journal = app, journal

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass the request on, and tell how it went."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        start, status = time.perf_counter(), 0

        async def noted(message: Message) -> None:
            nonlocal status
            if message["type"] == "http.response.start":
                status = message["status"]
            await send(message)

        try:
            await self.app(scope, receive, noted)
        finally:
            state = state_of(scope)
            route = state.get("route") or getattr(scope.get("route"), "path", "") or "none"
            asked_by = state.get("asked_by", scope["method"])
            method = asked_by if asked_by in METHODS else "OTHER"
            self.journal.tell((method, route), status or 499, time.perf_counter() - start, state)
