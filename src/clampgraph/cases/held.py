"""A value that is asked for at most once in a while, and at once after a change of our own."""

import time
from collections.abc import Callable
from threading import Lock
from typing import Generic, TypeVar

from clampgraph.errors import StoreError

__all__ = ["Held"]

T = TypeVar("T")


class Held(Generic[T]):
    """What was asked for last, for some seconds; also that nobody answered.

    Whoever changes the value calls `forget` before telling anyone; from then on nobody is told the old one, not even
    by a question that was under way meanwhile.
    After a failure one caller at a time asks whether the other side is back; the rest are told at once that it is not.

    Parameters
    ----------
    ask
        Asks for the value, and may raise a StoreError.
    seconds
        How long a value holds, and how long a failure [s].
    clock
        Tells the time [s].
    """

    def __init__(
        self, ask: Callable[[], T], seconds: tuple[float, float], clock: Callable[[], float] = time.monotonic
    ) -> None:
        self._ask, self._seconds, self._clock = ask, seconds, clock
        self._kept: tuple[T | StoreError, float] | None = None
        self._changes = 0
        self._lock, self._asking = Lock(), Lock()

    def now(self) -> T:
        """Return the value, asked for if none is held.

        Raises
        ------
        StoreError
            If nobody answers, or did not a moment ago.
        """
        found, until = self._kept or (None, 0.0)
        if isinstance(found, StoreError):
            return self._tried(found, until)
        return found if found is not None and self._clock() < until else self._asked()

    def at_hand(self) -> T | None:
        """Return the value if one is held that still holds; never asks, never waits."""
        found, until = self._kept or (None, 0.0)
        return found if not isinstance(found, StoreError) and self._clock() < until else None

    def fail(self, error: StoreError) -> None:
        """Take note that nobody answered, unless that is known already: what is known ends at its own time."""
        with self._lock:
            if self._kept is None or not isinstance(self._kept[0], StoreError) or self._clock() >= self._kept[1]:
                self._kept = error, self._clock() + self._seconds[1]

    def forget(self) -> None:
        """Ask anew from now on."""
        with self._lock:
            self._changes += 1
            self._kept = None

    def _tried(self, error: StoreError, until: float) -> T:
        if self._clock() < until or not self._asking.acquire(blocking=False):
            raise StoreError(str(error))
        try:
            return self._asked()
        finally:
            self._asking.release()

    def _asked(self) -> T:
        changes = self._changes
        try:
            found = self._ask()
        except StoreError as error:
            self.fail(error)
            raise
        with self._lock:
            if changes == self._changes:
                self._kept = found, self._clock() + self._seconds[0]
        return found
