"""Raw SPARQL in a process of its own, which is killed when a query takes too long.

The process holds a copy of the graph and nothing else: no file, no network, no way back into the service.
One query runs at a time; whoever comes meanwhile waits.
"""

import multiprocessing
import threading
from multiprocessing.connection import Connection
from typing import Any

from pyoxigraph import RdfFormat, Store

from clampgraph.errors import ClampgraphError, WrongCallError
from clampgraph.graph.guard import check_read_only
from clampgraph.graph.results import Reply, reply

__all__ = ["TIME_LIMIT", "Sandbox"]

TIME_LIMIT = 10.0
"""Seconds that one query may take."""


def _serve(line: Connection, dump: bytes) -> None:
    store = Store()
    store.load(dump, format=RdfFormat.N_QUADS)
    while True:
        try:
            text, wanted = line.recv()
        except (EOFError, KeyboardInterrupt):
            return
        try:
            check_read_only(text)
            line.send(reply(store, text, wanted))
        except ClampgraphError as error:
            line.send(str(error))


class Sandbox:
    """Answers raw SPARQL over a copy of a store, within a time limit."""

    def __init__(self, store: Store, time_limit: float = TIME_LIMIT) -> None:
        self._dump = store.dump(format=RdfFormat.N_QUADS) or b""
        self._limit = time_limit
        self._lock = threading.Lock()
        self._process: Any = None
        self._line: Connection | None = None

    def ask(self, text: str, wanted: str = "") -> Reply:
        """Run a query.

        Raises
        ------
        WrongCallError
            If the query is refused, wrong, too large in its answer, or slower than the limit.
        """
        with self._lock:
            line = self._start()
            line.send((text, wanted))
            answered = line.poll(self._limit)
            try:
                found = line.recv() if answered else None
            except EOFError:
                found = None
            if found is None:
                self.close()
        if isinstance(found, Reply):
            return found
        if isinstance(found, str):
            raise WrongCallError(found)
        raise WrongCallError(f"The query was stopped after {self._limit:g} s: narrow it, or add a LIMIT.")

    def _start(self) -> Connection:
        if self._line is None or not self._process.is_alive():
            # A fresh interpreter: nothing of this process, its threads or its sockets, is inherited.
            context = multiprocessing.get_context("spawn")
            self._line, other = context.Pipe()
            self._process = context.Process(target=_serve, args=(other, self._dump), daemon=True)
            self._process.start()
            other.close()
        return self._line

    def close(self) -> None:
        """Kill the process; the next question starts a new one."""
        if self._process is not None:
            self._process.kill()
            self._process.join()
        if self._line is not None:
            self._line.close()
        self._process = self._line = None
