"""Who tries tokens is slowed down: after some refusals, what one address sends next is not even looked at for a while.

A token that was good lately passes in any case, so that a stranger behind the same address (a proxy, a workshop's one
line to the world) locks nobody out who is at work.
"""

import math
import time
from collections import OrderedDict
from collections.abc import Callable
from hashlib import blake2b
from ipaddress import IPv6Address, ip_address
from secrets import token_bytes
from typing import Any

from starlette.types import ASGIApp, Message, Receive, Scope, Send

from clampgraph.api.around.asgi import header, state_of
from clampgraph.api.around.pacing import CALLERS_KEPT
from clampgraph.api.problems import problem

__all__ = ["Warded"]

BARE = 5
"""How many more requests without any token are let in: they guess nothing, and clients forget."""

AT_ONCE = 10.0
"""Refusals that are allowed in this time may come at once [s]; one in any case."""

_REFUSED = 401
_Who = tuple[str, bool]
"""Whom an address stands for, and whether it sent a token."""


def _network(client: tuple[str, int] | None) -> str:
    """Return whom an address stands for: one of IPv6 the 64 bits that a site is given, of which it has all."""
    try:
        address = ip_address(client[0]) if client else None
    except ValueError:
        return str(client and client[0])
    if isinstance(address, IPv6Address) and address.ipv4_mapped is None:
        return str(IPv6Address(int(address) >> 64 << 64))
    return str(address)


class Warded:
    """Refuse an address that was refused too often, until its time has passed."""

    def __init__(self, app: ASGIApp, per_minute: int, clock: Callable[[], float] = time.monotonic) -> None:
        self.app, self._clock = app, clock
        self._pauses = {True: 60.0 / per_minute, False: 60.0 / (per_minute * BARE)}
        self._paid: OrderedDict[_Who, float] = OrderedDict()
        self._good: OrderedDict[bytes, None] = OrderedDict()
        self._secret = token_bytes(32)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass the request on and look at how it ends, or refuse it."""
        if scope["type"] != "http" or scope["path"].startswith("/health"):
            await self.app(scope, receive, send)
            return
        told = header(scope, b"authorization")
        sign = blake2b(told.encode("latin-1"), key=self._secret, digest_size=20).digest()
        who = _network(scope.get("client")), bool(told)
        seconds = self._wait(who)
        if seconds > 0.0 and sign not in self._good:
            wait = str(math.ceil(seconds))
            refusal = problem(429, f"Too many requests from here were refused; wait {wait} s.", {"retry-after": wait})
            await refusal(scope, receive, send)
            return

        async def noted(message: Message) -> None:
            if message["type"] == "http.response.start" and message["status"] == _REFUSED:
                self._refused(who, sign)
            elif message["type"] == "http.response.start" and state_of(scope).get("caller"):
                self._let_in(sign)
            await send(message)

        await self.app(scope, receive, noted)

    def _wait(self, who: _Who) -> float:
        """Return the seconds until a refusal of this caller is within what is let in at once [s]; 0 if it is."""
        pause = self._pauses[who[1]]
        paid = self._paid.get(who, -math.inf)
        return max(0.0, paid - self._clock() - max(AT_ONCE, pause) + pause)

    def _refused(self, who: _Who, sign: bytes) -> None:
        """Let each refusal cost its pause, one after the other; a time that has passed is paid."""
        self._good.pop(sign, None)
        self._paid[who] = max(self._clock(), self._paid.pop(who, 0.0)) + self._pauses[who[1]]
        _shorten(self._paid)

    def _let_in(self, sign: bytes) -> None:
        self._good[sign] = None
        self._good.move_to_end(sign)
        _shorten(self._good)


def _shorten(kept: OrderedDict[Any, Any]) -> None:
    """Forget what was not heard of for longest."""
    if len(kept) > CALLERS_KEPT:
        kept.popitem(last=False)
