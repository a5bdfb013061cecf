"""Sharing between what lies ready and what is computed: a fine switch, a frozen start, memory that goes back."""

import asyncio
import contextlib
import ctypes
import gc
import sys
import time

import pytest

from clampgraph.api import sharing


@pytest.fixture
def as_before():
    """Put back what is set for the whole process."""
    interval = sys.getswitchinterval()
    yield
    sys.setswitchinterval(interval)
    gc.unfreeze()


@pytest.mark.usefixtures("as_before")
def test_what_is_loaded_is_not_searched_again():
    """What exists by then is frozen, and threads take turns more often than usual."""
    before = sys.getswitchinterval()
    sharing.settle()
    assert sys.getswitchinterval() < before
    assert gc.get_freeze_count() > 10_000


def _run(seconds, work):
    async def both():
        task = asyncio.create_task(sharing.thrift())
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            work()
            await asyncio.sleep(0.001)
        task.cancel()
        with contextlib.suppress(asyncio.CancelledError):
            await task

    asyncio.run(both())


def test_memory_goes_back_while_there_is_work(monkeypatch):
    """And is left alone while there is none."""
    given = []
    monkeypatch.setattr(sharing, "PAUSE", 0.05)
    monkeypatch.setattr(sharing, "BUSY", 0.02)
    monkeypatch.setattr(sharing, "give_back", lambda: given.append(True))
    _run(0.2, lambda: None)
    idle = len(given)
    _run(0.5, lambda: sum(range(100_000)))
    assert len(given) > idle


@pytest.mark.parametrize("fault", [AttributeError, OSError, TypeError])
def test_a_system_that_takes_no_memory_back_is_left_alone(monkeypatch, fault):
    """Other C libraries have no such function."""

    def lacking(_):
        raise fault

    monkeypatch.setattr(ctypes, "CDLL", lacking)
    sharing.give_back()
