"""One setting says where triples are kept; the answers are the same from memory, a folder and an endpoint."""

import subprocess
import sys
import time

import pytest
from fastapi.testclient import TestClient
from tests.cli.test_every_door import QUESTIONS, UNIT
from tests.graph.endpoints import free_port, listening, oxigraph, packed
from typer.testing import CliRunner

from clampgraph.answers.library import Library
from clampgraph.api.app import create_app
from clampgraph.cli.app import app
from clampgraph.errors import DataError, StoreError, WrongCallError
from clampgraph.graph import load
from clampgraph.graph.remote import Remote, bound
from clampgraph.graph.store import GraphStore

MORE = [
    ("GET", "/assemblies", {}),
    ("GET", f"/assemblies/{UNIT}", {"generation": "gen-1"}),
    ("GET", f"/assemblies/{UNIT}/network", {}),
    ("GET", f"/assemblies/{UNIT}/drawing.svg", {"phase": "release"}),
    ("GET", "/symptoms", {"q": "wont let go"}),
    ("GET", "/health", {}),
    ("GET", "/sparql", {"query": "SELECT ?t (COUNT(?s) AS ?n) { ?s a ?t } GROUP BY ?t ORDER BY DESC(?n) ?t"}),
    ("GET", "/sparql", {"query": 'ASK { ?s ?p "brannoch-40t" }'}),
]
ASKED = [*(question[1:] for question in QUESTIONS), *MORE]


@pytest.fixture(scope="module")
def server(tmp_path_factory):
    """Run a real SPARQL server that holds the shipped packs; return its address."""
    folder = packed(tmp_path_factory.mktemp("endpoint"))
    with oxigraph(folder, free_port()) as address:
        yield address


@pytest.fixture(scope="module")
def clients(tmp_path_factory, server):
    """Return one service for each kind of store."""
    places = {"memory": "memory", "folder": str(tmp_path_factory.mktemp("disk")), "endpoint": server}
    found = {}
    for name, place in places.items():
        opened = Library.open((), place)
        found[name] = TestClient(create_app(opened))
    yield found
    for client in found.values():
        client.close()


@pytest.mark.parametrize(("method", "path", "body"), ASKED, ids=[f"{m} {p}" for m, p, _ in ASKED])
@pytest.mark.parametrize("store", ["folder", "endpoint"])
def test_every_store_gives_the_same_answer(store, method, path, body, clients):
    """Each kind of question, byte by byte as from memory."""
    sent = {"params": body} if method == "GET" else {"json": body}
    expected = clients["memory"].request(method, path, **sent)
    reply = clients[store].request(method, path, **sent)
    assert expected.status_code == reply.status_code == 200, reply.text
    assert reply.content == expected.content


HOSTILE = [
    'a"b', "a\\", "a\nb", "} LIMIT 1 #", '") } UNION { ?s ?p ?o', "'", "<urn:x>", "\t\r\x01", "ü漢😀", "", "?s", "${x}",
]  # fmt: skip


@pytest.mark.parametrize("text", HOSTILE, ids=repr)
def test_values_go_over_the_wire_as_values(text, server):
    """Whatever stands in a value, it is compared as that value, as in this process."""
    remote = Remote(server)
    assert GraphStore(remote).ask("assembly/list-positions", assembly=text) == []
    # A query that gives back what it was given shows that nothing was lost on the way.
    echo = 'SELECT ?given { BIND(CONCAT(?x, "") AS ?given) }'
    rows = [row["given"].value for row in remote._asked(bound(echo, {"x": text}))]
    remote.close()
    assert rows == [text]


