"""HEAD on every route that takes GET: the same status and the same headers, and no body (RFC 9110, 9.3.2)."""

from starlette.types import ASGIApp, Message, Receive, Scope, Send

from clampgraph.api.around.asgi import state_of

__all__ = ["Headed"]


class Headed:
    """Ask what GET would answer, and hold the body back; who tells of the request still tells of a HEAD."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass the request on."""
        if scope["type"] != "http" or scope["method"] != "HEAD":
            await self.app(scope, receive, send)
            return
        # Without the bytes of the request, by which it would be known as one that gets a body.
        state = {key: value for key, value in state_of(scope).items() if key != "received"} | {"asked_by": "HEAD"}

        async def bodiless(message: Message) -> None:
            await send(message if message["type"] != "http.response.body" else {**message, "body": b""})

        await self.app({**scope, "method": "GET", "state": state}, receive, bodiless)
