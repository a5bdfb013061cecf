"""Packs come in and go out while the service runs: checked first, swapped whole, and never half."""

import asyncio
import os
import threading
import time
from concurrent.futures.process import BrokenProcessPool
from contextlib import nullcontext
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from clampgraph.answers import assemblies as listing
from clampgraph.answers.validate import FindingOut
from clampgraph.api import keeping
from clampgraph.api.app import create_app
from clampgraph.api.keeping import BrokenPackError, Keeper, apart, edition_of
from clampgraph.api.settings import Settings
from clampgraph.api.tokens import TokenFile
from clampgraph.errors import DataError, UnknownNameError
from clampgraph.graph import loading
from graph.endpoints import free_port, oxigraph, packed

GOOD = Path(__file__).resolve().parents[1] / "graph_data" / "good" / "small-unit.ttl"
BAD = Path(__file__).resolve().parents[1] / "graph_data" / "bad"
NOTE = '<https://example.org/pack/note> <http://www.w3.org/2000/01/rdf-schema#comment> "{}"@en .\n'


@pytest.fixture(scope="module", autouse=True)
def quick():
    """Check packs in a thread: a process takes seconds to start, and has a test of its own below."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("clampgraph.api.keeping.apart", lambda work, given, _: asyncio.to_thread(work, given))
        yield


@pytest.fixture
def unchecked(monkeypatch):
    """Find nothing wrong with any pack, for tests of what comes after."""
    monkeypatch.setattr("clampgraph.api.keeping.apart", lambda *_: asyncio.sleep(0, ()))


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return tmp_path_factory.mktemp("packs")


@pytest.fixture(scope="module")
def client(folder):
    """Return an administrator's client of a service with a folder of packs and one of uploads."""
    (folder / "data").mkdir()
    tokens = TokenFile(folder / "tokens.json")
    token = tokens.issue("admin", "admin", 1)
    settings = Settings.model_validate({
        "log": "off", "hosts": "*", "tokens": tokens.path, "data": str(folder / "data"), "uploads": folder / "up",
        "upload_limit": 200_000,
    })  # fmt: skip
    with TestClient(create_app(settings=settings), headers={"authorization": f"Bearer {token}"}) as found:
        yield found


def upload(client, name, content, kind="text/turtle"):
    return client.post("/packs", params={"name": name}, content=content, headers={"content-type": kind})


def edition(client):
    return client.get("/health/ready").json()["edition"]


def test_a_pack_is_taken_in_and_answers(client, folder):
    """What was sent is kept whole, is loaded at once, and changes the edition; so is what replaces it."""
    before, triples = edition(client), client.get("/health").json()["triples"]
    reply = upload(client, "small-unit", GOOD.read_bytes())
    told = reply.json()
    assert (reply.status_code, told["changed"], told["pack"]) == (201, True, "small-unit.ttl")
    assert told["edition"] == edition(client) != before
    assert told["triples"] == client.get("/health").json()["triples"] > triples
    assert (folder / "up" / "small-unit.ttl").read_bytes() == GOOD.read_bytes()
    again = upload(client, "small-unit", GOOD.read_bytes()).json()
    assert (again["changed"], again["edition"]) == (False, told["edition"])
    replaced = upload(client, "small-unit", NOTE.format("n"), "application/n-triples").json()
    assert replaced["triples"] == triples + 1
    assert sorted(path.name for path in (folder / "up").iterdir()) == ["small-unit.nt"]


@pytest.mark.usefixtures("unchecked")
@pytest.mark.parametrize(("kind", "suffix"), [("application/n-quads", "nq"), ("application/trig", "trig")])
def test_other_forms_are_packs_too(client, folder, kind, suffix):
    """N-Quads and TriG are kept under their own suffix."""
    assert upload(client, f"note-{suffix}", NOTE.format("n"), kind).json()["pack"] == f"note-{suffix}.{suffix}"
    (folder / "up" / f"note-{suffix}.{suffix}").unlink()


