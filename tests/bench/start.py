"""Start: the whole command `diagnose brannoch-40t --seen bang-at-release`, cold, against importing three libraries.

All are whole processes, run in turn; with bytecode, as pip installs it, unless a line says otherwise.
What limits ours: numpy, pydantic and Typer take more than half of it, and no command can do without them; the rest
is our own modules, the derivation of the network, Rich, and reading what was kept.
"""

import os
import subprocess
import sys
import tempfile
import time
from functools import partial
from pathlib import Path
from statistics import quantiles

from tests.bench.timing import Timing

__all__ = ["report"]

PEER = [sys.executable, "-c", "import rdflib, numpy, networkx"]
OURS = [Path(sys.executable).with_name("clampgraph"), "diagnose", "brannoch-40t", "--seen", "bang-at-release"]
REPEATS, TARGET = 15, 2.5


def report():
    """Yield the lines of the report."""
    with tempfile.TemporaryDirectory() as kept:
        bare = {**os.environ, "CLAMPGRAPH_SNAPSHOTS": str(Path(kept, "answers")), "PYTHONDONTWRITEBYTECODE": "1"}
        warm = {name: value for name, value in bare.items() if name != "PYTHONDONTWRITEBYTECODE"}
        warm["PYTHONPYCACHEPREFIX"] = str(Path(kept, "bytecode"))
        first = {**warm, "CLAMPGRAPH_SNAPSHOTS": "off"}
        jobs = {
            "import rdflib, numpy, networkx": partial(_run, PEER, warm),
            "diagnose, for people": partial(_run, OURS, warm),
            "diagnose --json": partial(_run, [*OURS, "--json"], warm),
            "diagnose, where no bytecode is kept": partial(_run, OURS, bare),
            "diagnose, the first time with new packs": partial(_run, OURS, first),
        }
        for job in jobs.values():
            job()  # warms the caches of the machine, and keeps the snapshot
        times = _in_turn(jobs)
        assert any(Path(kept, "answers").iterdir())
    peer = times.pop("import rdflib, numpy, networkx")
    yield f"{'import rdflib, numpy, networkx':42} {peer}"
    for name, took in times.items():
        ratio = took.median / peer.median
        told = f"; asked: at most {TARGET}" if "first" not in name else ""
        yield f"{name:42} {took}; {ratio:.2f} times the peer{told}"


def _in_turn(jobs):
    """Run the jobs in turn, so that what the machine does besides strikes all alike; return a timing for each."""
    seconds = {name: [] for name in jobs}
    for _ in range(REPEATS):
        for name, job in jobs.items():
            start = time.perf_counter()
            job()
            seconds[name].append(time.perf_counter() - start)
    return {name: Timing(*quantiles(found, n=4)) for name, found in seconds.items()}


def _run(words, environment):
    subprocess.run(words, env=environment, check=True, capture_output=True)
