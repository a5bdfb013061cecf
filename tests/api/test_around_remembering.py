"""The same question is computed once, and no answer outlives what it was computed from."""

import asyncio
import json

import pytest
from fastapi.testclient import TestClient
from prometheus_client import CollectorRegistry, generate_latest

from clampgraph.answers.library import Library
from clampgraph.api.app import create_app
from clampgraph.api.around.finished import OVERHEAD, Finished, Kept, keep
from clampgraph.api.around.logs import log_to
from clampgraph.api.around.metrics import Metrics
from clampgraph.api.around.ordering import recognition
from clampgraph.api.around.recognising import Figures
from clampgraph.api.around.remembering import QUESTIONS, Remembered
from clampgraph.api.keeping import Held, Keeper
from clampgraph.api.settings import Settings

JSON = [(b"content-type", b"application/json")]


class Inner:
    """An application that counts what it is asked, and answers when told to."""

    def __init__(self, status=200):
        self.asked, self.status, self.open = [], status, asyncio.Event()
        self.open.set()

    async def __call__(self, scope, receive, send):
        """Echo the body."""
        body = (await receive())["body"]
        self.asked.append((scope["path"], body))
        await self.open.wait()
        if self.status == 0:
            raise RuntimeError("broken")
        await send(
            {"type": "http.response.start", "status": self.status, "headers": [*JSON, (b"content-length", b"0")]}
        )
        await send({"type": "http.response.body", "body": b"<" + body, "more_body": True})
        await send({"type": "http.response.body", "body": b">", "more_body": False})


class Bench:
    """A step around an inner application, and a way to ask it."""

    def __init__(self, inner, library, figures=None, **given):
        settings = Settings.model_validate({"log": "off", **given})
        self.held = Held(library, "first")
        told = Figures(figures, lambda: None) if figures else None
        self.step = Remembered(inner, settings, recognition(settings, Keeper(), log_to("off"), Metrics(), told))

    async def ask(self, body=b'{"a": 1}', path="/diagnoses", headers=(), query=b"", method="POST"):
        """Return status and body."""
        sent = []

        async def receive():
            return {"type": "http.request", "body": body, "more_body": False}

        async def send(message):
            sent.append(message)

        scope = {
            "type": "http", "method": method, "path": path, "query_string": query,
            "headers": [*JSON, *headers], "state": {"held": self.held},
        }  # fmt: skip
        await self.step(scope, receive, send)
        headers = dict(sent[0]["headers"])
        assert int(headers[b"content-length"]) == len(sent[1]["body"])
        return sent[0]["status"], sent[1]["body"]


def test_a_question_is_computed_once_however_it_is_written(library):
    """Spaces and the order of fields make no other question; everything else does."""

    async def run():
        inner = Inner()
        bench = Bench(inner, library)
        first = await bench.ask(b'{"a": 1, "b": [1, 2]}')
        assert first == (200, b'<{"a": 1, "b": [1, 2]}>')
        assert await bench.ask(b'{"b":[1,2],"a":1}') == first
        assert len(inner.asked) == 1
        others = [
            {"body": b'{"a": 1, "b": [2, 1]}'}, {"body": b'{"a": 1.0, "b": [1, 2]}'}, {"path": "/identifications"},
            {"query": b"x=1"}, {"headers": [(b"accept-language", b"de")]}, {"headers": [(b"accept", b"text/html")]},
        ]  # fmt: skip
        for number, other in enumerate(others, 2):
            await bench.ask(**{"body": b'{"a": 1, "b": [1, 2]}', **other})
            await bench.ask(**{"body": b'{"a": 1, "b": [1, 2]}', **other})
            assert len(inner.asked) == number, other

    asyncio.run(run())


def test_another_edition_or_other_figures_forget_everything(library):
    """What was computed from something else is never given, and comes back if that comes back."""

    async def run():
        inner, learned = Inner(), ["1"]
        bench = Bench(inner, library, lambda: learned[0])
        for edition, figures, computed in (
            ("first", "1", 1),
            ("second", "1", 2),
            ("second", "2", 3),
            ("first", "1", 3),
        ):
            bench.held, learned[0] = Held(library, edition), figures
            for _ in range(2):
                await bench.ask()
            assert len(inner.asked) == computed

    asyncio.run(run())


