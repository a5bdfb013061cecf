"""Memory given back while circuits are compiled and run, which takes and frees a lot of it."""

import contextlib
import ctypes
from collections.abc import Iterator
from threading import Event, Thread

__all__ = ["thrift"]

PAUSE = 0.5
"""Seconds between two times; each takes about 3 ms."""


@contextlib.contextmanager
def thrift() -> Iterator[None]:
    """Give free memory back now and then while the block runs, where the C library can."""
    over = Event()
    thread = Thread(target=_now_and_then, args=(over,), name="thrift", daemon=True)
    thread.start()
    try:
        yield
    finally:
        over.set()
        thread.join()


def _now_and_then(over: Event) -> None:
    with contextlib.suppress(AttributeError, OSError, TypeError):  # only the GNU C library has it
        trim = ctypes.CDLL(None).malloc_trim
        while not over.wait(PAUSE):
            trim(0)
