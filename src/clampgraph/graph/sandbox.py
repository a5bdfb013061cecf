"""Raw SPARQL in processes of its own, each of which is killed when its query takes too long or too much memory.

A process holds a copy of the graph, or opens the same folder or endpoint, and nothing else: no other file, no other
address, no way back into the service.
It answers one query after the other; a few of them work at once, whoever comes meanwhile waits, but not for ever, and
only so many wait.
A process that is killed is replaced when the next query needs it; one that nobody asks for a while ends by itself.
"""

import multiprocessing
import resource
import threading
from collections.abc import Callable
from contextlib import nullcontext, suppress
from multiprocessing.connection import Connection
from pathlib import Path

from pyoxigraph import RdfFormat, Store

from clampgraph import errors
from clampgraph.errors import ClampgraphError, StoreError, WrongCallError
from clampgraph.graph.guard import check_read_only
from clampgraph.graph.leases import Lease
from clampgraph.graph.results import Reply, reply

__all__ = ["AT_ONCE", "MEMORY_LIMIT", "TIME_LIMIT", "WAITING", "Sandbox", "Source"]

AT_ONCE = 2
"""Queries that work at the same time, unless told otherwise."""

WAITING = 16
"""Queries that may wait for a process."""

TIME_LIMIT = 10.0
"""Seconds that one query may take."""

MEMORY_LIMIT = 1 << 30
"""Bytes that one query may take beyond what the process holds already."""

START_LIMIT = 60.0
"""Seconds that a process may take to start."""

IDLE = 300.0
"""Seconds after which a process ends that nobody asks."""

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


def _serve(line: Connection, source: Source, memory: int, idle: float) -> None:
    kept = Lease(source) if isinstance(source, Path) else nullcontext()
    with kept, suppress(EOFError, KeyboardInterrupt):
        answer = _asked_of(source)
        check_read_only("ASK { }")  # imports what it needs before memory is rationed
        _ration(memory)
        line.send(None)
        while line.poll(idle):
            text, wanted = line.recv()
            try:
                check_read_only(text)
                line.send(answer(text, wanted))
            except ClampgraphError as error:
                line.send((type(error).__name__, str(error)))


def _ration(memory: int) -> None:
    """Let this process take so many bytes more than it has; past them it dies, and it alone."""
    pages = int(Path("/proc/self/statm").read_text("ascii").split()[0])
    most = pages * resource.getpagesize() + memory
    resource.setrlimit(resource.RLIMIT_AS, (most, most))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))


class _Worker:
    """One process and the line to it."""

    def __init__(self, source: Source, memory: int, idle: float) -> None:
        self._memory = memory
        # A fresh interpreter: nothing of this process, its threads or its sockets, is inherited.
        context = multiprocessing.get_context("spawn")
        self._line, other = context.Pipe()
        self.process = context.Process(target=_serve, args=(other, source, memory, idle), daemon=True)
        self.process.start()
        other.close()

    def begin(self) -> None:
        """Wait until the process is ready.

        Raises
        ------
        StoreError
            If it does not become so.
        """
        try:
            if self._line.poll(START_LIMIT):
                self._line.recv()
                return
        except (EOFError, OSError):
            pass
        self.end()
        raise StoreError("The process for raw SPARQL does not start: the store may be gone, or memory short.")

    def lives(self) -> bool:
        """Whether it can be asked, as far as is known."""
        return not self._line.closed and self.process.is_alive()

    def ask(self, text: str, wanted: str, limit: float) -> Reply | None:
        """Have a query answered; None if the process ended of itself before it was asked."""
        try:
            self._line.send((text, wanted))
            found = self._line.recv() if self._line.poll(limit) else None
        except (EOFError, OSError):
            self.process.join(1.0)
            rested = self.process.exitcode == 0
            self.end()
            if rested:
                return None
            raise WrongCallError(
                f"The query ended its process, as one does that takes more than {self._memory >> 20} MiB: narrow it."
            ) from None
        if isinstance(found, Reply):
            return found
        if found is not None:
            kind, sentence = found
            raise getattr(errors, kind)(sentence)
        self.end()
        raise WrongCallError(f"The query was stopped after {limit:g} s: narrow it, or add a LIMIT.")

    def end(self) -> None:
        """Kill the process."""
        self.process.kill()
        self.process.join()
        self._line.close()


class Sandbox:
    """Answers raw SPARQL within limits of time and memory, a few queries at once."""

    def __init__(
        self, source: Source, time_limit: float = TIME_LIMIT, memory_limit: int = MEMORY_LIMIT, idle: float = IDLE
    ) -> None:
        self._source, self._limit, self._memory, self._rest = source, time_limit, memory_limit, idle
        self._free = threading.Condition()
        self._idle: list[_Worker] = []
        self._busy: set[_Worker] = set()
        self._working = self._waiting = 0

    def ask(self, text: str, wanted: str = "", at_once: int | None = None) -> Reply:
        """Run a query when fewer than so many work; `AT_ONCE` unless told otherwise.

        Raises
        ------
        WrongCallError
            If the query is refused, wrong, too large in its answer, or takes more time or memory than allowed.
        StoreError
            If too many queries wait already, or the store is gone.
        """
        self._take_turn(at_once or AT_ONCE)
        try:
            reply = None
            while reply is None:
                reply = self._answered(text, wanted)
            return reply
        finally:
            with self._free:
                self._working -= 1
                self._free.notify()

    def _take_turn(self, at_once: int) -> None:
        with self._free:
            if self._working < at_once and not self._waiting:
                self._working += 1
                return
            if self._waiting < WAITING:
                self._waiting += 1
                try:
                    if self._free.wait_for(lambda: self._working < at_once, 2 * self._limit):
                        self._working += 1
                        return
                finally:
                    self._waiting -= 1
                    self._free.notify()  # whoever woke this one may have meant another
        raise StoreError("Other SPARQL queries are still running: ask again in a moment.")

    def _answered(self, text: str, wanted: str) -> Reply | None:
        worker = self._worker()
        try:
            return worker.ask(text, wanted, self._limit)
        finally:
            with self._free:
                self._busy.discard(worker)
                if worker.lives():
                    self._idle.append(worker)

    def _worker(self) -> _Worker:
        """Take a process that rests, or start one."""
        with self._free:
            while self._idle:
                worker = self._idle.pop()
                if worker.lives():
                    self._busy.add(worker)
                    return worker
                worker.end()
        worker = _Worker(self._source, self._memory, self._rest)
        worker.begin()
        with self._free:
            self._busy.add(worker)
        return worker

    def close(self) -> None:
        """Kill all processes; the next question starts new ones."""
        with self._free:
            ended, self._idle = self._idle, []
            for worker in self._busy:
                worker.process.kill()  # whoever waits for it sees that, and clears up
        for worker in ended:
            worker.end()