def test_a_broken_pack_changes_nothing(client, folder):
    """It is refused with its findings; the old edition answers on, and the folder is as before."""
    before, files = edition(client), sorted((folder / "up").iterdir())
    reply = upload(client, "small-unit", (BAD / "strength-above-one.ttl").read_bytes())
    problem = reply.json()
    assert (reply.status_code, reply.headers["content-type"]) == (422, "application/problem+json")
    assert problem["type"].endswith("#broken-pack")
    assert problem["findings"][0]["severity"] == "error"
    assert problem["findings"][0]["pack"] == "small-unit.ttl"
    assert problem["detail"].endswith("nothing was changed.")
    syntax = upload(client, "other", b"this is no turtle").json()
    assert "Syntax error at line 1" in syntax["detail"]
    assert edition(client) == before
    assert sorted((folder / "up").iterdir()) == files


@pytest.mark.parametrize(
    ("sent", "status"),
    [
        (("x", "application/rdf+xml", b"<rdf/>"), 415),
        (("x", "application/ld+json", b"{}"), 415),
        (("x", "text/plain", b"x"), 415),
        (("x", "", b"x"), 415),
        (("../x", "text/turtle", b""), 422),
        (("x/y", "text/turtle", b""), 422),
        ((".x", "text/turtle", b""), 422),
        (("x.ttl", "text/turtle", b""), 422),
        (("x" * 65, "text/turtle", b""), 422),
        (("", "text/turtle", b""), 422),
        (("x", "text/turtle", b"#" * 200_001), 413),
    ],
)
def test_what_is_no_upload(client, folder, sent, status):
    """Types that can make a parser open files, names that lead elsewhere, and what is too large."""
    files = sorted(folder.rglob("*"))
    assert upload(client, sent[0], sent[2], sent[1]).status_code == status
    assert sorted(folder.rglob("*")) == files


def test_a_service_without_a_folder_takes_no_packs(library, folder):
    """It says what to start it with; a library that was handed in cannot be loaded again."""
    tokens = TokenFile(folder / "tokens-of-another.json")
    headers = {"authorization": f"Bearer {tokens.issue('admin', 'admin', 1)}"}
    settings = Settings.model_validate({"log": "off", "hosts": "*", "tokens": tokens.path})
    with TestClient(create_app(library, settings=settings), headers=headers) as client:
        reply = upload(client, "x", b"")
        assert reply.status_code == 409
        assert "--uploads FOLDER" in reply.json()["detail"]
        assert "no packs to load again" in client.post("/reload").json()["detail"]


@pytest.mark.usefixtures("unchecked")
def test_packs_are_read_again(client, folder):
    """A changed file makes another edition, and the same files again change nothing."""
    pack = folder / "data" / "note.nt"
    pack.write_text(NOTE.format("one"), "utf-8")
    first = client.post("/reload").json()
    assert first["changed"]
    assert client.post("/reload").json() == {**first, "changed": False}
    pack.write_text(NOTE.format("two"), "utf-8")
    second = client.post("/reload").json()
    assert second["changed"]
    assert second["edition"] != first["edition"]
    pack.write_text(NOTE.format("one"), "utf-8")
    assert client.post("/reload").json()["edition"] == first["edition"]


def test_broken_packs_are_not_loaded(client, folder):
    """The old edition answers on, and mending the file is enough."""
    before, pack = edition(client), folder / "data" / "note.nt"
    text = pack.read_text("utf-8") if pack.exists() else NOTE.format("one")
    pack.write_text("broken", "utf-8")
    reply = client.post("/reload")
    assert (reply.status_code, edition(client)) == (422, before)
    assert reply.json()["findings"][0]["pack"] == "note.nt"
    assert client.get("/assemblies").status_code == 200
    pack.write_text(text, "utf-8")


