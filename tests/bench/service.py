"""The service against a bare FastAPI route that returns the same body.

``python -m tests.bench service`` compares: one worker each, on loopback, 32 connections from another process,
questions drawn at random from 10,000 distinct sets of findings (``--sets N`` for fewer).
First every set is asked once, which is as fast as diagnosing is; then the service and its peer are asked in turn.
What is asked differs in how much the service may spare itself:
*usual* takes a compressed answer, as nearly every client does; *plain* does not, so that each is unpacked;
*named* carries an identifier of its own, so that no request comes twice byte for byte and each must be read.
The peer is treated well: it neither reads nor checks the question, logs and counts nothing, and returns one body of
median length without computing it.

``python -m tests.bench service --minutes 10`` puts the siege on (`siege`).
"""

import asyncio
import itertools
import random
import re
import urllib.request

from tests.bench.figures import Figure
from tests.bench.serving import BARE, OURS, Load, packing, percentile, post, questions, served, told
from tests.bench.siege import siege

from clampgraph.answers.diagnosing.diagnose import diagnose
from clampgraph.answers.diagnosing.diagnosis import DiagnoseRequest
from clampgraph.answers.library import Library

__all__ = ["report"]

SETS, CONNECTIONS, ROUNDS, SECONDS = 10_000, 32, 7, 4.0
THROUGHPUT, TAIL = (">=", 0.5), ("<=", 3.0)
LIMITS = {
    "usual": "the server beneath, which writes one answer at a time",
    "plain": "unpacking the answer",
    "named": "reading the request, which is Python",
}


def report(*words):
    """Yield the lines of the report; `--minutes M` for the siege, `--sets N` for so many sets of findings."""
    options = dict(zip(words[::2], map(float, words[1::2]), strict=True))
    unknown = set(options) - {"--minutes", "--sets"}
    if unknown:
        raise ValueError(f"There is no option {', '.join(sorted(unknown))}; there are --minutes and --sets.")
    few = {"sets": int(options["--sets"])} if "--sets" in options else {}
    yield from siege(options["--minutes"] * 60.0, **few) if "--minutes" in options else _compare(**few)


def _compare(sets=SETS):
    library = Library.open()
    asked = [post(question) for question in questions(library, sets)]
    bodies = sorted((_body(library, question) for question in questions(library, 31)), key=len)
    body = bodies[len(bodies) // 2]
    with served(BARE, feed=body) as bare, served(OURS, "port=0", "log=json", "time_limit=600") as ours:
        cold = asyncio.run(Load().put(ours, iter(asked), CONNECTIONS, float("inf")))
        yield f"every set once, each computed: {told(cold)}"
        yield f"  processor {1e3 * ours.seconds() / sets:.0f} ms for each, memory {ours.memory():.0f} MiB"
        computed = _computed(ours)
        loads = {"bare": asked, "usual": [*map(packing, asked)], "plain": asked, "named": asked}
        found = {name: [] for name in loads}
        for name, requests in list(loads.items()) * ROUNDS:
            found[name].append(_put(bare if name == "bare" else ours, name, requests))
        for name, rounds in found.items():
            yield f"{name}: {told(sum(rounds[1:], rounds[0]))}"
        yield f"  bodies of {len(body) / 1024:.0f} KiB; computed again meanwhile: {_computed(ours) - computed:.0f}"
    for name, limit in LIMITS.items():
        yield from _figures(name, found[name], found["bare"], limit)


def _put(where, name, requests):
    drawn = _drawn(requests)
    if name == "named":
        drawn = (named(request, number) for number, request in enumerate(drawn))
    return asyncio.run(Load().put(where, drawn, CONNECTIONS, SECONDS))


def named(request, number):
    """Return a request under a name that no other has."""
    return request.replace(b"\r\n\r\n", b"\r\nx-request-id: bench-%d\r\n\r\n" % number, 1)


def _drawn(requests, seed=itertools.count(2)):  # noqa: B008 - each draw is another one
    rng = random.Random(next(seed))  # noqa: S311 - reproducible, not secret
    while True:
        yield rng.choice(requests)


def _body(library, question):
    return diagnose(library, DiagnoseRequest(**question)).model_dump_json().encode()


def _computed(ours):
    """Return how many questions the service has computed so far."""
    with urllib.request.urlopen(f"http://{ours.host}:{ours.port}/metrics") as answer:
        return float(re.search(rb'clampgraph_remembered_total\{how="computed"\} (\S+)', answer.read())[1])


def _figures(name, rounds, bare, limit):
    pairs = list(zip(rounds, bare, strict=True))
    rates = [ours.rate / peer.rate for ours, peer in pairs]
    tails = [percentile(ours.seconds, 99) / percentile(peer.seconds, 99) for ours, peer in pairs]
    yield Figure.of(f"kept answers a second, {name}", rates, "times the bare route's", limit, THROUGHPUT)
    yield Figure.of(f"p99 of kept answers, {name}", tails, "times the bare route's", limit, TAIL)
