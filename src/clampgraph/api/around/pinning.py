"""One edition of the graph for a whole request, whatever is loaded meanwhile."""

from starlette.types import ASGIApp, Receive, Scope, Send

from clampgraph.api.around.asgi import state_of
from clampgraph.api.keeping import Held, Keeper
from clampgraph.api.problems import problem

__all__ = ["OPEN_PATHS", "Pinned", "held_of"]

OPEN_PATHS = frozenset({"/health", "/health/alive", "/health/ready", "/metrics"})
"""What answers without a graph."""


def held_of(scope: Scope) -> Held:
    """Return the edition that a request is answered from."""
    held: Held = state_of(scope)["held"]
    return held


class Pinned:
    """Hold the current edition for the request; say 503 while there is none."""

    def __init__(self, app: ASGIApp, keeper: Keeper) -> None:
        self.app, self.keeper = app, keeper

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass the request on with the edition in its state."""
        if scope["type"] != "http" or scope["path"] in OPEN_PATHS:
            await self.app(scope, receive, send)
            return
        held = self.keeper.held
        if held is None:
            refusal = problem(503, self.keeper.why_not_ready() or "Nothing is loaded yet.", {"retry-after": "1"})
            await refusal(scope, receive, send)
            return
        state_of(scope)["held"] = held
        with held.used():
            await self.app(scope, receive, send)
