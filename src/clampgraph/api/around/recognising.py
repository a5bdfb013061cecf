"""A request that came before, byte for byte, is answered without being read: what it means is known.

Callers who ask the same mostly write the same, head and all.
The server hands over what it received on a connection at rest (`patience.PatientProtocol`);
here stands which finished answer that is, and how its head reads.
What does not follow from the bytes is looked at each time: that the same content answers with the same figures,
that the token still lives, and that the caller does not ask too fast.
Where one of these fails, the request is read like any other, and told why.
Identifier, log and metrics are those of any request.

A request is known by its digest under a key of this process, so that no token lies in memory because of it.
"""

import hashlib
import secrets
import time
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass, field

from starlette.types import ASGIApp, Message, Receive, Scope, Send

from clampgraph.api.around.asgi import Headers, header, state_of, without
from clampgraph.api.around.finished import Finished
from clampgraph.api.around.naming import Names
from clampgraph.api.around.observing import Journal
from clampgraph.api.around.pacing import Buckets, caller_of
from clampgraph.api.keeping import Keeper
from clampgraph.api.tokens import Token, TokenFile

__all__ = ["Figures", "Recognised", "Recognition"]

LONGEST = 8 << 10
"""Bytes of a request that is looked up; hashing longer ones would cost those who never ask twice."""

MOST = 50_000
"""How many requests are known; one takes about 1 KiB, and the one not seen for longest goes first."""


@dataclass(frozen=True)
class Figures:
    """How to tell which figures cases teach: by asking the store, or by what is at hand, None if that is too old."""

    ask: Callable[[], str]
    at_hand: Callable[[], str | None]


@dataclass(frozen=True, slots=True)
class _Known:
    """What a request means: which answer, from what, for whom, by which route, and how the answer is told."""

    key: bytes
    content: str
    figures: str
    token: Token | None
    asked: tuple[str, str]
    head: bytes
    packed: bool

    @property
    def caller(self) -> str | None:
        """The name of who asked, if a token told it."""
        return self.token.name if self.token is not None else None


@dataclass(frozen=True, eq=False)
class Recognition:
    """The requests that are known."""

    keeper: Keeper
    finished: Finished
    journal: Journal
    names: Names
    tokens: TokenFile | None
    buckets: Buckets | None
    figures: Figures | None
    _known: OrderedDict[bytes, _Known] = field(default_factory=OrderedDict)
    _secret: bytes = field(default_factory=lambda: secrets.token_bytes(32))

    def __len__(self) -> int:
        return len(self._known)

    def answer(self, received: bytes, client: tuple[str, int] | None, more: Headers) -> bytes | None:
        """Return the whole answer, with some more headers, if it lies ready; None if the request must be read.

        Parameters
        ----------
        received
            All bytes of one request.
        client
            Address and port of the caller.
        more
            Headers that the server adds to every answer.
        """
        if not self._known or len(received) > LONGEST:
            return None
        start, sign = time.perf_counter(), self._sign(received)
        known = self._known.get(sign)
        kept = self.finished.get(known.key) if known is not None else None
        if known is None or kept is None or not self._may(known, client):
            return None
        self._known.move_to_end(sign)
        name, body = self.names.new(), kept.body if known.packed else kept.plain()
        more = [*more, (b"content-length", b"%d" % len(body)), (b"x-request-id", name.encode())]
        told = b"".join((known.head, _lines(more), b"\r\n", body))
        state = {"request_id": name, "caller": known.caller}
        self.journal.finished(known.asked, time.perf_counter() - start, state)
        return told

    def _may(self, known: _Known, client: tuple[str, int] | None) -> bool:
        held = self.keeper.held
        if held is None or held.content != known.content:
            return False
        if self.figures is not None and self.figures.at_hand() != known.figures:
            return False
        if known.token is not None and (self.tokens is None or not self.tokens.holds(known.token)):
            return False
        return self.buckets is None or not self.buckets.wait(caller_of(known.caller, client))

    def learn(self, received: bytes, scope: Scope, headers: Headers) -> None:
        """Know a request from now on by what it was answered, unless the answer is not one that is kept."""
        state = state_of(scope)
        kept = self.finished.get(state["finished"])
        packed = any(key == b"content-encoding" for key, _ in headers)
        if kept is None or (packed and not kept.packed) or header(scope, b"x-request-id"):
            return
        same = without(headers, b"x-request-id", b"content-length")
        self._known[self._sign(received)] = _Known(
            state["finished"], state["held"].content, state["figures"], state.get("token"),
            (scope["method"], state["route"]), b"HTTP/1.1 200 OK\r\n" + _lines(same), packed,
        )  # fmt: skip
        if len(self._known) > MOST:
            self._known.popitem(last=False)

    def _sign(self, received: bytes) -> bytes:
        return hashlib.blake2b(received, key=self._secret, digest_size=20).digest()


def _lines(headers: Headers) -> bytes:
    return b"".join([key + b": " + value + b"\r\n" for key, value in headers])


class Recognised:
    """Know a request from now on, if the server handed over its bytes and its answer is kept."""

    def __init__(self, app: ASGIApp, recognition: Recognition) -> None:
        self.app, self.recognition = app, recognition

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass the request on, and learn what it means."""
        received = state_of(scope).get("received") if scope["type"] == "http" else None
        if received is None or len(received) > LONGEST:
            await self.app(scope, receive, send)
            return
        told: Message = {}

        async def noted(message: Message) -> None:
            if message["type"] == "http.response.start":
                told.update(message)
            await send(message)

        await self.app(scope, receive, noted)
        if told.get("status") == 200 and "finished" in state_of(scope):
            self.recognition.learn(received, scope, told["headers"])
