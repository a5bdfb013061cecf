"""Connections that are answered at once where that can be, and end when the other side does not.

A request that came before is answered without being read (`around.recognising`).

The server beneath has a timer for a connection that is idle after an answer, and none for the rest:
a head that comes a byte a second, or an answer that nobody reads, would hold its connection for ever.
The body of a request has a timer of its own, in `around.bounding`.
"""

import asyncio
from typing import Any

import h11
from uvicorn import Config
from uvicorn.protocols.http.h11_impl import H11Protocol, RequestResponseCycle
from uvicorn.server import ServerState

__all__ = ["PatientConfig", "PatientProtocol"]

HOLD = 0.02
"""Seconds that a head waits for its body, which many clients send apart; a request is known only as a whole."""

MOST_HELD = 8 << 10
"""Bytes of a head that waits."""


class PatientConfig(Config):
    """The server's settings, with the deadline [s] and the number of connections that one process holds."""

    def __init__(self, app: Any, *, patience: float, most: int, **more: Any) -> None:
        self.patience, self.most = patience, most
        super().__init__(app, **more)


class PatientProtocol(H11Protocol):
    """The server's protocol with a deadline for every head and for every stalled answer."""

    def __init__(
        self,
        config: PatientConfig,
        server_state: ServerState,
        app_state: dict[str, Any],
        _loop: asyncio.AbstractEventLoop | None = None,
    ) -> None:
        super().__init__(config, server_state, app_state, _loop)
        self.patience, self.most = config.patience, config.most
        self._at_once = app_state["known"].answer
        self._head: asyncio.TimerHandle | None = None
        self._stalled: asyncio.TimerHandle | None = None
        self._held = b""
        self._holding: asyncio.TimerHandle | None = None

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]  # as the one beneath
        """Take the connection if there is room, and wait for its first request."""
        super().connection_made(transport)
        if len(self.connections) > self.most:
            transport.abort()
            return
        self._head = self.loop.call_later(self.patience, transport.abort)

    def connection_lost(self, exc: Exception | None) -> None:
        """Stop every timer."""
        _cancel(self._holding)
        self._held, self._holding = b"", None
        _cancel(self._head)
        self._head = None
        _cancel(self._stalled)
        self._stalled = None
        super().connection_lost(exc)

    def data_received(self, data: bytes) -> None:
        """Answer at once, or read."""
        if not self._rests():
            self._read(data, rested=False)
            return
        _cancel(self._holding)
        data, self._held = self._held + data, b""
        if self._answered(data):
            return
        if len(data) < MOST_HELD and _lacks_its_body(data):
            self._unset_keepalive_if_required()
            self._held, self._holding = data, self.loop.call_later(HOLD, self._release)
        else:
            self._read(data, rested=True)

    def shutdown(self) -> None:
        """Answer what has come, then close."""
        if self._held:
            _cancel(self._holding)
            self._release()
        super().shutdown()

    def _release(self) -> None:
        data, self._held = self._held, b""
        self._read(data, rested=True)

    def _read(self, data: bytes, *, rested: bool) -> None:
        """Read; a head that has begun has until the deadline to be whole, however it trickles."""
        super().data_received(data)
        if rested and self._whole():
            self.cycle.scope["state"]["received"] = data
        if self._answering():
            _cancel(self._head)
            self._head = None
        elif self._head is None and self.timeout_keep_alive_task is None:
            self._head = self.loop.call_later(self.patience, self.transport.abort)

    def _rests(self) -> bool:
        """Whether the next byte begins a request, and there is room for its answer."""
        at_rest = self.conn.our_state is self.conn.their_state is h11.IDLE
        return at_rest and not self.conn.trailing_data[0] and not self.flow.write_paused

    def _whole(self) -> bool:
        """Whether what came is one request, no more and no less, and another may follow it."""
        return self._answering() and self.conn.their_state is h11.DONE and not self.conn.trailing_data[0]

    def _answered(self, data: bytes) -> bool:
        answer: bytes | None = self._at_once(data, self.client, self.server_state.default_headers)
        if answer is None:
            return False
        self.transport.write(answer)
        self.on_response_complete()
        return True

    def _answering(self) -> bool:
        cycle: RequestResponseCycle | None = self.cycle
        return cycle is not None and not cycle.response_complete

    def on_response_complete(self) -> None:
        """Begin the next request of the connection if it came meanwhile."""
        _cancel(self._head)
        self._head = None
        super().on_response_complete()

    def pause_writing(self) -> None:
        """Wait for a client that does not read, but not for ever."""
        super().pause_writing()
        if self._stalled is None:
            self._stalled = self.loop.call_later(self.patience, self.transport.abort)

    def resume_writing(self) -> None:
        """Go on: the client reads."""
        _cancel(self._stalled)
        self._stalled = None
        super().resume_writing()


def _lacks_its_body(data: bytes) -> bool:
    """Whether this is the head of a request whose body is on its way, and no more than that."""
    if not data.startswith(b"POST ") or data.find(b"\r\n\r\n") != len(data) - 4:
        return False
    head = data.lower()
    bodied = b"\r\ncontent-length: " in head and b"\r\ncontent-length: 0\r\n" not in head
    return bodied and b"100-continue" not in head


def _cancel(timer: asyncio.TimerHandle | None) -> None:
    if timer is not None:
        timer.cancel()
