"""ETag: a client that holds the current answer already is told so, and gets no body."""

import hashlib

from starlette.types import ASGIApp, Message, Receive, Scope, Send

from clampgraph.api.around.asgi import Headers, header, varied, without

__all__ = ["Tagged", "etag"]

VARY = ("Accept", "Accept-Language")
"""What else than the address decides over an answer; the step that compresses adds ``Accept-Encoding``."""

KEPT_IN_304 = (b"etag", b"vary", b"cache-control", b"content-location", b"date", b"expires", b"link")
"""Headers that a 304 repeats (RFC 9110, 15.4.5)."""


def etag(body: bytes) -> str:
    """Return the tag of a body; weak, because a compressed body has the same one (RFC 9110, 8.8.1)."""
    return f'W/"{hashlib.blake2b(body, digest_size=16).hexdigest()}"'


class Tagged:
    """Tag whole answers to GET, and compare with ``If-None-Match``; a stream passes as it is."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass the request on; tag what comes back."""
        if scope["type"] != "http" or scope["method"] not in ("GET", "HEAD"):
            await self.app(scope, receive, send)
            return
        held: Message | None = None

        async def tagged(message: Message) -> None:
            nonlocal held
            if message["type"] == "http.response.start" and message["status"] == 200:
                held = message
                return
            if held is not None:
                start, held = held, None
                start["headers"] = varied(start["headers"], *VARY)
                if not message.get("more_body", False):
                    start, message = _answered(scope, start, message)
                await send(start)
            await send(message)

        await self.app(scope, receive, tagged)


def _answered(scope: Scope, start: Message, message: Message) -> tuple[Message, Message]:
    headers: Headers = start["headers"]
    known = next((str(value, "latin-1") for key, value in headers if key == b"etag"), None)
    tag = known or etag(message.get("body", b""))
    headers = [*without(headers, b"etag"), (b"etag", tag.encode("latin-1"))]
    if not any(key == b"cache-control" for key, _ in headers):
        headers.append((b"cache-control", b"no-cache"))
    if not _held(header(scope, b"if-none-match"), tag):
        return {**start, "headers": headers}, message
    kept = [(key, value) for key, value in headers if key.lower() in KEPT_IN_304]
    return {**start, "status": 304, "headers": varied(kept, "Accept-Encoding")}, {**message, "body": b""}


def _held(named: str, tag: str) -> bool:
    """Compare weakly: whether the client holds that tag."""
    if not named:
        return False
    known = {part.strip().removeprefix("W/") for part in named.split(",")}
    return "*" in known or tag.removeprefix("W/") in known
