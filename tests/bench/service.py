"""The service against a bare FastAPI route that returns the same body, and the service under siege.

``python -m tests.bench service`` compares: one worker each, on loopback, 32 connections from another process,
questions drawn at random from distinct sets of findings.
*Cold* asks each set once, so that each must be computed, and is as fast as diagnosing is; *warm* draws from those that
were answered, once for clients that take no compressed answer, and once for the usual ones, which do.
The time limit is out of the way, so that nothing is still being computed when the warm part begins.
The peer is treated well: it neither reads nor checks the question, logs and counts nothing, and returns one body of
median length without computing it.
``python -m tests.bench service --minutes 10`` puts the siege on: as many questions as go through, a thousand idle
connections, clients that send a byte a second, and the packs read again every few seconds.
"""

import asyncio
import contextlib
import itertools
import json
import random
import signal
import tempfile
import time
from pathlib import Path

from tests.bench.serving import BARE, OURS, Load, open_files, packing, percentile, post, questions, served

from clampgraph.answers.diagnosing.diagnose import diagnose
from clampgraph.answers.diagnosing.diagnosis import DiagnoseRequest
from clampgraph.answers.library import Library

__all__ = ["report", "siege"]

SETS, CONNECTIONS, COLD, WARM = 10_000, 32, 60.0, 10.0
THROUGHPUT, TAIL = 0.5, 3.0
IDLE, SLOW, EVERY = 1000, 20, 3.0


def report(*words):
    """Yield the lines of the report; `--minutes M` for the siege, `--cold S` for so many seconds of cold questions."""
    options = dict(zip(words[::2], map(float, words[1::2]), strict=True))
    unknown = set(options) - {"--minutes", "--cold"}
    if unknown:
        raise ValueError(f"There is no option {', '.join(sorted(unknown))}; there are --minutes and --cold.")
    if "--minutes" in options:
        yield from siege(options["--minutes"] * 60.0)
        return
    yield from _compare(options.get("--cold", COLD))


