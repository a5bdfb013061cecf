"""A fault that nobody foresaw: one problem document for the caller, the whole trace for the log."""

from starlette.types import ASGIApp, Message, Receive, Scope, Send

from clampgraph.api.around.asgi import state_of
from clampgraph.api.problems import problem

__all__ = ["Mended"]


class Mended:
    """Answer an unforeseen exception as a problem document; what was sent halfway is cut off."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass the request on, and stand in for the answer if that fails."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        begun = False

        async def noted(message: Message) -> None:
            nonlocal begun
            begun = True
            await send(message)

        try:
            await self.app(scope, receive, noted)
        except Exception as error:
            if begun:
                raise
            state_of(scope)["fault"] = error
            await problem(500, "The service failed on this request; its log says where.")(scope, receive, send)
