"""While the application serves: signals, and what other workers loaded.

SIGHUP reads the packs again.
SIGTERM makes the service not ready first, so that whoever spreads the load sends nothing more, and stops it after that.
Workers tell each other of a changed edition through a file whose content is the edition's name.
"""

import asyncio
import os
import signal
import sys
import threading
from collections.abc import AsyncIterator, Callable, Coroutine
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any

from fastapi import FastAPI

from clampgraph.api.around.logs import Log
from clampgraph.api.around.recognising import Recognition
from clampgraph.api.keeping import Held, Keeper
from clampgraph.api.settings import Settings
from clampgraph.api.sharing import thrift
from clampgraph.errors import ClampgraphError

__all__ = ["NOTICE", "lifespan"]

NOTICE = "CLAMPGRAPH_WORKER_NOTICE"
"""Environment variable with the file through which workers tell each other."""

RETRY = 2.0
"""Seconds between two attempts to reach a store that was down at the start."""

LOOK = 0.5
"""Seconds between two looks at what the other workers loaded."""


@asynccontextmanager
async def lifespan(app: FastAPI) -> AsyncIterator[dict[str, Recognition]]:
    """Listen for signals and for what other workers loaded, while the application serves; give what the server asks."""
    keeper: Keeper = app.state.keeper
    settings: Settings = app.state.settings
    log: Log = app.state.log
    tasks: set[asyncio.Task[None]] = set()

    def begin(work: Coroutine[Any, Any, None]) -> None:
        task = asyncio.create_task(work)
        tasks.add(task)
        task.add_done_callback(tasks.discard)

    begin(thrift())
    undo = _signals(keeper, settings, lambda: begin(_reloaded(keeper, log, "signal")))
    if keeper.held is None:
        begin(_retried(keeper, log))
    notice = os.environ.get(NOTICE)
    if notice:
        _post(Path(notice), keeper)
        begin(_follow(Path(notice), keeper, log))
    try:
        yield {"known": app.state.known}
    finally:
        keeper.leaving = True
        undo()
        for task in tasks:
            task.cancel()
        if keeper.held is not None:
            keeper.held.retire()
        app.state.casebook.store.close()


def _signals(keeper: Keeper, settings: Settings, reload: Callable[[], None]) -> Callable[[], None]:
    """Answer SIGHUP with a reload, and SIGTERM with not ready first and the stop after that; return how to undo it."""
    if threading.current_thread() is not threading.main_thread() or sys.platform == "win32":
        return lambda: None
    loop = asyncio.get_running_loop()
    stop = signal.getsignal(signal.SIGTERM)

    def leave() -> None:
        if keeper.leaving or not callable(stop):
            loop.call_soon(lambda: callable(stop) and stop(signal.SIGTERM, None))
            return
        keeper.leaving = True
        loop.call_later(settings.drain, lambda: stop(signal.SIGTERM, None))

    loop.add_signal_handler(signal.SIGHUP, reload)
    loop.add_signal_handler(signal.SIGTERM, leave)

    def undo() -> None:
        loop.remove_signal_handler(signal.SIGHUP)
        loop.remove_signal_handler(signal.SIGTERM)
        signal.signal(signal.SIGTERM, stop)

    return undo


async def _reloaded(keeper: Keeper, log: Log, why: str) -> None:
    try:
        changed = await keeper.reload()
    except ClampgraphError as error:
        log.warning("reload refused", why=why, detail=str(error))
    else:
        log.info("reloaded", why=why, changed=changed, edition=keeper.held.edition if keeper.held else None)


async def _retried(keeper: Keeper, log: Log) -> None:
    """Try until the store is back."""
    while keeper.held is None:
        await asyncio.sleep(RETRY)
        await _reloaded(keeper, log, "store was down")


def _post(notice: Path, keeper: Keeper) -> None:
    """Tell the other workers what this one answers from, from now on."""

    def tell(held: Held) -> None:
        part = notice.with_name(f"{notice.name}.{os.getpid()}")
        part.write_text(held.edition, "utf-8")
        part.replace(notice)

    keeper.changed.append(tell)


def _read(notice: Path) -> str | None:
    return notice.read_text("utf-8") if notice.exists() else None


async def _follow(notice: Path, keeper: Keeper, log: Log) -> None:
    """Load what another worker loaded and checked."""
    seen = None
    while True:
        await asyncio.sleep(LOOK)
        told = await asyncio.to_thread(_read, notice)
        if told in (None, seen):
            continue
        seen = told
        if keeper.held is None or keeper.held.edition != told:
            await _reloaded(keeper, log, "another worker")
