"""A request that came before, byte for byte, is answered without being read, and in nothing else differently."""

import asyncio
import contextlib
import gzip
import json
import socket
import threading
import time

import pytest
import uvicorn

from clampgraph.api import patience
from clampgraph.api.app import create_app
from clampgraph.api.around import recognising
from clampgraph.api.keeping import Held
from clampgraph.api.patience import PatientConfig, PatientProtocol
from clampgraph.api.settings import Settings
from clampgraph.api.tokens import TokenFile

UNIT = {"assembly": "brannoch-30s", "seen": ["slow-return"]}


class Spoken:
    """A connection over which bytes are sent as they are."""

    def __init__(self, address):
        self.connection = socket.create_connection(address, timeout=20)
        self.file = self.connection.makefile("rb")

    def ask(self, request):
        """Send bytes, and return status, headers and body of one answer."""
        self.connection.sendall(request)
        return self.answer()

    def answer(self):
        """Return status, headers and body of the next answer."""
        status = int(self.file.readline().split()[1])
        lines = iter(self.file.readline, b"\r\n")
        headers = dict(line.decode().rstrip().split(": ", 1) for line in lines)
        return status, headers, self.file.read(int(headers.get("content-length", 0)))


class Service:
    """A service that listens, and what was answered without being read."""

    def __init__(self, library, **given):
        settings = Settings.model_validate({"log": "off", **given})
        self.app = create_app(library, settings=settings)
        self.known, self.at_once, self.spoken = self.app.state.known, [], []
        self.listener = socket.create_server(("127.0.0.1", 0))
        config = PatientConfig(
            self.app, patience=10, most=100, http=PatientProtocol, log_config=None, access_log=False
        )  # fmt: skip
        self.server = uvicorn.Server(config)

    def speak(self):
        """Open a connection."""
        self.spoken.append(Spoken(self.listener.getsockname()))
        return self.spoken[-1]

    def counted(self, how):
        """Return how many questions were answered in a way."""
        lines = self.app.state.metrics.text().decode().splitlines()
        return sum(float(x.split()[-1]) for x in lines if x.startswith(f'clampgraph_remembered_total{{how="{how}"}}'))


@contextlib.contextmanager
def serving(library, monkeypatch, **given):
    service = Service(library, **given)
    honest = recognising.Recognition.answer

    def noted(*asked):
        found = honest(*asked)
        service.at_once.append(found is not None)
        return found

    monkeypatch.setattr(recognising.Recognition, "answer", noted)
    thread = threading.Thread(target=service.server.run, args=([service.listener],), daemon=True)
    thread.start()
    end = time.monotonic() + 20.0
    while not service.server.started and time.monotonic() < end:
        time.sleep(0.01)
    try:
        yield service
    finally:
        service.server.should_exit = True
        for spoken in service.spoken:
            spoken.file.close()
            spoken.connection.close()
        thread.join(timeout=20.0)
        service.listener.close()


@pytest.fixture
def service(library, monkeypatch):
    with serving(library, monkeypatch) as found:
        yield found


def post(question=UNIT, *lines, path="/diagnoses"):
    body = json.dumps(question).encode()
    head = [f"POST {path} HTTP/1.1", "host: localhost", "content-type: application/json", *lines]
    return "\r\n".join([*head, f"content-length: {len(body)}", "", ""]).encode() + body


def test_the_second_time_it_is_not_read(service):
    """Status, headers and body are the same; only the identifier is another, and it is counted like any other."""
    spoken = service.speak()
    for request in (post(), post(UNIT, "accept-encoding: gzip"), post(path="/v1/diagnoses")):
        told = [spoken.ask(request) for _ in range(3)]
        assert service.at_once[-3:] == [False, True, True]
        assert len({status for status, _, _ in told} | {200}) == 1
        assert len({headers.pop("x-request-id") for _, headers, _ in told}) == 3
        assert all(headers.pop("date") for _, headers, _ in told)
        assert told[0][1] == told[1][1] == told[2][1]
        assert told[0][2] == told[1][2] == told[2][2]
    assert json.loads(gzip.decompress(service.speak().ask(post(UNIT, "accept-encoding: gzip"))[2])) == json.loads(
        told[0][2]
    )
    assert (service.counted("computed"), service.counted("finished")) == (1, 9)
    text = service.app.state.metrics.text().decode()
    assert 'clampgraph_requests_total{method="POST",route="/diagnoses",status="200"} 10.0' in text