@pytest.mark.usefixtures("unchecked")
def test_no_answer_of_the_old_edition_is_given_after_a_reload(client):
    """A renamed unit shows at once, although the question was remembered."""
    text = GOOD.read_text("utf-8")
    upload(client, "small-unit", text)
    label = next(a["label"] for a in client.get("/assemblies").json()["assemblies"] if a["label"] in text)
    assert label in client.get("/assemblies").text
    upload(client, "small-unit", text.replace(label, "Another name"))
    assert "Another name" in client.get("/assemblies").text
    assert label not in client.get("/assemblies").text


@pytest.mark.usefixtures("unchecked")
def test_a_running_request_finishes_on_the_edition_it_began_with(tmp_path, monkeypatch):
    """It sees the old graph to its end, the next sees the new one, and the old one is closed between them."""
    entered, go_on = threading.Event(), threading.Event()
    honest = listing.assemblies

    def slow(library):
        entered.set()
        go_on.wait(20)
        return honest(library)

    monkeypatch.setattr("clampgraph.api.routes.listing.assemblies", slow)
    (tmp_path / "packs").mkdir()
    app = create_app(packs=[tmp_path / "packs"])
    keeper, closed = app.state.keeper, []
    old = keeper.held
    monkeypatch.setattr(old.graph, "close", lambda: closed.append(True))
    with TestClient(app) as client:
        answers = []
        asking = threading.Thread(target=lambda: answers.append(client.get("/assemblies").json()))
        asking.start()
        assert entered.wait(20)
        (tmp_path / "packs" / "small-unit.ttl").write_bytes(GOOD.read_bytes())
        assert client.portal.call(keeper.reload)
        assert keeper.held is not old
        assert closed == []
        go_on.set()
        asking.join(20)
        assert closed == [True]
        new = client.get("/assemblies").json()["assemblies"]
    assert len(new) == len(answers[0]["assemblies"]) + 1


@pytest.mark.usefixtures("unchecked")
def test_what_a_pack_does_not_concern_is_not_computed_again(tmp_path):
    """A note keeps what was derived and answered; what was read only under it does not come back without it."""
    note = tmp_path / "note.ttl"
    app = create_app(packs=[tmp_path], settings=Settings.model_validate({"log": "off", "hosts": "*"}))
    keeper, count = app.state.keeper, app.state.metrics.registry.get_sample_value

    def computed():
        return count("clampgraph_remembered_total", {"how": "computed"})

    def loaded(client, text):
        note.write_text(text, "utf-8")
        assert client.portal.call(keeper.reload)
        return keeper.held

    with TestClient(app) as client:
        first, plain = keeper.held, client.get("/assemblies").json()
        second = loaded(client, NOTE.format("one"))
        assert (second.edition != first.edition, second.content == first.content) == (True, True)
        assert second.library is first.library
        assert client.get("/assemblies").json() == plain
        assert computed() == 1.0
        client.get("/symptoms")
        third = loaded(client, GOOD.read_text("utf-8"))
        assert third.content != second.content
        assert len(client.get("/assemblies").json()["assemblies"]) == len(plain["assemblies"]) + 1
        fourth = loaded(client, NOTE.format("one"))
        assert fourth.edition == second.edition
        assert fourth.content not in (first.content, third.content)
        assert client.get("/assemblies").json() == plain
        assert computed() == 4.0


def test_packs_are_checked_in_a_process_of_its_own():
    """One that hangs is killed in time, one that dies is told, and the service lives."""
    assert asyncio.run(apart(eval, "__import__('os').getpid()", 60.0)) != os.getpid()
    with pytest.raises(TimeoutError):
        asyncio.run(apart(time.sleep, 60.0, 0.5))
    with pytest.raises(BrokenProcessPool):
        asyncio.run(apart(os._exit, 1, 60.0))


@pytest.mark.usefixtures("unchecked")
def test_two_loads_take_turns(tmp_path):
    """The second finds nothing left to do."""
    (tmp_path / "note.nt").write_text(NOTE.format("x"), "utf-8")

    async def run():
        keeper = Keeper([tmp_path])
        keeper.open()
        (tmp_path / "note.nt").write_text(NOTE.format("y"), "utf-8")
        return await asyncio.gather(keeper.reload(), keeper.reload())

    assert asyncio.run(run()) == [True, False]


