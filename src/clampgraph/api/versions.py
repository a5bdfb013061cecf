"""Versions of the interface: every route answers under `/v1`, and without it under the current version."""

import re
from collections.abc import MutableMapping
from typing import Any

from starlette.types import ASGIApp, Receive, Scope, Send

__all__ = ["CURRENT", "KNOWN", "Versioned", "unknown_version"]

CURRENT = "v1"
"""The version that a path without one means."""

KNOWN = (CURRENT,)
"""Versions that are served, oldest first."""

_VERSION = re.compile(r"/(v\d+)(?=/|$)", re.ASCII)


class Versioned:
    """An ASGI step that takes a known version off the path; what lies within knows paths without one."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass the request on; an unknown version stays in the path and finds no route."""
        if scope["type"] == "http" and scope["path"].startswith("/v"):
            version = _VERSION.match(scope["path"])
            if version is not None and version[1] in KNOWN:
                scope = _without(scope, len(version[0]))
        await self.app(scope, receive, send)


def _without(scope: Scope, length: int) -> MutableMapping[str, Any]:
    raw = scope.get("raw_path")
    return {
        **scope,
        "path": scope["path"][length:] or "/",
        "raw_path": raw and (raw[length:] or b"/"),
    }


def unknown_version(path: str) -> str | None:
    """Return the sentence for a path under a version that is not served; None if that is not what is wrong."""
    version = _VERSION.match(path)
    if version is None or version[1] in KNOWN:
        return None
    return f"There is no version '{version[1]}' of this interface; known: {', '.join(KNOWN)}."
