"""Workers that record cases until they are killed at random moments; run as a command, prints what was acknowledged.

A worker acknowledges through a pipe after `record` returned.
Whoever takes the place of a killed worker first sends again what that one had under way, under its key.
"""

import json
import os
import random
import select
import signal
import sys
import time
from dataclasses import dataclass
from importlib import import_module

from clampgraph.cases.records import Findings, NewCase
from clampgraph.cases.store import CaseStore

__all__ = ["job", "main"]

WORKERS = 3


def job(key):
    """Return the case that belongs to a key; long enough to fill pages, and every field follows from the key."""
    number = int(key.partition("-")[2])
    return NewCase(
        "brannoch-40t", "gen-2", Findings((f"seen {key}",), readings={key: "x" * (number % 700)}),
        (f"found:{key}",), {key: number + 1}, number / 8, "note " * (number % 50) + key, key,
    )  # fmt: skip


# Loaded before any worker is born, so that each soon records: the drivers, and what makes a store ready.
for needed in ("alembic.command", "sqlalchemy.dialects.postgresql.psycopg", "sqlalchemy.dialects.sqlite.pysqlite"):
    import_module(needed)


@dataclass
class Worker:
    """A process that records, the pipe that it acknowledges through, and what it was to do first."""

    line: int
    first: int
    pid: int
    pipe: int


def hired(location, line, first):
    """Start a worker that records the cases of a line from a number on."""
    reading, writing = os.pipe()
    pid = os.fork()
    if pid:
        os.close(writing)
        return Worker(line, first, pid, reading)
    store, number = CaseStore(location), first
    while True:
        key = f"{line}-{number}"
        kept = store.record(job(key), key)
        os.write(writing, f"{kept.id} {key}\n".encode())
        number += 1


def killed(worker):
    """Kill a worker and return its acknowledgements, as number and key."""
    os.kill(worker.pid, signal.SIGKILL)
    _, status = os.waitpid(worker.pid, 0)
    assert os.WTERMSIG(status) == signal.SIGKILL, f"A worker ended by itself: {status}."
    with os.fdopen(worker.pipe) as pipe:
        return [(int(number), key) for number, key in (line.split() for line in pipe.read().splitlines())]


def time_of_three(location):
    """Return how long a worker takes to its third case [s]: with as long to live, some die early and some late."""
    begin = time.monotonic()
    probe = hired(location, WORKERS, 0)
    seen = b""
    while seen.count(b"\n") < 3:
        seen += os.read(probe.pipe, 1000)
    took = time.monotonic() - begin
    killed(probe)
    return took


def begun(location):
    """Start all workers at once on a store that is not there yet; return what each acknowledged until it was killed."""
    workers = [hired(location, line, 0) for line in range(WORKERS)]
    for worker in workers:
        select.select([worker.pipe], [], [])
    return [killed(worker) for worker in workers]


def main(location, kills, seed):
    """Kill workers so many times; print acknowledgements, and the next number of each line."""
    chance = random.Random(seed)  # noqa: S311  # moments to kill at, no secret
    firsts = begun(location)
    longest = time_of_three(location) / WORKERS
    acknowledged = [case for told in firsts for case in told]
    workers = [hired(location, line, len(told)) for line, told in enumerate(firsts)]
    for _ in range(kills):
        time.sleep(chance.uniform(0.0, longest))
        place = chance.randrange(WORKERS)
        old = workers[place]
        told = killed(old)
        acknowledged += told
        workers[place] = hired(location, old.line, old.first + len(told))
    lines = {}
    for worker in workers:
        told = killed(worker)
        acknowledged += told
        lines[worker.line] = worker.first + len(told)
    sys.stdout.write(json.dumps({"acknowledged": acknowledged, "lines": lines}))


if __name__ == "__main__":
    main(sys.argv[1], int(sys.argv[2]), int(sys.argv[3]))