def test_nothing_is_remembered_while_the_case_store_is_down(library):
    """Which figures an answer rests on cannot be told then."""

    async def run():
        inner = Inner()
        bench = Bench(inner, library, lambda: "down")
        sent = []

        async def send(message):
            sent.append(message)

        async def receive():
            return {"type": "http.request", "body": b"{}", "more_body": False}

        scope = {"type": "http", "method": "POST", "path": "/diagnoses", "query_string": b"", "headers": JSON}
        for _ in range(2):
            await bench.step({**scope, "state": {"held": bench.held}}, receive, send)
        assert len(inner.asked) == 2
        assert len(bench.step.finished) == 0

    asyncio.run(run())


def test_who_asks_the_same_at_once_shares_one_computation(library):
    """A hundred callers, one computation, one answer for all."""

    async def run():
        inner = Inner()
        inner.open.clear()
        bench = Bench(inner, library)
        callers = [asyncio.create_task(bench.ask()) for _ in range(100)]
        await asyncio.sleep(0.01)
        inner.open.set()
        assert set(await asyncio.gather(*callers)) == {(200, b'<{"a": 1}>')}
        assert len(inner.asked) == 1
        assert bench.held.users == 0

    asyncio.run(run())


def test_a_caller_who_leaves_takes_nobody_along(library):
    """The computation goes on, holds its edition to the end, and is there for the next."""

    async def run():
        inner = Inner()
        inner.open.clear()
        bench = Bench(inner, library)
        leaving = asyncio.create_task(bench.ask())
        staying = asyncio.create_task(bench.ask())
        await asyncio.sleep(0.01)
        leaving.cancel()
        await asyncio.sleep(0.01)
        assert bench.held.users == 1
        inner.open.set()
        assert (await staying)[0] == 200
        await bench.ask()
        assert len(inner.asked) == 1
        assert bench.held.users == 0

    asyncio.run(run())


@pytest.mark.parametrize("status", [404, 422, 503])
def test_a_refusal_is_not_remembered(library, status):
    """It is shared while it is being computed, and computed anew afterwards."""

    async def run():
        inner = Inner(status)
        bench = Bench(inner, library)
        assert {s for s, _ in await asyncio.gather(bench.ask(), bench.ask())} == {status}
        assert len(inner.asked) == 1
        await bench.ask()
        assert len(inner.asked) == 2
        assert len(bench.step.finished) == 0

    asyncio.run(run())


def test_a_fault_reaches_everyone_who_waits(library):
    """And the next one is not harmed by it."""

    async def run():
        inner = Inner(0)
        bench = Bench(inner, library)
        faults = await asyncio.gather(bench.ask(), bench.ask(), return_exceptions=True)
        assert [str(fault) for fault in faults] == ["broken", "broken"]
        inner.status = 200
        assert (await bench.ask())[0] == 200

    asyncio.run(run())


def test_an_answer_has_a_time_limit(library):
    """Who waits longer is told to come back, and then finds it finished."""

    async def run():
        inner = Inner()
        inner.open.clear()
        bench = Bench(inner, library, time_limit=0.05)
        status, body = await bench.ask()
        assert status == 503
        assert json.loads(body)["detail"] == "The answer takes longer than 0.05 s; it is still worked on, ask again."
        inner.open.set()
        assert await bench.ask() == (200, b'<{"a": 1}>')
        assert len(inner.asked) == 1

    asyncio.run(run())


def test_the_limit_counts_from_ones_turn(library):
    """However many wait before it, a question has its whole time; each gets its answer in the order of asking."""

    class Slow(Inner):
        async def __call__(self, scope, receive, send):
            await asyncio.sleep(0.05)
            await super().__call__(scope, receive, send)

    async def run():
        inner = Slow()
        bench = Bench(inner, library, threads=1, time_limit=0.5)
        answers = await asyncio.gather(*(bench.ask(b"%d" % number) for number in range(20)))
        assert {status for status, _ in answers} == {200}
        assert [body for _, body in inner.asked] == [b"%d" % number for number in range(20)]

    asyncio.run(run())


def test_only_so_many_are_worked_on_and_wait(library, monkeypatch):
    """Others wait for a thread, and beyond the queue are sent away."""
    monkeypatch.setattr("clampgraph.api.around.remembering.QUEUE_LIMIT", 3)

    async def run():
        inner = Inner()
        inner.open.clear()
        bench = Bench(inner, library, threads=2)
        callers = [asyncio.create_task(bench.ask(b"%d" % number)) for number in range(8)]
        await asyncio.sleep(0.05)
        assert len(inner.asked) == 2
        sent_away = [task.result()[0] for task in callers if task.done()]
        assert sent_away == [503] * 3
        inner.open.set()
        answered = await asyncio.gather(*callers)
        assert [status for status, _ in answered].count(200) == 5

    asyncio.run(run())