def test_questions_without_a_body_are_known_too(service):
    """With their tag; who holds the answer gets 304 as before, and that is read each time."""
    spoken = service.speak()
    get = b"GET /assemblies HTTP/1.1\r\nhost: localhost\r\n%b\r\n"
    first, second = spoken.ask(get % b""), spoken.ask(get % b"")
    assert service.at_once == [False, True]
    assert first[1]["etag"] == second[1]["etag"]
    held = get % f"if-none-match: {first[1]['etag']}\r\n".encode()
    assert [spoken.ask(held)[0] for _ in range(2)] == [304, 304]
    assert service.at_once[-2:] == [False, False]


@pytest.mark.parametrize(
    ("request_", "status"),
    [
        (post({"assembly": "nix"}), 404),
        (post(UNIT, "x-request-id: mine"), 200),
        (post(UNIT, "x-filler: " + "x" * recognising.LONGEST), 200),
        (b"GET /health/alive HTTP/1.1\r\nhost: localhost\r\n\r\n", 200),
        (b"GET /queries HTTP/1.1\r\nhost: localhost\r\n\r\n", 200),
        (post(UNIT, "host: elsewhere.example"), 400),
    ],
)
def test_what_is_read_each_time(service, request_, status):
    """Refusals, requests that name themselves, long ones, and routes whose answers are not kept."""
    for _ in range(2):
        assert service.speak().ask(request_)[0] == status
    assert len(service.known) == 0


def test_a_request_that_ends_its_connection_ends_it(service):
    """Such a request is read, however often it comes."""
    for _ in range(2):
        spoken = service.speak()
        assert spoken.ask(post(UNIT, "connection: close"))[0] == 200
        assert spoken.file.read() == b""
    assert len(service.known) == 0


def test_requests_in_pieces_or_at_once_are_answered_in_order(service):
    """Half a request, two in one, and one behind another that is still computed."""
    spoken, one, other = service.speak(), post(), post({"assembly": "brannoch-30s", "seen": ["bang-at-release"]})
    answers = [spoken.ask(request)[2] for request in (one, other)]
    assert [spoken.ask(request)[0] for request in (one, other)] == [200, 200]
    assert service.at_once == [False, False, True, True]
    spoken.connection.sendall(one[:50])
    time.sleep(0.05)
    assert spoken.ask(one[50:])[2] == answers[0]
    spoken.connection.sendall(one + other + one)
    assert [spoken.answer()[2] for _ in range(3)] == [answers[0], answers[1], answers[0]]
    new = post({"assembly": "brannoch-40t", "seen": ["slow-return"]})
    spoken.connection.sendall(new)
    spoken.connection.sendall(one)
    assert json.loads(spoken.answer()[2])["assembly"] == "brannoch-40t"
    assert spoken.answer()[2] == answers[0]


def test_a_head_whose_body_comes_apart_is_known_as_a_whole(service, monkeypatch):
    """Many clients send the two in two pieces; a body that takes its time is read as it comes."""
    spoken, whole = service.speak(), post()
    head, body = whole[: whole.index(b"{")], whole[whole.index(b"{") :]
    for hold in (5.0, 5.0, 0.0):
        monkeypatch.setattr(patience, "HOLD", hold)
        spoken.connection.sendall(head)
        time.sleep(0.1)
        assert spoken.ask(body)[0] == 200
    assert spoken.ask(whole)[0] == 200
    assert service.at_once == [False, False, False, True, False, True]
    spoken.connection.sendall(head.replace(b"content-length: ", b"expect: 100-continue\r\ncontent-length: "))
    assert spoken.file.readline().startswith(b"HTTP/1.1 100")


