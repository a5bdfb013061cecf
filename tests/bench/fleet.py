"""A fleet: what loading costs, that answers do not slow down with it, and work orders in bulk.

``python -m tests.bench fleet --triples 10000000 --tickets 1000000`` measures the whole size.
Loading and triage run in processes of their own, so that peak memory can be told.
"""

import os
import subprocess
import sys
import tempfile
from functools import partial
from pathlib import Path

import pyarrow as pa
import pyarrow.parquet as pq
from tests.bench.figures import Figure, in_turn
from tests.bench.fleet_data import Fleet, tickets

from clampgraph.answers.diagnosing.diagnose import diagnose
from clampgraph.answers.diagnosing.diagnosis import DiagnoseRequest
from clampgraph.answers.library import Library
from clampgraph.answers.replacing.fits import FitsRequest, fits
from clampgraph.tables import Facts, Scope, build

__all__ = ["report"]

TRIPLES, TICKETS, FRESH, DISTINCT = 1_000_000, 200_000, 2_000, 20_000
FEW, MANY, GROWTH, RATE, REPEATS = 5, 5000, 1.2, 20_000, 9
COMMON = "as technicians write them"
SOLVING = "compiling circuits, each once or twice, then running them"
GROWING = "questions gathered before they are solved, up to a bound, and circuits until their shelf is full"
UNITS = ("brannoch-30s", "brannoch-40t", "ulvedal-40c", "ulvedal-50b", "ulvedal-63h")
PEAK = """
from pathlib import Path
peak = next(int(line.split()[1]) * 1024 for line in Path("/proc/self/status").open() if line.startswith("VmHWM"))
"""
LOADING = (
    """
import sys, time
from pathlib import Path
from clampgraph.answers.library import Library
start = time.perf_counter()
library = Library.open([Path(sys.argv[1])])
units = len(library.assemblies)
seconds = time.perf_counter() - start
"""
    + PEAK
    + """
print(seconds, peak, units)
"""
)
TRIAGE = (
    """
import sys, time
from pathlib import Path
from clampgraph.fleet.triage import Run, triage
start, used = time.perf_counter(), time.process_time()
triage(Run(Path(sys.argv[1]), Path(sys.argv[2])))
seconds, used = time.perf_counter() - start, time.process_time() - used
"""
    + PEAK
    + """
print(seconds, used, peak)
"""
)


def report(*words):
    """Yield lines and figures; `--triples N` to load, `--tickets N` to rank."""
    sizes = dict(zip(words[::2], map(int, words[1::2]), strict=True))
    unknown = set(sizes) - {"--triples", "--tickets"}
    if unknown:
        raise ValueError(f"There is no option {', '.join(sorted(unknown))}; there are --triples and --tickets.")
    with tempfile.TemporaryDirectory() as folder:
        yield from _loading(Path(folder), sizes.get("--triples", TRIPLES))
        yield from _growth(Path(folder))
        yield from _triage(Path(folder), sizes.get("--tickets", TICKETS))


def _measured(program, *words):
    fresh = {**os.environ, "CLAMPGRAPH_SNAPSHOTS": "off"}
    command = [sys.executable, "-c", program, *map(str, words)]
    done = subprocess.run(command, check=True, capture_output=True, text=True, env=fresh)
    return [float(word) for word in done.stdout.split()]


def _loading(folder, triples):
    file = folder / "loaded.nt"
    units, made = Fleet(triples=triples).write(file)
    runs = [_measured(LOADING, file) for _ in range(2)]
    empty = folder / "empty.nt"
    empty.write_text("", "utf-8")
    rest = _measured(LOADING, empty)
    yield f"{made} triples, {units} units, {file.stat().st_size / 2**20:.0f} MiB of N-Triples"
    micro = [(run[0] - rest[0]) / made * 1e6 for run in runs]
    room = [(run[1] - rest[1]) / made for run in runs]
    yield Figure.of("load, for each triple", micro, "µs", "Oxigraph's parser and its three indexes")
    yield Figure.of("memory, for each triple", room, "byte", "Oxigraph's store in memory")
    yield Figure.of("memory, for each unit", [r * made / units / 1024 for r in room], "KiB", "as above")
    file.unlink()


def _growth(folder):
    libraries = []
    for units in (FEW, MANY):
        Fleet(units=units).write(file := folder / f"{units}.nt")
        libraries.append(Library.open([file]))
    name = next(name for name in libraries[0].assemblies if "-v" in name)
    position = next(p for p in libraries[0].assembly(name).positions.values() if p.items)
    symptoms = [node.symptom for node in libraries[0].network(libraries[0].assembly(name)).of_kind("symptom")]
    questions = {
        "diagnose": lambda library, _, turn: diagnose(library, DiagnoseRequest(assembly=name, seen=(symptoms[turn],))),
        "fits": lambda library, _, __: [
            fits(library, FitsRequest(mpn=position.items[0].mpn, assembly=name, position=position.id))
            for _ in range(99)
        ],
        "where-used": lambda _, facts, __: build(facts, "where-used", Scope(name)),
    }
    facts = [Facts(library) for library in libraries]
    for question, ask in questions.items():
        turns = [iter(range(100)), iter(range(100))]
        sides = [partial(_next, ask, *side) for side in zip(libraries, facts, turns, strict=True)]
        few, many = in_turn(*sides, repeats=REPEATS)
        growth = [large / small for small, large in zip(few, many, strict=True)]
        told = f"{question}: time with {MANY} units over that with {FEW}"
        yield Figure.of(told, growth, "times", "nothing that grows with the fleet", ("<=", GROWTH))


def _next(ask, library, facts, turns):
    ask(library, facts, next(turns))


def _triage(folder, count):
    library = Library.open()
    jobs = {
        COMMON: tickets(library, UNITS, count),
        f"nearly all different, {FRESH} of them": tickets(library, UNITS, FRESH, distinct=True),
        f"nearly all different, {DISTINCT} of them": tickets(library, UNITS, DISTINCT, distinct=True),
    }
    peaks = {}
    for kind, columns in jobs.items():
        many = len(columns["ticket"])
        different = len(set(zip(*list(columns.values())[1:], strict=True)))
        runs = [_ranked(folder, pa.table(columns)) for _ in range(2)]
        peaks[kind] = [peak / 2**20 for *_, peak in runs]
        yield f"{many} work orders, {kind}: {different} different questions; peak {max(peaks[kind]):.0f} MiB"
        limit, asked = (SOLVING, (">=", RATE)) if kind == COMMON else (f"{SOLVING}; few questions share them", None)
        yield Figure.of(f"triage, {kind}", [many / used for _, used, _ in runs], "tickets/s on one core", limit, asked)
    tenth = pa.table(jobs[COMMON]).slice(0, max(count // 10, 1))
    small = [_ranked(folder, tenth)[2] / 2**20 for _ in range(2)]
    growth = [large / little for large, little in zip(peaks[COMMON], small, strict=True)]
    yield Figure.of("peak memory over that for a tenth of the work orders", growth, "times", GROWING, ("<=", 1.1))


def _ranked(folder, table):
    """Rank tickets in a process of their own; return seconds, processor seconds and peak memory [byte]."""
    pq.write_table(table, folder / "tickets.parquet")
    return _measured(TRIAGE, folder / "tickets.parquet", folder / "ranked.parquet")
