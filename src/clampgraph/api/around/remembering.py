"""The same question is computed once: while it is being computed, and afterwards as long as there is room.

What is remembered depends on nothing but the content of the graph, the figures learned from cases,
the language, the route and the question, and all of these are in the key:
a reload that changes anything that was read changes the key of every question, so no old answer can be given.
A question is taken as its JSON with fields sorted and spaces gone; it is read a second time only to be answered.
"""

import asyncio
import hashlib
import json
from dataclasses import dataclass, field
from typing import Any

from starlette.routing import compile_path
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from clampgraph.answers.languages import preferred_language
from clampgraph.api.around.asgi import Headers, body_of, header, replayed, state_of
from clampgraph.api.around.finished import Kept, keep
from clampgraph.api.around.pinning import held_of
from clampgraph.api.around.recognising import Recognition
from clampgraph.api.problems import problem
from clampgraph.api.settings import Settings
from clampgraph.errors import WrongCallError

__all__ = ["QUESTIONS", "Remembered"]

QUESTIONS: dict[str, tuple[str, ...]] = {
    "POST": ("/diagnoses", "/identifications", "/replacements", "/simulations", "/calculations/{name}"),
    "GET": (
        "/assemblies", "/assemblies/{assembly}", "/assemblies/{assembly}/network", "/assemblies/{assembly}/agreement",
        "/assemblies/{assembly}/drawing.svg", "/items/{mpn}/fits", "/fits", "/symptoms", "/calculations", "/tables",
        "/tables/{name}",
    ),
}  # fmt: skip
"""Routes whose answer follows from the graph and the question alone."""

DOWN = "down"
"""Said of the figures while the case store does not answer: then nothing is remembered."""

QUEUE_LIMIT = 1000
"""Questions that may wait for a thread; more are sent away at once."""


_CANONICAL = json.JSONEncoder(sort_keys=True, separators=(",", ":"))


@dataclass(eq=False)
class _Work:
    """A question that is computed, or waits for its turn."""

    begun: asyncio.Event = field(default_factory=asyncio.Event)
    task: asyncio.Task[Kept] = field(init=False)

    async def answer(self, limit: float) -> Kept:
        """Wait for its turn, and from then on so many seconds; who stops waiting takes nobody along."""
        await self.begun.wait()
        return await asyncio.wait_for(asyncio.shield(self.task), limit)