@pytest.mark.parametrize("body", [b"", b"{", b"\xff\xfe", b"NaN", b"[" * 2000])
def test_what_is_no_question_goes_to_the_route(library, body):
    """The route says what is wrong with it."""

    async def run():
        inner = Inner(422)
        bench = Bench(inner, library)
        await bench.step.app({"path": "/"}, _receive(body), _nowhere)
        inner.asked.clear()
        scope = {"type": "http", "method": "POST", "path": "/diagnoses", "query_string": b"", "headers": JSON}
        await bench.step({**scope, "state": {"held": bench.held}}, _receive(body), _nowhere)
        assert inner.asked == [("/diagnoses", body)]

    asyncio.run(run())


def _receive(body):
    async def receive():
        return {"type": "http.request", "body": body, "more_body": False}

    return receive


async def _nowhere(_):
    pass


def test_the_budget_holds_and_the_least_used_go_first():
    """Compressed bodies and what surrounds them count; one that is too large is not kept at all."""
    finished = Finished(10 * (OVERHEAD + 100))
    for number in range(10):
        finished.put(b"%d" % number, Kept(200, [], b"x" * 100, packed=False, size=OVERHEAD + 100))
    assert len(finished) == 10
    assert finished.get(b"0")
    finished.put(b"new", Kept(200, [], b"x" * 100, packed=False, size=OVERHEAD + 100))
    assert finished.get(b"1") is None
    assert finished.get(b"0")
    assert finished.size <= finished.budget
    finished.put(b"huge", Kept(200, [], b"", packed=False, size=finished.budget))
    assert finished.get(b"huge") is None
    finished.put(b"0", Kept(200, [], b"", packed=False, size=OVERHEAD))
    assert finished.size == 9 * (OVERHEAD + 100) + OVERHEAD
    finished.clear()
    assert (len(finished), finished.size) == (0, 0)


def test_compression_where_it_pays():
    """Repetitive bodies are packed; noise, small bodies and problems are not."""
    noise = bytes((i * 7919 + i * i * 31) % 251 for i in range(5000))
    assert keep("GET", 200, [], b"a" * 5000).packed
    assert not keep("GET", 200, [], b"a" * 500).packed
    assert not keep("GET", 404, [], b"a" * 5000).packed
    assert not keep("GET", 200, [(b"content-encoding", b"br")], b"a" * 5000).packed
    packed = keep("GET", 200, [], noise)
    assert packed.size <= OVERHEAD + len(noise)


def test_every_remembered_route_is_a_route(library):
    """The list names what there is, and nothing that depends on more than the graph and the question."""
    described = create_app(library).openapi()["paths"]
    for method, paths in QUESTIONS.items():
        for path in paths:
            assert method.lower() in described[path], path
    assert not any("cases" in path or "health" in path for paths in QUESTIONS.values() for path in paths)


def test_what_is_remembered_is_what_was_computed(library):
    """Through the whole service: the second answer equals the first, and equals a service that remembers nothing."""
    asked = [
        ("POST", "/diagnoses", {"assembly": "brannoch-30s", "seen": ["slow-return"]}),
        ("POST", "/calculations/cylinder-force", {"pressure": "6bar", "bore": "100mm"}),
        ("GET", "/assemblies/brannoch-30s", None),
        ("GET", "/assemblies/nix", None),
    ]
    forgetful = Settings.model_validate({"log": "off", "hosts": "*", "cache": 0})
    with TestClient(create_app(library)) as one, TestClient(create_app(library, settings=forgetful)) as other:
        for method, path, body in asked:
            replies = [client.request(method, path, json=body) for client in (one, one, other)]
            told = [{**r.json(), "request_id": ""} for r in replies]
            assert told[0] == told[1] == told[2]
            assert len({(r.status_code, r.headers["content-type"], r.headers.get("etag")) for r in replies}) <= 2


def test_an_edition_is_closed_by_whoever_lets_go_last():
    """A retired edition is closed once, when nobody holds it any more."""
    closed = []

    class Graph(list):
        def ask(self, *_, **__):
            return []

        def close(self):
            closed.append(True)

    held = Held(Library(Graph()), "first")
    with held.used():
        with held.used():
            held.retire()
        assert closed == []
    assert closed == [True]


def test_metrics_of_two_applications_are_apart():
    """Each application counts for itself."""
    one, two = Metrics(), Metrics()
    one.request("GET", "/x", 200, 0.1)
    assert b'route="/x"' in one.text()
    assert b'route="/x"' not in two.text()
    assert generate_latest(CollectorRegistry()) == b""
