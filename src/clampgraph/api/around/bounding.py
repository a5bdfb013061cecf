"""How large a request may be, how deeply its JSON may nest, and how long it may take to arrive."""

import asyncio
import re

from starlette.types import ASGIApp, Receive, Scope, Send

from clampgraph.api.around.asgi import header, replayed
from clampgraph.api.problems import problem
from clampgraph.api.settings import Settings

__all__ = ["Bounded", "nests_deeper"]

_STRING = re.compile(rb'"(?:[^"\\]|\\.)*"?', re.DOTALL)
_CLOSE = {"connection": "close"}
"""What is left of a body that is refused is not waited for."""


class _RefusedError(Exception):
    def __init__(self, status: int, detail: str) -> None:
        super().__init__(detail)
        self.status, self.detail = status, detail


def nests_deeper(text: bytes, limit: int) -> bool:
    """Tell whether brackets outside strings stand deeper than a limit; the text need not be sound JSON."""
    if text.count(b"[") + text.count(b"{") <= limit:
        return False
    depth = 0
    for byte in _STRING.sub(b"", text):
        if byte in b"[{":
            depth += 1
            if depth > limit:
                return True
        elif byte in b"]}":
            depth -= 1
    return False


class Bounded:
    """Read the whole body within the bounds before anyone looks at it; refuse what goes beyond."""

    def __init__(self, app: ASGIApp, settings: Settings) -> None:
        self.app, self.settings = app, settings

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass the request on with its body, or refuse it."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        try:
            self._check_head(scope)
            if scope["method"] not in ("GET", "HEAD", "OPTIONS"):
                receive = await self._with_body(scope, receive)
        except _RefusedError as refused:
            await problem(refused.status, refused.detail, _CLOSE)(scope, receive, send)
            return
        await self.app(scope, receive, send)

    def _check_head(self, scope: Scope) -> None:
        limits = self.settings
        if len(scope.get("raw_path") or b"") + len(scope["query_string"]) > limits.query_limit:
            raise _RefusedError(414, f"The address is longer than {limits.query_limit} bytes; send less in its query.")
        if sum(len(key) + len(value) for key, value in scope["headers"]) > limits.header_limit:
            raise _RefusedError(431, f"The headers are larger than {limits.header_limit} bytes; send fewer.")

    async def _with_body(self, scope: Scope, receive: Receive) -> Receive:
        upload = scope["path"] == "/packs"
        limit = self.settings.upload_limit if upload else self.settings.body_limit
        length = header(scope, b"content-length")
        if length.isdigit() and int(length) > limit:
            raise _too_large(limit)
        try:
            async with asyncio.timeout(self.settings.patience):
                body = await _read(receive, limit)
        except TimeoutError:
            raise _RefusedError(408, f"The body did not arrive within {self.settings.patience:g} s; send it at once.")  # noqa: B904  # the cause says no more
        depth = self.settings.depth_limit
        if "json" in header(scope, b"content-type") and nests_deeper(body, depth):
            raise _RefusedError(422, f"The JSON nests deeper than {depth}; no question does.")
        return replayed(body, receive)


def _too_large(limit: int) -> _RefusedError:
    return _RefusedError(413, f"The body is larger than {limit} bytes; send less, or in parts.")


async def _read(receive: Receive, limit: int) -> bytes:
    parts, size, more = [], 0, True
    while more:
        message = await receive()
        if message["type"] == "http.disconnect":
            raise _RefusedError(400, "The body ended before it was whole.")
        parts.append(message.get("body", b""))
        size += len(parts[-1])
        if size > limit:
            raise _too_large(limit)
        more = message.get("more_body", False)
    return parts[0] if len(parts) == 1 else b"".join(parts)