def test_a_stop_answers_a_head_that_waits(service, monkeypatch):
    """What has come is taken, and its body is waited for."""
    monkeypatch.setattr(patience, "HOLD", 60.0)
    spoken, whole = service.speak(), post()
    spoken.connection.sendall(whole[: whole.index(b"{")])
    time.sleep(0.1)
    service.server.should_exit = True
    time.sleep(0.3)
    assert spoken.ask(whole[whole.index(b"{") :])[0] == 200


def test_another_edition_makes_every_request_new(service, library):
    """What was learned of one edition says nothing of another, and holds again when it comes back."""
    spoken, keeper = service.speak(), service.app.state.keeper
    for held in (keeper.held, Held(library, "another"), keeper.held):
        keeper.held = held
        for _ in range(2):
            spoken.ask(post())
    assert service.at_once == [False, True, False, True, False, True]
    assert service.counted("computed") == 2


def test_an_answer_that_is_gone_is_computed_again(service):
    """The request is known, its answer is not there any more."""
    spoken = service.speak()
    first = spoken.ask(post())
    service.known.finished.clear()
    assert spoken.ask(post())[2] == first[2]
    assert service.at_once == [False, False]


def test_tokens_and_pace_hold_for_known_requests(library, monkeypatch, tmp_path):
    """A token that was taken back ends at once, a caller who is too fast waits, and neither harms the others."""
    monkeypatch.setattr("clampgraph.api.tokens.LOOK_AGAIN", -1.0)
    tokens = TokenFile(tmp_path / "tokens.json")
    one, two = (post(UNIT, f"authorization: Bearer {tokens.issue(name, 'read', 1)}") for name in ("one", "two"))
    with serving(library, monkeypatch, tokens=tokens.path, rate=30) as service:
        spoken = service.speak()
        assert [spoken.ask(one)[0] for _ in range(7)] == [200] * 5 + [429] * 2
        assert service.at_once == [False, True, True, True, True, False, False]
        assert [spoken.ask(two)[0] for _ in range(2)] == [200, 200]
        tokens.revoke("two")
        assert spoken.ask(two)[0] == 401
        assert not any(b"Bearer" in key for key in service.known._known)


def test_figures_of_cases_are_looked_at_each_time(library, monkeypatch, tmp_path):
    """What is at hand of the case store is compared; a new case, or a store not asked lately, has the request read."""
    with serving(library, monkeypatch, cases=str(tmp_path / "cases.sqlite")) as service:
        lately, spoken = service.app.state.casebook.store.lately, service.speak()
        now = [0.0]
        monkeypatch.setattr(lately, "_clock", lambda: now[0])
        lately.forget()
        answers = [spoken.ask(post())[2] for _ in range(2)]
        assert service.at_once == [False, True]
        now[0] += 3600.0
        answers += [spoken.ask(post())[2] for _ in range(2)]
        assert service.at_once[2:] == [False, True]
        assert len(set(answers)) == 1
        case = {
            "assembly": "brannoch-30s",
            "seen": ["slow-return"],
            "found": [json.loads(answers[0])["causes"][0]["node"]],
        }
        spoken.ask(post(case, path="/cases"))
        again = [json.loads(spoken.ask(post())[2]) for _ in range(2)]
        assert service.at_once[4:] == [False, False, True]
        assert again[0] == again[1] != json.loads(answers[0])


def test_only_so_many_are_known(service, monkeypatch):
    """The one not seen for longest goes first."""
    monkeypatch.setattr(recognising, "MOST", 2)
    spoken = service.speak()
    requests = [post(UNIT, f"x-number: {number}") for number in range(3)]
    for request in (requests[0], requests[1], requests[0], requests[2], requests[0], requests[1]):
        spoken.ask(request)
    assert service.at_once == [False, False, True, False, True, False]


def test_who_does_not_read_is_not_written_to_without_end(service):
    """Where the client takes nothing, known requests wait like others, and the connection is given up."""
    spoken = service.speak()
    spoken.ask(post())
    protocol = next(iter(service.server.server_state.connections))
    asyncio.run_coroutine_threadsafe(_paused(protocol), protocol.loop).result(10)
    assert spoken.ask(post())[0] == 200
    assert service.at_once == [False]


async def _paused(protocol):
    protocol.pause_writing()
    protocol.loop.call_later(0.2, protocol.resume_writing)
