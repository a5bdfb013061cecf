"""Give every request an identifier: in its answer, in its problem document and in the log."""

import itertools
import json
import re
import secrets

from starlette.types import ASGIApp, Message, Receive, Scope, Send

from clampgraph.api.around.asgi import header, state_of, without

__all__ = ["Named", "Names"]

_SANE = re.compile(r"[A-Za-z0-9][A-Za-z0-9._:-]{0,63}", re.ASCII)


class Names:
    """Makes identifiers: random for each process and counted within it, without asking the system each time."""

    def __init__(self) -> None:
        self._own, self._count = secrets.token_hex(10), itertools.count()

    def new(self) -> str:
        """Return one unlike any other."""
        return f"{self._own}{next(self._count):012x}"


class Named:
    """Take the caller's ``X-Request-Id`` if it is sane, else make one; echo it, and tell it in problem documents."""

    def __init__(self, app: ASGIApp, names: Names) -> None:
        self.app, self.names = app, names

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass the request on under its identifier."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        given = header(scope, b"x-request-id")
        name = given if _SANE.fullmatch(given) else self.names.new()
        state_of(scope)["request_id"] = name
        held: Message | None = None

        async def named(message: Message) -> None:
            nonlocal held
            if message["type"] == "http.response.start":
                headers = [*message["headers"], (b"x-request-id", name.encode())]
                message = {**message, "headers": headers}
                if message["status"] >= 400 and (b"content-type", b"application/problem+json") in headers:
                    held = message
                    return
            elif held is not None:
                body = _told(message["body"], name)
                length = (b"content-length", str(len(body)).encode())
                await send({**held, "headers": [*without(held["headers"], b"content-length"), length]})
                message, held = {**message, "body": body}, None
            await send(message)

        await self.app(scope, receive, named)


def _told(body: bytes, name: str) -> bytes:
    return json.dumps({**json.loads(body), "request_id": name}, ensure_ascii=False, separators=(",", ":")).encode()
