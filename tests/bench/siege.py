"""The service under siege: as many questions as go through, idle and slow connections, and packs that change.

32 connections ask without a pause, questions drawn at random; a thousand say nothing; twenty send a byte a second.
Every few seconds a pack is changed and has to be loaded: mostly by a remark that concerns nothing that was asked,
and each hundredth time by a word that is read, so that everything must be derived and answered anew.
"""

import asyncio
import contextlib
import itertools
import json
import random
import signal
import tempfile
import time
from dataclasses import dataclass, field
from pathlib import Path
from statistics import median

from tests.bench.serving import OURS, Load, open_files, post, questions, served, told

from clampgraph.answers.library import Library

__all__ = ["siege"]

CONNECTIONS, SETS, IDLE, SLOW, EVERY, DEEP, SAMPLES = 32, 500, 1000, 20, 3.0, 100, 60


@dataclass
class Beside:
    """What went on beside the questions."""

    editions: int = 0
    slow: int = 0
    let_go: int = 0
    memory: list = field(default_factory=list)


def siege(seconds, sets=SETS, idle=IDLE, every=EVERY):
    """Yield the lines of a siege: what was answered, what was lost, how memory grew."""
    open_files(4 * idle + 1000)
    asked = [post(question) for question in questions(Library.open(), sets)]
    with tempfile.TemporaryDirectory() as folder:
        pack = Path(folder) / "other.ttl"
        pack.write_text(_pack(0), "utf-8")
        with served(OURS, "port=0", "log=json", f"data={folder}", "patience=5") as ours:
            load, beside = asyncio.run(_besiege(ours, pack, asked, (seconds, idle, every)))
            yield f"{seconds:.0f} s, {CONNECTIONS} connections, {idle} idle, {SLOW} slow: {told(load)}"
            yield f"  processor {ours.seconds() / load.lasted:.0%} of a core"
    tenth = len(beside.memory) // 10
    parts = (median(beside.memory[at * tenth : (at + 1) * tenth]) for at in range(10))
    yield f"  memory by tenths of the time [MiB]: {', '.join(f'{part:.0f}' for part in parts)}"
    yield f"  editions loaded meanwhile: {beside.editions}; slow clients let go: {beside.let_go} of {beside.slow}"


async def _besiege(ours, pack, asked, figures):
    seconds, idle, every = figures
    load, beside, end = Load(), Beside(), time.perf_counter() + seconds
    tasks = [asyncio.create_task(_idle(ours)) for _ in range(idle)]
    tasks += [asyncio.create_task(_slow(ours, beside)) for _ in range(SLOW)]
    tasks.append(asyncio.create_task(_change(ours, pack, beside, every)))
    tasks.append(asyncio.create_task(_watch(ours, beside, seconds / SAMPLES)))
    rng = random.Random(2)  # noqa: S311 - reproducible, not secret
    await load.put(ours, iter(lambda: rng.choice(asked), None), CONNECTIONS, end - time.perf_counter())
    for task in tasks:
        task.cancel()
    await asyncio.gather(*tasks, return_exceptions=True)
    return load, beside


async def _watch(ours, beside, pause):
    while True:
        beside.memory.append(ours.memory())
        await asyncio.sleep(pause)


async def _idle(ours):
    """Hold a connection that says nothing, and open it again when it is closed."""
    while True:
        with contextlib.suppress(OSError):
            reader, writer = await asyncio.open_connection(ours.host, ours.port)
            await reader.read()
            writer.close()
        await asyncio.sleep(0.05)


async def _until_closed(reader):
    with contextlib.suppress(OSError):
        await reader.read()


async def _slow(ours, beside):
    """Send a byte a second, half of them in the head and half in the body, until let go."""
    for body in itertools.cycle((False, True)):
        text = b"POST /diagnoses HTTP/1.1\r\nhost: localhost\r\ncontent-type: application/json\r\n"
        text += b"content-length: 5000\r\n\r\n" if body else b"x-filler: "
        beside.slow += 1
        with contextlib.suppress(OSError):
            reader, writer = await asyncio.open_connection(ours.host, ours.port)
            if body:
                writer.write(text)
            gone = asyncio.create_task(_until_closed(reader))
            for byte in b"\0" * 5000 if body else itertools.chain(text, itertools.repeat(97)):
                writer.write(bytes([byte or 32]))
                done, _ = await asyncio.wait({gone}, timeout=1.0)
                if done:
                    beside.let_go += 1
                    break
            writer.close()


async def _change(ours, pack, beside, every):
    """Change a pack and have it loaded, over and over."""
    before = None
    for number in itertools.count(1):
        await asyncio.sleep(every)
        part = pack.with_suffix(".part")
        part.write_text(_pack(number), "utf-8")
        part.replace(pack)
        ours.process.send_signal(signal.SIGHUP)
        edition = await _edition(ours)
        beside.editions += edition != before
        before = edition


async def _edition(ours):
    reader, writer = await asyncio.open_connection(ours.host, ours.port)
    writer.write(b"GET /health/ready HTTP/1.1\r\nhost: localhost\r\nconnection: close\r\n\r\n")
    answer = await reader.read()
    writer.close()
    return json.loads(answer.partition(b"\r\n\r\n")[2]).get("edition")


def _pack(number):
    """Return a sound pack: a remark that is another each time, and a word that is another each hundredth time."""
    return (
        "@prefix skos: <http://www.w3.org/2004/02/skos/core#> .\n"
        f'<https://example.org/pack/note> skos:note "Edition {number}"@en .\n'
        "<https://w3id.org/clampgraph/knowledge#slow-return> "
        f'skos:prefLabel "trög återgång, {number // DEEP}"@sv .\n'
    )
