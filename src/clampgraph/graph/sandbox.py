"""Raw SPARQL in a process of its own, which is killed when a query takes too long or too much memory.

The process holds a copy of the graph, or opens the same folder or endpoint, and nothing else: no other file, no other
address, no way back into the service.
One query runs at a time; whoever comes meanwhile waits, but not for ever.
"""

import multiprocessing
import resource
import threading
from collections.abc import Callable
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any

from pyoxigraph import RdfFormat, Store

from clampgraph import errors
from clampgraph.errors import ClampgraphError, StoreError, WrongCallError
from clampgraph.graph.guard import check_read_only
from clampgraph.graph.results import Reply, reply

__all__ = ["MEMORY_LIMIT", "TIME_LIMIT", "Sandbox", "Source"]

TIME_LIMIT = 10.0
"""Seconds that one query may take."""

MEMORY_LIMIT = 1 << 30
"""Bytes that one query may take beyond what the process holds already."""

START_LIMIT = 60.0
"""Seconds that the process may take to start."""

Source = bytes | Path | str
"""What raw SPARQL is asked of: N-Quads, a folder with a store, or the address of an endpoint."""


def _asked_of(source: Source) -> Callable[[str, str], Reply]:
    if isinstance(source, str):
        from clampgraph.graph.remote import Remote  # noqa: PLC0415  # a remote store opens a sandbox itself

        endpoint = Remote(source)
        return lambda text, wanted: endpoint.reply(text, wanted, {})
    if isinstance(source, Path):
        store = Store.read_only(str(source))
    else:
        store = Store()
        store.bulk_load(source, format=RdfFormat.N_QUADS)
    return lambda text, wanted: reply(store, text, wanted)


def _serve(line: Connection, source: Source, memory: int) -> None:
    try:
        answer = _asked_of(source)
        check_read_only("ASK { }")  # imports what it needs before memory is rationed
        _ration(memory)
        line.send(None)
        while True:
            text, wanted = line.recv()
            try:
                check_read_only(text)
                line.send(answer(text, wanted))
            except ClampgraphError as error:
                line.send((type(error).__name__, str(error)))
    except (EOFError, KeyboardInterrupt):
        return


def _ration(memory: int) -> None:
    """Let this process take so many bytes more than it has; past them it dies, and it alone."""
    pages = int(Path("/proc/self/statm").read_text("ascii").split()[0])
    most = pages * resource.getpagesize() + memory
    resource.setrlimit(resource.RLIMIT_AS, (most, most))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))


class Sandbox:
    """Answers raw SPARQL within limits of time and memory."""

    def __init__(self, source: Source, time_limit: float = TIME_LIMIT, memory_limit: int = MEMORY_LIMIT) -> None:
        self._source, self._limit, self._memory = source, time_limit, memory_limit
        self._lock = threading.Lock()
        self._process: Any = None
        self._line: Connection | None = None

    def ask(self, text: str, wanted: str = "") -> Reply:
        """Run a query.

        Raises
        ------
        WrongCallError
            If the query is refused, wrong, too large in its answer, or takes more time or memory than allowed.
        StoreError
            If too many queries wait already, or the store is gone.
        """
        if not self._lock.acquire(timeout=2 * self._limit):
            raise StoreError("Other SPARQL queries are still running: ask again in a moment.")
        try:
            return self._answered(text, wanted)
        finally:
            self._lock.release()

    def _answered(self, text: str, wanted: str) -> Reply:
        line = self._start()
        try:
            line.send((text, wanted))
            found = line.recv() if line.poll(self._limit) else None
        except (EOFError, OSError):
            self.close()
            raise WrongCallError(
                f"The query ended its process, as one does that takes more than {self._memory >> 20} MiB: narrow it."
            ) from None
        if isinstance(found, Reply):
            return found
        if found is not None:
            kind, sentence = found
            raise getattr(errors, kind)(sentence)
        self.close()
        raise WrongCallError(f"The query was stopped after {self._limit:g} s: narrow it, or add a LIMIT.")

    def _start(self) -> Connection:
        if self._line is not None and self._process.is_alive():
            return self._line
        self.close()
        # A fresh interpreter: nothing of this process, its threads or its sockets, is inherited.
        context = multiprocessing.get_context("spawn")
        line, other = context.Pipe()
        self._line = line
        self._process = context.Process(target=_serve, args=(other, self._source, self._memory), daemon=True)
        self._process.start()
        other.close()
        try:
            if line.poll(START_LIMIT):
                line.recv()
                return line
        except (EOFError, OSError):
            pass
        self.close()
        raise StoreError("The process for raw SPARQL does not start: the store may be gone, or memory short.")

    def close(self) -> None:
        """Kill the process; the next question starts a new one."""
        if self._process is not None:
            self._process.kill()
            self._process.join()
        if self._line is not None:
            self._line.close()
        self._process = self._line = None
