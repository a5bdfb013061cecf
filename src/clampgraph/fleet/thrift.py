"""Little memory while many questions are solved: few circuits are kept, and what is free is given back."""

import contextlib
from collections.abc import Iterator
from threading import Event, Thread

from clampgraph.diagnosis.inference.shelf import SHELF
from clampgraph.memory import give_back

__all__ = ["thrift"]

CIRCUITS = 2_000_000
"""Products of the circuits that are kept meanwhile, about 100 MB: units are solved one after the other, and few
circuits are needed again; twice as many would save the compiling of one in fifty to one in eight."""

PAUSE = 0.25
"""Seconds between two times; each takes about 3 ms."""


@contextlib.contextmanager
def thrift() -> Iterator[None]:
    """Keep few circuits while the block runs, and give free memory back now and then, where the C library can."""
    over, usual = Event(), SHELF.products
    SHELF.products = min(usual, CIRCUITS)
    thread = Thread(target=_now_and_then, args=(over,), name="thrift", daemon=True)
    thread.start()
    try:
        yield
    finally:
        over.set()
        thread.join()
        SHELF.products = usual


def _now_and_then(over: Event) -> None:
    while not over.wait(PAUSE):
        give_back()
