"""What every step needs of ASGI: headers, the state of one request, a body read once and handed on."""

from collections.abc import Iterable
from typing import Any

from starlette.types import Message, Receive, Scope

__all__ = ["Headers", "body_of", "header", "replayed", "state_of", "varied", "without"]

Headers = list[tuple[bytes, bytes]]


def header(scope: Scope, name: bytes) -> str:
    """Return a header of the request; empty if it is not there."""
    for key, value in scope["headers"]:
        if key == name:
            return str(value, "latin-1")
    return ""


def state_of(scope: Scope) -> dict[str, Any]:
    """Return what steps and routes tell each other about one request; a route reads it as ``request.state``."""
    state: dict[str, Any] = scope.setdefault("state", {})
    return state


async def body_of(receive: Receive) -> bytes | None:
    """Read a body to its end; None if the client leaves before."""
    parts = []
    more = True
    while more:
        message = await receive()
        if message["type"] == "http.disconnect":
            return None
        parts.append(message.get("body", b""))
        more = message.get("more_body", False)
    return parts[0] if len(parts) == 1 else b"".join(parts)


def replayed(body: bytes, receive: Receive) -> Receive:
    """Return a `receive` that gives a body that was read already, then what the client does next."""
    told = False

    async def again() -> Message:
        nonlocal told
        if told:
            return await receive()
        told = True
        return {"type": "http.request", "body": body, "more_body": False}

    return again


def without(headers: Iterable[tuple[bytes, bytes]], *names: bytes) -> Headers:
    """Return headers without those of some names."""
    return [(key, value) for key, value in headers if key.lower() not in names]


def varied(headers: Iterable[tuple[bytes, bytes]], *names: str) -> Headers:
    """Return headers whose ``Vary`` names these too, each once."""
    kept, told = [], list[str]()
    for key, value in headers:
        if key.lower() == b"vary":
            told += [part.strip() for part in str(value, "latin-1").split(",")]
        else:
            kept.append((key, value))
    known = {part.lower() for part in told}
    told += [name for name in names if name.lower() not in known]
    return [*kept, (b"vary", ", ".join(told).encode("latin-1"))]
