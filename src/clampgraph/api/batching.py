"""A batch is answered turn by turn, as a stream: whoever asks one question meanwhile is not kept waiting for the whole.

One batch of a process computes at a time, for a moment; then the next one has its turn.
Between two questions it is looked whether somebody still waits, whether the time is up, and whether the service goes
down; questions not reached then get a problem of their own.
What was answered is kept, so that a batch that is sent again goes on where it stopped.
"""

import asyncio
import time
import zlib
from collections import Counter
from collections.abc import AsyncIterator, Callable
from dataclasses import dataclass, field
from hashlib import blake2b
from threading import Lock
from typing import Generic, TypeVar

from starlette.concurrency import run_in_threadpool

from clampgraph.answers.batches import Asked, Kind
from clampgraph.answers.library import Library
from clampgraph.answers.models import Answer, Request
from clampgraph.answers.problems import ProblemOut, problem_of
from clampgraph.api.bounded import Bounded
from clampgraph.errors import NotReachedError

__all__ = ["MOST_WAITING", "Done", "Run", "Turns"]

TURN = 0.1
"""How long one batch computes before another has its turn, if single questions take less [s]."""

MOST_WAITING = 32
"""Batches that one process works on in turn."""

A = TypeVar("A", bound=Answer)
R = TypeVar("R", bound=Request)


class Done(Bounded[bytes]):
    """Answers that batches were given, as JSON, compressed; may be shared between threads."""

    OVERHEAD = 200
    """Bytes of an entry beside its text (measured, rounded up)."""

    LEVEL = 1
    """Compression, in which a diagnosis takes a sixth of its text and a quarter of a millisecond (measured)."""

    def __init__(self, budget: int) -> None:
        super().__init__(budget, lambda packed: len(packed) + self.OVERHEAD)
        self._lock = Lock()

    def get(self, key: bytes) -> bytes | None:
        """Return an answer, which is now the last to go."""
        with self._lock:
            found = super().get(key)
        return None if found is None else zlib.decompress(found)

    def put(self, key: bytes, value: bytes) -> None:
        """Keep an answer; let the oldest go where there is no room."""
        packed = zlib.compress(value, self.LEVEL)
        with self._lock:
            super().put(key, packed)


class Turns:
    """Whose turn it is among the batches of one process."""

    def __init__(self) -> None:
        self.batches = 0
        self._turn = asyncio.Semaphore(1)

    async def take(self, work: Callable[[], bytes]) -> bytes:
        """Do some work in a thread when it is one's turn; a caller who leaves meanwhile keeps the turn to its end."""
        async with self._turn:
            return await run_in_threadpool(work)


@dataclass
class Run(Generic[R, A]):
    """One batch being answered.

    Parameters
    ----------
    kind, library, asked
        What is asked of what.
    told
        Looks at each answer before it is told.
    failed
        Tells an error that nobody foresaw, and returns what to say of it.
    done
        What was answered before, and what the answers rest on; an empty text keeps nothing.
    seconds
        How long the batch may take [s].
    leaving
        Whether the service goes down.
    """

    kind: Kind[R, A]
    library: Library
    asked: list[Asked[R]]
    told: Callable[[A], A]
    failed: Callable[[Exception], ProblemOut]
    done: Done
    basis: str
    seconds: float
    leaving: Callable[[], bool]
    _next: int = field(default=0, init=False)
    _end: float = field(default=0.0, init=False)
    _own: dict[str, bytes] = field(default_factory=dict, init=False)

    def __post_init__(self) -> None:
        """Find the questions that stand here more than once."""
        counted = Counter(asked.name for asked in self.asked)
        self._repeated = {name for name, count in counted.items() if name and count > 1}

    async def stream(self, turns: Turns) -> AsyncIterator[bytes]:
        """Yield the body of the answer in parts, one for each turn; stop where nobody takes the next part."""
        self._end = time.monotonic() + self.seconds
        turns.batches += 1
        try:
            yield b'{"answers":['
            while self._next < len(self.asked):
                yield await turns.take(self._turn)
            yield b"]}"
        finally:
            turns.batches -= 1

    def _turn(self) -> bytes:
        """Answer questions until the turn is over; the last turn tells of those that are not reached."""
        end = time.monotonic() + TURN
        parts = []
        while self._next < len(self.asked) and time.monotonic() < end:
            asked = self.asked[self._next]
            parts.append((b"," if self._next else b"") + self._entry(asked))
            self._next += 1
        return b"".join(parts)

    def _entry(self, asked: Asked[R]) -> bytes:
        known = self._told_before(asked)
        told = known or self._answered(asked)
        if isinstance(told, ProblemOut):
            return b'{"index":%d,"problem":%s}' % (asked.index, told.model_dump_json().encode())
        if known is None and asked.name in self._repeated:
            self._own[asked.name] = told
        if known is None and self.basis:
            self.done.put(self._key(asked), told)
        return b'{"index":%d,"answer":%s}' % (asked.index, told)

    def _told_before(self, asked: Asked[R]) -> bytes | None:
        return self._own.get(asked.name) or (self.done.get(self._key(asked)) if self.basis else None)

    def _key(self, asked: Asked[R]) -> bytes:
        parts = f"{self.basis}\0{self.kind.name}\0{asked.name}"
        return blake2b(parts.encode("utf-8", "surrogatepass"), digest_size=20).digest()

    def _answered(self, asked: Asked[R]) -> bytes | ProblemOut:
        refusal = self._refusal()
        if refusal is not None and asked.name:
            return problem_of(refusal)
        try:
            told = self.kind.told(self.library, asked)
        except Exception as error:  # noqa: BLE001  # a fault in one question is no reason to lose the others
            return self.failed(error)
        return told if isinstance(told, ProblemOut) else self.told(told).model_dump_json().encode()

    def _refusal(self) -> NotReachedError | None:
        if self.leaving():
            return NotReachedError("The service goes down and did not reach this question: ask it again.")
        if time.monotonic() > self._end:
            return NotReachedError(
                f"The batch took longer than {self.seconds:g} s and did not reach this question: ask it again."
            )
        return None
