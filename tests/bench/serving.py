"""A service in a process of its own, and a load that is put on it over raw sockets."""

import asyncio
import contextlib
import json
import os
import random
import re
import resource
import subprocess
import sys
import tempfile
import time
from collections import Counter
from dataclasses import dataclass, field
from statistics import quantiles

__all__ = [
    "BARE", "OURS", "Load", "Served", "open_files", "packing", "percentile", "post", "questions", "served", "told",
]  # fmt: skip

OURS = """
import sys
from clampgraph.api.running import run
from clampgraph.api.settings import read_settings
run(read_settings(dict(pair.split("=", 1) for pair in sys.argv[1:])))
"""
"""The service as `clampgraph serve` runs it."""

BARE = """
import socket, sys
import uvicorn
from fastapi import FastAPI, Response
body, app = sys.stdin.buffer.read(), FastAPI()
@app.post("/diagnoses")
async def same() -> Response:
    return Response(body, media_type="application/json")
listener = socket.create_server(("127.0.0.1", 0))
print(f"http://127.0.0.1:{listener.getsockname()[1]}", file=sys.stderr, flush=True)
uvicorn.Server(uvicorn.Config(app, http="h11", log_level="error", access_log=False)).run(sockets=[listener])
"""
"""The peer: one FastAPI route without validation or work, on the same server, that returns one body."""


@dataclass
class Served:
    """A running service."""

    process: subprocess.Popen
    log: object
    host: str
    port: int

    def memory(self):
        """Return what the process holds in memory [MiB]."""
        text = open(f"/proc/{self.process.pid}/status", encoding="ascii").read()  # noqa: PTH123, SIM115
        return int(re.search(r"VmRSS:\s+(\d+)", text)[1]) / 1024

    def seconds(self):
        """Return the processor time that it has used [s]."""
        fields = open(f"/proc/{self.process.pid}/stat", encoding="ascii").read().rpartition(")")[2].split()  # noqa: PTH123, SIM115
        return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


@contextlib.contextmanager
def served(program, *words, feed=b""):
    """Run a program that prints its address on standard error, and end it."""
    command = [sys.executable, "-c", program, *words]
    # The log goes to a file, so that nobody spends time on reading it.
    with (
        tempfile.NamedTemporaryFile("r", encoding="utf-8") as log,
        subprocess.Popen(command, stdin=subprocess.PIPE, stderr=log) as process,
    ):
        process.stdin.write(feed)
        process.stdin.close()
        try:
            found = None
            while found is None:
                if process.poll() is not None:
                    raise RuntimeError(f"the service did not start: {log.read()}")
                time.sleep(0.05)
                log.seek(0)
                found = re.search(r"http://([\d.]+):(\d+)", log.read())
            yield Served(process, log, found[1], int(found[2]))
        finally:
            process.terminate()


def questions(library, count, seed=1):
    """Draw distinct sets of findings: one to three symptoms seen and up to two absent, at any described unit."""
    rng, found = random.Random(seed), {}  # noqa: S311 - reproducible, not secret
    signs = {
        name: sorted(n.symptom for n in library.network(library.assembly(name)).of_kind("symptom"))
        for name in sorted(library.assemblies)
    }
    while len(found) < count:
        unit = rng.choice(sorted(signs))
        seen, absent = rng.randint(1, 3), rng.randint(0, 2)
        drawn = rng.sample(signs[unit], seen + absent)
        found[unit, frozenset(drawn[:seen]), frozenset(drawn[seen:])] = {
            "assembly": unit, "seen": drawn[:seen], "unseen": drawn[seen:],
        }  # fmt: skip
    return list(found.values())


def post(question, path="/diagnoses"):
    """Return the bytes of a request, which takes no compressed answer."""
    body = json.dumps(question).encode()
    head = f"POST {path} HTTP/1.1\r\nhost: localhost\r\ncontent-type: application/json\r\n"
    return head.encode() + b"content-length: %d\r\n\r\n" % len(body) + body


def packing(request):
    """Return the request as most clients send it: an answer may be compressed."""
    return request.replace(b"\r\n\r\n", b"\r\naccept-encoding: gzip\r\n\r\n", 1)


@dataclass
class Load:
    """What came of a load: seconds of each answered request, and how the others ended."""

    seconds: list = field(default_factory=list)
    statuses: dict = field(default_factory=dict)
    lost: int = 0
    lasted: float = 0.0
    own: float = 0.0

    def __add__(self, other):
        """Return what came of both, one after the other."""
        statuses = dict(Counter(self.statuses) + Counter(other.statuses))
        return Load(
            self.seconds + other.seconds, statuses, self.lost + other.lost,
            self.lasted + other.lasted, self.own + other.own,
        )  # fmt: skip

    @property
    def rate(self):
        """Answers a second."""
        return len(self.seconds) / self.lasted

    async def put(self, where, requests, connections, until):
        """Keep so many connections busy with the next request of an iterator, until it ends or the time is over."""
        begun, own = time.perf_counter(), time.process_time()
        await asyncio.gather(*(self._one(where, requests, begun + until) for _ in range(connections)))
        self.lasted, self.own = time.perf_counter() - begun, time.process_time() - own
        return self

    async def _one(self, where, requests, end):
        reader = writer = None
        while time.perf_counter() < end:
            request = next(requests, None)
            if request is None:
                break
            try:
                if writer is None:
                    reader, writer = await asyncio.open_connection(where.host, where.port, limit=1 << 20)
                start = time.perf_counter()
                writer.write(request)
                head = await reader.readuntil(b"\r\n\r\n")
                await reader.readexactly(int(re.search(rb"content-length: (\d+)", head)[1]))
            except (OSError, asyncio.IncompleteReadError):
                self.lost += 1
                writer = None
                continue
            status = int(head[9:12])
            self.statuses[status] = self.statuses.get(status, 0) + 1
            self.seconds.append(time.perf_counter() - start)
            if b"\r\nconnection: close" in head:
                writer = None
        if writer is not None:
            writer.close()


def told(load):
    """Return in one line what came of a load."""
    middle, tail = (1e3 * percentile(load.seconds, p) for p in (50, 99))
    others = {status: count for status, count in load.statuses.items() if status != 200}
    return (
        f"{len(load.seconds):,} answers, {load.rate:,.0f} a second, median {middle:.1f} ms, p99 {tail:.1f} ms, "
        f"lost {load.lost}, other statuses {others or 'none'}, the load took {load.own / load.lasted:.0%} of a core"
    )


def percentile(seconds, hundredths):
    """Return a percentile [s] of at least two times."""
    return quantiles(seconds, n=100)[hundredths - 1]


def open_files(count):
    """Let this process, and what it starts, hold so many connections."""
    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    resource.setrlimit(resource.RLIMIT_NOFILE, (min(max(soft, count), hard), hard))
