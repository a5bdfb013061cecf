"""So many requests a minute from one caller: a bucket that fills steadily and is emptied by requests."""

import math
import time
from collections import OrderedDict
from collections.abc import Callable

from starlette.types import ASGIApp, Receive, Scope, Send

from clampgraph.api.around.asgi import state_of
from clampgraph.api.problems import problem

__all__ = ["Buckets", "Paced", "caller_of"]

CALLERS_KEPT = 10_000
"""How many callers are remembered; the one not heard of for longest is forgotten first."""


class Buckets:
    """One bucket for each caller."""

    def __init__(self, per_minute: int, clock: Callable[[], float] = time.monotonic) -> None:
        self.rate, self.size, self._clock = per_minute / 60.0, max(per_minute / 6.0, 1.0), clock
        self._filled: OrderedDict[str, tuple[float, float]] = OrderedDict()

    def wait(self, caller: str) -> float:
        """Take one request from the caller's bucket; return 0, or the seconds until there is one to take."""
        now = self._clock()
        level, since = self._filled.pop(caller, (self.size, now))
        level = min(self.size, level + (now - since) * self.rate)
        short = max(0.0, (1.0 - level) / self.rate)
        self._filled[caller] = (level if short else level - 1.0, now)
        if len(self._filled) > CALLERS_KEPT:
            self._filled.popitem(last=False)
        return short


def caller_of(name: str | None, client: tuple[str, int] | None) -> str:
    """Return who is paced: the name of a token, else the address."""
    return name or f"address {client[0] if client else 'unknown'}"


class Paced:
    """Refuse a caller who asks faster than allowed, and say when to come back."""

    def __init__(self, app: ASGIApp, buckets: Buckets) -> None:
        self.app, self.buckets = app, buckets

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass the request on, or refuse it."""
        if scope["type"] == "http" and not scope["path"].startswith("/health"):
            short = self.buckets.wait(caller_of(state_of(scope).get("caller"), scope.get("client")))
            if short:
                seconds = str(math.ceil(short))
                detail = f"That is faster than {self.buckets.rate * 60:.0f} requests a minute; wait {seconds} s."
                await problem(429, detail, {"retry-after": seconds})(scope, receive, send)
                return
        await self.app(scope, receive, send)