def test_an_endpoint_that_is_down_says_so_and_is_asked_again_when_it_is_back(tmp_path):
    """One sentence while it is away; afterwards the same library answers, without a restart."""
    folder, port = packed(tmp_path / "triples"), free_port()
    with oxigraph(folder, port) as address:
        library = Library.open((), address)
        client = TestClient(create_app(library))
        assert client.get("/queries/assembly/list-assemblies").status_code == 200
    reply = client.get("/queries/assembly/list-assemblies")
    assert reply.status_code == 503
    assert reply.json()["type"].endswith("#store-fault")
    assert f"127.0.0.1:{port}" in reply.json()["detail"]
    with pytest.raises(StoreError):
        library.graph.ask("assembly/list-assemblies")
    with oxigraph(folder, port):
        assert client.get("/queries/assembly/list-assemblies").status_code == 200


def test_an_endpoint_that_does_not_answer_in_time_is_given_up():
    """The wait ends with a sentence."""
    with listening(lambda _: time.sleep(2.0)) as (address, heard):
        began = time.monotonic()
        with pytest.raises(StoreError, match=r"does not answer|in time|timed out"):
            GraphStore(Remote(address, seconds=0.3)).ask("assembly/list-assemblies")
        assert time.monotonic() - began < 1.9
    assert heard


def test_an_endpoint_that_talks_nonsense_is_told():
    """A page where rows were asked for."""

    def page(handler):
        handler.send_response(200)
        handler.send_header("content-type", "text/html")
        handler.end_headers()
        handler.wfile.write(b"<html>")

    with listening(page) as (address, _), pytest.raises(StoreError, match=address.removeprefix("http://")):
        GraphStore(Remote(address)).ask("assembly/list-assemblies")


def test_a_folder_is_filled_once_and_read_by_many(tmp_path):
    """The second process opens what the first made, while the first has it open; another edition has its own folder."""
    first = Library.open((), str(tmp_path))
    (edition,) = [f.name for f in tmp_path.iterdir()]
    stamp = (tmp_path / edition).stat().st_mtime_ns
    code = f"from clampgraph.answers.library import Library; print(len(Library.open((), {str(tmp_path)!r}).graph))"
    told = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert int(told.stdout) == len(first.graph)
    assert (tmp_path / edition).stat().st_mtime_ns == stamp
    pack = tmp_path / "more.ttl"
    pack.write_text("<urn:a> <urn:b> <urn:c> .", "utf-8")
    assert len(Library.open([pack], str(tmp_path / "two")).graph) == len(first.graph) + 1
    assert not list(tmp_path.glob(".building-*"))


def test_a_broken_pack_leaves_no_store(tmp_path):
    """The sentence names file and line, and nothing half loaded stays."""
    pack = tmp_path / "bad.ttl"
    pack.write_text("<urn:a> <urn:b> .", "utf-8")
    with pytest.raises(DataError, match=r"bad.ttl line 1"):
        load([pack], str(tmp_path / "disk"))
    assert list((tmp_path / "disk").iterdir()) == []


def test_a_place_that_cannot_be_a_store_is_told(tmp_path):
    """A file; an address of another kind; packs for an endpoint, which has its own."""
    (tmp_path / "file").write_text("", "utf-8")
    with pytest.raises(StoreError, match="name a folder"):
        load((), str(tmp_path / "file"))
    with pytest.raises(WrongCallError, match=r"http://"):
        load((), "ftp://127.0.0.1/x")
    with pytest.raises(WrongCallError, match="has its own packs"):
        load([tmp_path / "more.ttl"], "http://127.0.0.1:1/query")


def test_the_command_takes_the_same_setting(server, monkeypatch):
    """By option and by environment; not beside a running service."""
    line = ["diagnose", UNIT, "--seen", "slow-return", "--json"]
    plain = CliRunner().invoke(app, line)
    assert plain.exit_code == 0
    assert CliRunner().invoke(app, [*line, "--store", server]).stdout == plain.stdout
    monkeypatch.setenv("CLAMPGRAPH_STORE", server)
    assert CliRunner().invoke(app, line).stdout == plain.stdout
    refused = CliRunner().invoke(app, [*line, "--store", server, "--server", "http://127.0.0.1:1"])
    assert isinstance(refused.exception, WrongCallError)