class Remembered:
    """Answer from what is finished or being computed; else compute, a few questions at a time."""

    def __init__(self, app: ASGIApp, settings: Settings, shared: Recognition) -> None:
        self.app, self.limit, self.figures = app, settings.time_limit, shared.figures
        self.finished = shared.finished
        self._running: dict[bytes, _Work] = {}
        self._threads = asyncio.Semaphore(settings.threads)
        self._most = settings.threads + QUEUE_LIMIT
        self._waiting = 0
        metrics = self._metrics = shared.journal.metrics
        self._count = {how: metrics.remembered.labels(how).inc for how in ("finished", "running", "computed")}
        self._plain = {(method, path) for method, paths in QUESTIONS.items() for path in paths if "{" not in path}
        self._shaped = {
            method: [(path, compile_path(path)[0]) for path in paths if "{" in path]
            for method, paths in QUESTIONS.items()
        }

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer a question that was asked before, or pass it on."""
        route = self._route(scope) if scope["type"] == "http" else None
        if route is None:
            await self.app(scope, receive, send)
            return
        body = b"" if scope["method"] == "GET" else await body_of(receive)
        if body is None:
            return
        figures = await self._told()
        key = self._key(scope, body, figures)
        if key is None:
            await self.app(scope, replayed(body, receive), send)
            return
        state_of(scope).update(route=route, finished=key, figures=figures)
        kept = self.finished.get(key)
        if kept is not None:
            self._count["finished"]()
            await kept.send(scope, send)
            return
        await self._computed(key, (scope, body), send)

    async def _told(self) -> str:
        """Return what tells the figures that cases teach from any others; empty if none do."""
        if self.figures is None:
            return ""
        at_hand = self.figures.at_hand()
        return await asyncio.to_thread(self.figures.ask) if at_hand is None else at_hand

    def _route(self, scope: Scope) -> str | None:
        method, path = scope["method"], scope["path"]
        if (method, path) in self._plain:
            return str(path)
        return next((name for name, shape in self._shaped.get(method, ()) if shape.fullmatch(path)), None)

    def _key(self, scope: Scope, body: bytes, figures: str) -> bytes | None:
        """Return what the answer depends on; None if the question is none, which the route will say better."""
        held = held_of(scope)
        if figures == DOWN:
            return None
        try:
            language = preferred_language(header(scope, b"accept-language"), held.languages)
            asked = _CANONICAL.encode(json.loads(body)) if body else ""
        except (ValueError, RecursionError, WrongCallError):
            return None
        kind = header(scope, b"content-type") if body else ""
        parts = (
            held.content, figures, language, scope["method"], scope["path"],
            str(scope["query_string"], "latin-1"), header(scope, b"accept"), kind, asked,
        )  # fmt: skip
        return hashlib.blake2b("\0".join(parts).encode("utf-8", "surrogatepass"), digest_size=20).digest()

    async def _computed(self, key: bytes, asked: tuple[Scope, bytes], send: Send) -> None:
        scope = asked[0]
        work = self._running.get(key)
        if work is None:
            if len(self._running) >= self._most:
                refusal = problem(503, "Too many questions wait for an answer; ask again.", {"retry-after": "5"})
                await refusal(scope, _nothing_more, send)
                return
            self._count["computed"]()
            work = self._running[key] = _Work()
            work.task = asyncio.create_task(self._compute(key, asked, work.begun))
            work.task.add_done_callback(lambda done: self._end(key, done))
        else:
            self._count["running"]()
        try:
            kept = await work.answer(self.limit)
        except TimeoutError:
            detail = f"The answer takes longer than {self.limit:g} s; it is still worked on, ask again."
            await problem(503, detail, {"retry-after": "10"})(scope, _nothing_more, send)
            return
        await kept.send(scope, send)

    def _end(self, key: bytes, done: asyncio.Task[Kept]) -> None:
        self._running.pop(key).begun.set()
        # Whoever waits gets the exception; if all have gone, it must not be told as forgotten.
        done.cancelled() or done.exception()

    async def _compute(self, key: bytes, asked: tuple[Scope, bytes], begun: asyncio.Event) -> Kept:
        scope, held = asked[0], held_of(asked[0])
        with held.used():
            self._waiting += 1
            self._metrics.queue.set(self._waiting)
            try:
                await self._threads.acquire()
            finally:
                self._waiting -= 1
                self._metrics.queue.set(self._waiting)
            begun.set()
            try:
                kept = keep(scope["method"], *await self._asked(*asked))
            finally:
                self._threads.release()
        if kept.status == 200 and (b"cache-control", b"no-store") not in kept.headers:
            self.finished.put(key, kept)
            self._metrics.kept.set(self.finished.size)
        return kept

    async def _asked(self, scope: Scope, body: bytes) -> tuple[int, Headers, bytes]:
        """Ask the application, and gather its answer."""
        start: dict[str, Any] = {}
        parts: list[bytes] = []

        async def gather(message: Message) -> None:
            if message["type"] == "http.response.start":
                start.update(message)
            else:
                parts.append(message.get("body", b""))

        own = {**scope, "state": {**state_of(scope)}}
        await self.app(own, replayed(body, _nothing_more), gather)
        return start["status"], list(start["headers"]), b"".join(parts)


async def _nothing_more() -> Message:
    """Tell, if asked, nothing until the answer is done: who waits for it is not known to the computation."""
    await asyncio.Event().wait()
    return {"type": "http.disconnect"}