def _compare(seconds):
    library = Library.open()
    asked = [post(question) for question in questions(library, SETS)]
    bodies = sorted((_body(library, question) for question in questions(library, 31)), key=len)
    with served(BARE, feed=bodies[len(bodies) // 2]) as peer:
        bare = asyncio.run(Load().put(peer, _drawn(asked), CONNECTIONS, WARM))
    yield f"bare FastAPI route, {len(bodies[len(bodies) // 2]) / 1024:.0f} KiB: {_told(bare)}"
    with served(OURS, "port=0", "log=json", "cache=268435456", "time_limit=600") as ours:
        cold = asyncio.run(Load().put(ours, iter(asked), CONNECTIONS, seconds))
        yield f"cold, {len(cold.seconds)} of {SETS} sets, each new: {_told(cold)}"
        yield from _ratios("cold", cold, bare)
        warm = asyncio.run(Load().put(ours, _drawn(cold.answered), CONNECTIONS, WARM))
        yield f"warm, drawn from those, not compressed: {_told(warm)}"
        yield from _ratios("warm", warm, bare)
        usual = asyncio.run(Load().put(ours, _drawn([*map(packing, cold.answered)]), CONNECTIONS, WARM))
        yield f"warm, compressed as it lies in memory: {_told(usual)}"
        yield from _ratios("warm", usual, bare)
        yield f"  memory {ours.memory():.0f} MiB; the load took {100 * warm.own / warm.lasted:.0f} % of its processor"


def _body(library, question):
    return diagnose(library, DiagnoseRequest(**question)).model_dump_json().encode()


def _drawn(requests, seed=2):
    rng = random.Random(seed)  # noqa: S311 - reproducible, not secret
    while True:
        yield rng.choice(requests)


def _told(load):
    middle, tail = (1e3 * percentile(load.seconds, p) for p in (50, 99))
    others = {status: count for status, count in load.statuses.items() if status != 200}
    return (
        f"{load.rate:,.0f} a second, median {middle:.1f} ms, p99 {tail:.1f} ms, "
        f"lost {load.lost}, other statuses {others or 'none'}"
    )


def _ratios(what, load, bare):
    rate = load.rate / bare.rate
    tail = percentile(load.seconds, 99) / percentile(bare.seconds, 99)
    yield f"  {what}: {rate:.3f} of its throughput (at least {THROUGHPUT}: {'yes' if rate >= THROUGHPUT else 'NO'})"
    yield f"  {what}: p99 {tail:.1f} times its (at most {TAIL:.0f}: {'yes' if tail <= TAIL else 'NO'})"


def siege(seconds, idle=IDLE, sets=500, every=EVERY):
    """Yield the lines of a siege: what was answered, what was lost, how memory grew."""
    open_files(4 * idle + 1000)
    asked = [post(question) for question in questions(Library.open(), sets)]
    with tempfile.TemporaryDirectory() as folder:
        pack = Path(folder) / "other.ttl"
        pack.write_text(_pack(0), "utf-8")
        with served(OURS, "port=0", "log=json", f"data={folder}", "patience=5") as ours:
            start = ours.memory()
            load = asyncio.run(_besiege(ours, pack, asked, (seconds, idle, every)))
            end = ours.memory()
            yield f"{seconds:.0f} s, {CONNECTIONS} connections, {idle} idle, {SLOW} slow: {_told(load)}"
            yield f"  memory {start:.0f} MiB at the start, {end:.0f} MiB at the end"
            yield f"  editions loaded meanwhile: {load.editions}; slow clients let go: {load.let_go} of {load.slow}"


async def _besiege(ours, pack, asked, figures):
    seconds, idle, every = figures
    load, end = Load(), time.perf_counter() + seconds
    load.editions = load.let_go = load.slow = 0
    beside = [asyncio.create_task(_idle(ours)) for _ in range(idle)]
    beside += [asyncio.create_task(_slow(ours, load)) for _ in range(SLOW)]
    beside.append(asyncio.create_task(_change(ours, pack, load, every)))
    await load.put(ours, _drawn(asked), CONNECTIONS, end - time.perf_counter())
    for task in beside:
        task.cancel()
    await asyncio.gather(*beside, return_exceptions=True)
    return load


async def _idle(ours):
    """Hold a connection that says nothing, and open it again when it is closed."""
    while True:
        with contextlib.suppress(OSError):
            reader, _ = await asyncio.open_connection(ours.host, ours.port)
            await reader.read()
        await asyncio.sleep(0.05)


async def _until_closed(reader):
    with contextlib.suppress(OSError):
        await reader.read()


async def _slow(ours, load):
    """Send a byte a second, half of them in the head and half in the body, until let go."""
    for body in itertools.cycle((False, True)):
        text = b"POST /diagnoses HTTP/1.1\r\nhost: localhost\r\ncontent-type: application/json\r\n"
        text += b"content-length: 5000\r\n\r\n" if body else b"x-filler: "
        load.slow += 1
        with contextlib.suppress(OSError):
            reader, writer = await asyncio.open_connection(ours.host, ours.port)
            if body:
                writer.write(text)
            gone = asyncio.create_task(_until_closed(reader))
            for byte in b"\0" * 5000 if body else itertools.chain(text, itertools.repeat(97)):
                writer.write(bytes([byte or 32]))
                done, _ = await asyncio.wait({gone}, timeout=1.0)
                if done:
                    load.let_go += 1
                    break
            writer.close()


async def _change(ours, pack, load, every):
    """Change a pack and have it loaded, over and over."""
    before = None
    for number in itertools.count(1):
        await asyncio.sleep(every)
        part = pack.with_suffix(".part")
        part.write_text(_pack(number), "utf-8")
        part.replace(pack)
        ours.process.send_signal(signal.SIGHUP)
        edition = await _edition(ours)
        load.editions += edition != before
        before = edition


async def _edition(ours):
    reader, writer = await asyncio.open_connection(ours.host, ours.port)
    writer.write(b"GET /health/ready HTTP/1.1\r\nhost: localhost\r\nconnection: close\r\n\r\n")
    answer = await reader.read()
    writer.close()
    return json.loads(answer.partition(b"\r\n\r\n")[2]).get("edition")


def _pack(number):
    """Return a sound pack that differs from every other in one label."""
    return (
        "@prefix cg: <https://w3id.org/clampgraph/ns#> .\n"
        "@prefix rdfs: <http://www.w3.org/2000/01/rdf-schema#> .\n"
        f'<https://example.org/pack/note> rdfs:comment "Edition {number}"@en .\n'
    )
