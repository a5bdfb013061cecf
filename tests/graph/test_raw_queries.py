"""Raw SPARQL: what is let in, and what stops it."""

import http.server
import signal
import threading
import time
from collections.abc import Callable

import pytest
from pyoxigraph import Literal, NamedNode, Quad, RdfFormat, Store

from clampgraph.errors import StoreError, WrongCallError
from clampgraph.graph.guard import LONGEST, check_read_only
from clampgraph.graph.results import Reply, reply
from clampgraph.graph.sandbox import Sandbox

DOUBLED = " ".join(f"BIND(CONCAT(?t{n}, ?t{n}) AS ?t{n + 1})" for n in range(40))
DOUBLING = f"SELECT (STRLEN(?t40) AS ?n) {{ BIND('0123456789' AS ?t0) {DOUBLED} }}"
SORTING = "SELECT * { ?a ?b ?c . ?d ?e ?f . ?g ?h ?i } ORDER BY ?i ?f ?c"
HEAVY = "SELECT (COUNT(*) AS ?n) { ?a ?b ?c . ?d ?e ?f . ?g ?h ?i . ?j ?k ?l . FILTER(STR(?c) > STR(?l)) }"


@pytest.fixture(scope="module")
def store() -> Store:
    found = Store()
    for number in range(200):
        found.add(Quad(NamedNode(f"urn:x:{number}"), NamedNode("urn:p"), Literal(number)))
    return found


@pytest.fixture
def sandbox(store: Store):
    box = Sandbox(store.dump(format=RdfFormat.N_QUADS) or b"", time_limit=5.0)
    yield box
    box.close()


@pytest.mark.parametrize(
    "text",
    [
        "SELECT * { ?s ?p ?o }",
        "ASK { ?s ?p ?o }",
        "CONSTRUCT { ?s ?p ?o } WHERE { ?s ?p ?o }",
        "DESCRIBE <urn:x:1>",
        "PREFIX f: <urn:service/from#> SELECT ?service { ?service f:from 'SERVICE FROM' }",
    ],
)
def test_reading_is_let_in(text: str) -> None:
    """Every read-only form passes, even one that carries a refused word as data."""
    check_read_only(text)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("INSERT DATA { <urn:a> <urn:b> <urn:c> }", "Updates are refused"),
        ("LOAD <http://127.0.0.1:1/x>", "Updates are refused"),
        ("DROP ALL", "Updates are refused"),
        ("SELECT * FROM <http://127.0.0.1:1/x> { ?s ?p ?o }", "FROM is refused"),
        ("SELECT * FROM NAMED <file:///etc/hostname> { ?s ?p ?o }", "FROM is refused"),
        ("SELECT * { SERVICE <http://127.0.0.1:1/> { ?s ?p ?o } }", "SERVICE is refused"),
        ("SELECT * { ?s ?p ?o FILTER NOT EXISTS { service silent ?x { ?s ?p ?o } } }", "SERVICE is refused"),
        ("SELECT * { { SELECT * { OPTIONAL { SeRvIcE <urn:x> { ?s ?p ?o } } } } }", "SERVICE is refused"),
        ("SELECT * { ?s ?p", "line 1"),
        ("", "is empty"),
        ("#" * (LONGEST + 1), "at most"),
        ("SELECT * {" + "{" * 5000 + "}" * 5000 + "}", "."),
    ],
)
def test_everything_else_is_refused_in_one_sentence(text: str, said: str) -> None:
    """Updates, outside sources, broken and oversized texts each get their own sentence."""
    with pytest.raises(WrongCallError, match=said):
        check_read_only(text)


