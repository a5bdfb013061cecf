"""Loading: a million triples to ready, against the raw bulk load of the same file by the library underneath.

Each load is a process of its own, so that peak memory can be told.
What limits ours: the same parser and the same store; beside them the file is read once more for the digest of its
edition, and the shipped packs are loaded.
"""

import os
import subprocess
import sys
import tempfile
from pathlib import Path
from statistics import median

__all__ = ["report"]

TRIPLES, REPEATS, TARGET = 1_000_000, 3, 1.5
MEASURED = """
import resource, sys, time
start = time.perf_counter()
{work}
print(time.perf_counter() - start, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss, count)
"""
RAW = """
from pyoxigraph import RdfFormat, Store
store = Store(*sys.argv[2:])
store.bulk_load(path=sys.argv[1], format=RdfFormat.N_TRIPLES)
count = len(store)
"""
OURS = """
from pathlib import Path
from clampgraph.answers.library import Library
library = Library.open([Path(sys.argv[1])], *sys.argv[2:])
assert library.assembly("brannoch-40t")
count = len(library.graph)
"""


def report():
    """Yield the lines of the report."""
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "million.nt"
        _write(file)
        for where in ("in memory", "on disk"):
            yield from _compared(file, where)


def _compared(file, where):
    took = {"raw": [], "ours": []}
    for _ in range(REPEATS):
        for name, work in (("raw", RAW), ("ours", OURS)):
            with tempfile.TemporaryDirectory() as disk:
                took[name].append(_measure(file, work, [] if where == "in memory" else [disk]))
    seconds, peaks = ({name: median(run[at] for run in runs) for name, runs in took.items()} for at in (0, 1))
    assert all(run[2] >= TRIPLES for runs in took.values() for run in runs)
    for name in took:
        yield f"{TRIPLES} triples {where}, {name:4}: {seconds[name]:6.2f} s, peak {peaks[name] / 1024:7.1f} MB"
    time, memory = seconds["ours"] / seconds["raw"], peaks["ours"] / peaks["raw"]
    yield f"  ready in {time:.2f} times the time and {memory:.2f} times the memory; asked: at most {TARGET} of each"


def _measure(file, work, places):
    words = [sys.executable, "-c", MEASURED.format(work=work), str(file), *places]
    fresh = {**os.environ, "CLAMPGRAPH_SNAPSHOTS": "off"}
    told = subprocess.run(words, env=fresh, check=True, capture_output=True, text=True).stdout.split()
    return float(told[0]), float(told[1]), int(told[2])


def _write(file):
    """Write fitments of invented units: texts, links and figures in the shares that packs have."""
    base = "https://w3id.org/clampgraph/generated/"
    with file.open("w", encoding="utf-8") as out:
        for number in range(TRIPLES // 5):
            thing = f"<{base}thing-{number}>"
            out.write(
                f"{thing} <http://www.w3.org/1999/02/22-rdf-syntax-ns#type> <{base}Thing> .\n"
                f'{thing} <http://purl.org/dc/terms/identifier> "thing-{number}" .\n'
                f"{thing} <{base}partOf> <{base}unit-{number // 20}> .\n"
                f'{thing} <{base}label> "position {number % 20} of unit {number // 20}"@en .\n'
                f'{thing} <{base}count> "{number % 7}"^^<http://www.w3.org/2001/XMLSchema#integer> .\n'
            )
