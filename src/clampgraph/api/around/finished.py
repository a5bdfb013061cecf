"""Finished answers, kept for who asks the same: the least recently used go first, within a budget of bytes."""

import gzip
import zlib
from dataclasses import dataclass
from operator import attrgetter

from starlette.types import Scope, Send

from clampgraph.api.around.asgi import Headers, header, varied, without
from clampgraph.api.around.tagging import etag
from clampgraph.api.bounded import Bounded

__all__ = ["Finished", "Kept", "keep"]

OVERHEAD = 600
"""Bytes of an entry beside its body: key, headers, objects (measured, rounded up)."""

SMALL = 1024
"""Bodies below this many bytes are not compressed."""

HEAD, TAIL = 10, 8
"""Bytes of gzip around the compressed data: a head without a name, and a sum that need not be checked here."""

LEVEL = 6
"""Compression: beyond this level bodies hardly shrink (measured on diagnoses)."""


@dataclass(frozen=True, slots=True)
class Kept:
    """One answer: its status, its headers, and its body, compressed where that pays."""

    status: int
    headers: Headers
    body: bytes
    packed: bool
    size: int
    length: int = 0
    """Bytes of the body before it was compressed; to know them spares zlib from growing its buffer."""

    def plain(self) -> bytes:
        """Return the body as it was before it was compressed."""
        if not self.packed:
            return self.body
        return zlib.decompress(memoryview(self.body)[HEAD:-TAIL], -zlib.MAX_WBITS, self.length)

    async def send(self, scope: Scope, send: Send) -> None:
        """Send the answer, compressed as it lies if the client takes that."""
        body, headers = self.body, self.headers
        if self.packed and "gzip" in header(scope, b"accept-encoding"):
            headers = [*varied(headers, "Accept-Encoding"), (b"content-encoding", b"gzip")]
        elif self.packed:
            body = self.plain()
        headers = [*headers, (b"content-length", str(len(body)).encode())]
        await send({"type": "http.response.start", "status": self.status, "headers": headers})
        await send({"type": "http.response.body", "body": body, "more_body": False})


def keep(method: str, status: int, headers: Headers, body: bytes) -> Kept:
    """Make an answer ready to be kept: tagged once, compressed once; a problem is not kept and stays as it is."""
    headers = without(headers, b"content-length")
    if status != 200:
        return Kept(status, headers, body, packed=False, size=OVERHEAD + len(body))
    if method == "GET" and not any(key == b"etag" for key, _ in headers):
        headers.append((b"etag", etag(body).encode()))
    encoded = any(key == b"content-encoding" for key, _ in headers)
    packed = gzip.compress(body, LEVEL, mtime=0) if len(body) >= SMALL and not encoded else body
    pays = len(packed) < 0.8 * len(body)
    kept = packed if pays else body
    return Kept(status, headers, kept, pays, OVERHEAD + len(kept), len(body))


class Finished(Bounded[Kept]):
    """The answers kept."""

    def __init__(self, budget: int) -> None:
        super().__init__(budget, attrgetter("size"))

    def put(self, key: bytes, value: Kept) -> None:
        """Keep an answer, unless it would crowd out most others; let the oldest go where there is no room."""
        if value.size <= self.budget // 8:
            super().put(key, value)