def test_what_cannot_be_loaded_at_the_start_stops_it(tmp_path):
    """A missing or broken pack is told in one sentence, and no service starts on the rest."""
    with pytest.raises(UnknownNameError):
        Keeper([tmp_path / "none"]).open()
    (tmp_path / "broken.ttl").write_text("no", "utf-8")
    with pytest.raises(DataError, match=r"broken\.ttl line 1"):
        Keeper([tmp_path / "broken.ttl"]).open()
    with pytest.raises(DataError, match=r"broken\.ttl line 1"):
        create_app(packs=[tmp_path / "broken.ttl"])


@pytest.mark.parametrize(("changes", "loaded"), [(keeping.ATTEMPTS - 1, True), (keeping.ATTEMPTS, False)])
def test_packs_that_change_while_they_are_read_are_read_again(tmp_path, monkeypatch, changes, loaded):
    """As they are in the end; packs that come to no end are told so."""
    note, honest, tried = tmp_path / "note.nt", loading.Packs.fill, []

    def fill(packs, store):
        tried.append(packs)
        if len(tried) <= changes:
            note.write_text(NOTE.format("longer, " * len(tried)), "utf-8")
        return honest(packs, store)

    monkeypatch.setattr(loading.Packs, "fill", fill)
    note.write_text(NOTE.format("x"), "utf-8")
    keeper = Keeper([tmp_path])
    with nullcontext() if loaded else pytest.raises(DataError, match="go on changing"):
        keeper.open()
    assert len(tried) == keeping.ATTEMPTS
    assert (keeper.held is not None and keeper.held.edition == keeper._edition()) == loaded


def test_an_edition_is_named_by_what_its_files_hold(tmp_path):
    """The same content has the same name wherever it lies; names and content count."""
    one, two = tmp_path / "one", tmp_path / "two"
    for place in (one, two):
        place.mkdir()
        (place / "a.ttl").write_text("x", "utf-8")
    assert edition_of(one.iterdir()) == edition_of(two.iterdir())
    (two / "a.ttl").write_text("y", "utf-8")
    assert edition_of(one.iterdir()) != edition_of(two.iterdir())
    assert edition_of([]) != edition_of(one.iterdir())


def test_findings_are_told_in_one_sentence():
    """The first, and how many more."""
    finding = FindingOut(severity="error", pack="a.ttl", line=3, focus=None, message="This is wrong.", hint=None)
    assert str(BrokenPackError([finding])) == "a.ttl line 3: This is wrong; nothing was changed."
    told = str(BrokenPackError([finding, finding.model_copy(update={"line": None})]))
    assert told == "a.ttl line 3: This is wrong (and 1 more); nothing was changed."


def test_an_endpoint_that_is_down_is_waited_for(tmp_path, monkeypatch):
    """The service starts and says why it is not ready; it is ready as long as the endpoint is there."""
    monkeypatch.setattr("clampgraph.api.living.RETRY", 0.1)
    port = free_port()
    settings = Settings.model_validate({"log": "off", "hosts": "*", "store": f"http://127.0.0.1:{port}/query"})
    with TestClient(create_app(settings=settings)) as client:
        assert client.get("/health/alive").status_code == 200
        for path in ("/health/ready", "/health", "/assemblies"):
            reply = client.get(path)
            assert (reply.status_code, str(port) in reply.json()["detail"]) == (503, True), path
        with oxigraph(packed(tmp_path), port):
            end = time.monotonic() + 20
            while client.get("/health/ready").status_code != 200 and time.monotonic() < end:
                time.sleep(0.05)
            assert client.get("/health/ready").json()["status"] == "ready"
            assert client.get("/assemblies").json()["assemblies"]
        reply = client.get("/health/ready")
        assert (reply.status_code, reply.json()["type"].rpartition("#")[2]) == (503, "store-fault")