def test_a_refused_query_calls_nobody(sandbox: Sandbox) -> None:
    """A listener on loopback hears nothing, whatever a query tries."""
    heard: list[str] = []

    class Listener(http.server.BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            heard.append(self.path)

        do_POST = do_GET  # noqa: N815  # the name that the standard library calls

    server = http.server.HTTPServer(("127.0.0.1", 0), Listener)
    threading.Thread(target=server.serve_forever, daemon=True).start()
    place = f"http://127.0.0.1:{server.server_port}/x"
    for text in (
        f"SELECT * {{ SERVICE <{place}> {{ ?s ?p ?o }} }}",
        f"SELECT * FROM <{place}> {{ ?s ?p ?o }}",  # noqa: S608  # SPARQL, and that is the point
        f"LOAD <{place}>",
        f"SELECT * {{ GRAPH <{place}> {{ ?s ?p ?o }} }}",
    ):
        try:
            sandbox.ask(text)
        except WrongCallError:
            continue
    server.shutdown()
    server.server_close()
    assert heard == []


def test_a_slow_query_is_killed_and_the_next_one_answered(store: Store) -> None:
    """The process is stopped at its limit, and a new one takes the next question."""
    box = Sandbox(store.dump(format=RdfFormat.N_QUADS) or b"", time_limit=1.0)
    worker = box._worker()
    box._idle.append(worker)
    with pytest.raises(WrongCallError, match="stopped after 1 s"):
        box.ask(HEAVY)
    assert worker.process.exitcode == -signal.SIGKILL
    assert box._idle == []
    box._limit = 10.0
    assert b"true" in box.ask("ASK { ?s ?p ?o }").body
    box.close()


def test_a_quick_query_does_not_wait_for_a_slow_one(store: Store) -> None:
    """Two processes: while one works to its limit the other answers, and both are of the same graph."""
    box = Sandbox(store.dump(format=RdfFormat.N_QUADS) or b"", time_limit=4.0)
    slow = threading.Thread(target=refused, args=(box, HEAVY))
    slow.start()
    until(lambda: box._busy)
    told = [box.ask("SELECT ?s { ?s ?p 7 }", "csv").body for _ in range(5)]
    assert slow.is_alive()
    assert set(told) == {b"s\r\nurn:x:7\r\n"}
    slow.join()
    assert (len(box._idle), box._busy, box._working) == (1, set(), 0)
    box.close()


def test_no_more_work_at_once_than_is_said_and_no_more_wait(store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    """One works, one waits, the third is told to come back at once; who waited is answered in its turn."""
    monkeypatch.setattr("clampgraph.graph.sandbox.WAITING", 1)
    box = Sandbox(store.dump(format=RdfFormat.N_QUADS) or b"", time_limit=3.0)
    found: list[Reply] = []
    slow = threading.Thread(target=refused, args=(box, HEAVY, 1))
    waits = threading.Thread(target=lambda: found.append(box.ask("ASK { ?s ?p ?o }", at_once=1)))
    slow.start()
    until(lambda: box._busy)
    waits.start()
    until(lambda: box._waiting)
    began = time.monotonic()
    with pytest.raises(StoreError, match="still running: ask again"):
        box.ask("ASK { ?s ?p ?o }", at_once=1)
    assert time.monotonic() - began < 1.0
    assert len(box._busy) == 1
    slow.join()
    waits.join()
    assert b"true" in found[0].body
    assert (box._working, box._waiting) == (0, 0)
    box.close()


def test_a_process_that_nobody_asks_ends_and_is_replaced(store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    """It goes by itself, in peace, and the next query does not notice, not even one that comes as it goes."""
    box = Sandbox(store.dump(format=RdfFormat.N_QUADS) or b"", idle=0.2)
    assert b"true" in box.ask("ASK { ?s ?p ?o }").body
    (worker,) = box._idle
    worker.process.join(20)
    assert worker.process.exitcode == 0
    looks = iter([True])  # as seen a moment before
    monkeypatch.setattr(worker, "lives", lambda: next(looks, False))
    assert b"true" in box.ask("ASK { ?s ?p ?o }").body
    assert worker not in box._idle
    box.close()


def test_closing_ends_every_process(store: Store) -> None:
    """Those that rest and those that work; whoever waits for one is told, and nothing is left behind."""
    box = Sandbox(store.dump(format=RdfFormat.N_QUADS) or b"", time_limit=20.0)
    box.ask("ASK { ?s ?p ?o }")
    (resting,) = box._idle
    slow = threading.Thread(target=refused, args=(box, HEAVY))
    slow.start()
    until(lambda: box._busy)
    (working,) = box._busy
    assert working is resting
    box.close()
    slow.join(10)
    assert not slow.is_alive()
    assert not working.process.is_alive()
    assert (box._idle, box._busy) == ([], set())


def refused(box: Sandbox, text: str, at_once: int = 2) -> None:
    with pytest.raises(WrongCallError):
        box.ask(text, at_once=at_once)


def until(found: Callable[[], object]) -> None:
    end = time.monotonic() + 20.0
    while not found():
        assert time.monotonic() < end
        time.sleep(0.01)


@pytest.mark.parametrize("query", [DOUBLING, SORTING], ids=["doubling", "sorting"])
def test_a_greedy_query_ends_its_own_process_and_no_other(query: str, store: Store) -> None:
    """Memory past the limit is not given; whoever asks is told, and the next question is answered."""
    box = Sandbox(store.dump(format=RdfFormat.N_QUADS) or b"", time_limit=20.0, memory_limit=64 << 20)
    with pytest.raises(WrongCallError, match="more than 64 MiB"):
        box.ask(query)
    assert b"true" in box.ask("ASK { ?s ?p ?o }").body
    box.close()


def test_nobody_waits_for_ever_behind_others(store: Store) -> None:
    """Who comes while others run waits a while, and is then told to come back."""
    box = Sandbox(store.dump(format=RdfFormat.N_QUADS) or b"", time_limit=0.05)
    box._working = 2
    with pytest.raises(StoreError, match="still running: ask again"):
        box.ask("ASK { ?s ?p ?o }")
    assert box._waiting == 0


def test_formats_hold_their_kind_of_result(store: Store) -> None:
    """Tables go into table formats, graphs into graph formats; the other way is refused."""
    assert reply(store, "SELECT ?s { ?s ?p 7 }", "csv").body == b"s\r\nurn:x:7\r\n"
    assert b"urn:x:7" in reply(store, "CONSTRUCT { ?s ?p 7 } WHERE { ?s ?p 7 }", "ntriples").body
    with pytest.raises(WrongCallError, match="does not hold a graph"):
        reply(store, "CONSTRUCT { ?s ?p 7 } WHERE { ?s ?p 7 }", "csv")
    with pytest.raises(WrongCallError, match="does not hold a table"):
        reply(store, "SELECT ?s { ?s ?p 7 }", "turtle")


def test_too_many_rows_are_refused(store: Store) -> None:
    """An answer past the row limit is refused, not cut off in silence."""
    with pytest.raises(WrongCallError, match="more than 100000 rows"):
        reply(store, "SELECT * { ?a ?b ?c . ?d ?e ?f . ?g ?h ?i }")
