"""The steps around the routes, one by one: names, log, metrics, tags, compression, bounds and pace."""

import gzip
import inspect
import json
import logging
import re
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from clampgraph.api.app import create_app
from clampgraph.api.around.asgi import varied
from clampgraph.api.around.bounding import nests_deeper
from clampgraph.api.around.logs import Handed, log_to
from clampgraph.api.around.pacing import CALLERS_KEPT, Buckets
from clampgraph.api.settings import EMBEDDED, Settings, read_settings
from clampgraph.api.tokens import TokenFile
from clampgraph.cli.serving import serve
from clampgraph.errors import WrongCallError

UNIT = {"assembly": "brannoch-30s", "seen": ["slow-return"]}


def settings(**given):
    return Settings.model_validate({"log": "off", "hosts": "*", **given})


@pytest.fixture(scope="module")
def client(library):
    with TestClient(create_app(library)) as found:
        yield found


def test_options_go_before_the_environment_and_that_before_defaults():
    """What is given wins; an empty variable counts as not set; lists are split."""
    told = {"CLAMPGRAPH_PORT": "9000", "CLAMPGRAPH_THREADS": "2", "CLAMPGRAPH_LOG": "", "CLAMPGRAPH_DATA": "a:b"}
    read = read_settings({"port": "9001", "hosts": "one, two", "data": None}, told)
    assert (read.port, read.threads, read.log, read.hosts) == (9001, 2, "auto", ("one", "two"))
    assert [str(path) for path in read.data] == ["a", "b"]


@pytest.mark.parametrize(
    ("given", "environment", "said"),
    [
        ({"port": "70000"}, {}, "--port is '70000', which is wrong: input should be less than or equal to 65535."),
        ({}, {"CLAMPGRAPH_PORT": "x"}, "CLAMPGRAPH_PORT is 'x', which is wrong: input should be a valid integer"),
        ({"workers": "0"}, {}, "--workers is '0', which is wrong"),
        ({"log": "xml"}, {}, "--log is 'xml', which is wrong: input should be 'auto', 'json', 'plain' or 'off'."),
        ({"time_limit": "nan"}, {}, "--time-limit is 'nan'"),
        ({"colour": "red"}, {}, "--colour is 'red', which is wrong"),
        ({"rate": "-1"}, {}, "--rate is '-1'"),
        ({"host": "0.0.0.0"}, {}, "Listening on 0.0.0.0 lets others in: make a token"),  # noqa: S104
        ({"host": "::"}, {}, "Listening on :: lets others in"),
        ({"host": "workshop.example"}, {}, "Listening on workshop.example lets others in"),
        ({}, {"CLAMPGRAPH_CORS": "*"}, "Cors * lets every web page ask"),
    ],
)
def test_a_wrong_setting_gets_one_sentence(given, environment, said):
    """It says where the value stands, what it is, and what would be right."""
    with pytest.raises(WrongCallError) as caught:
        read_settings(given, environment)
    assert str(caught.value).startswith(said)
    assert str(caught.value).endswith(".")
    assert str(caught.value).count(". ") == 0


@pytest.mark.parametrize(
    ("host", "loopback"),
    [("127.0.0.1", True), ("127.8.8.8", True), ("::1", True), ("localhost", True), ("10.0.0.1", False)],
)
def test_what_is_this_machine(host, loopback, tmp_path):
    """Callers are not paced on this machine, and are elsewhere, unless a rate is set."""
    found = Settings.model_validate({"host": host, "tokens": tmp_path / "t"})
    assert found.loopback == loopback
    assert (found.rate_per_minute == 0) == loopback
    assert found.model_copy(update={"rate": 7}).rate_per_minute == 7


@pytest.mark.parametrize(
    ("given", "taken"),
    [
        ("job-17.a:b_c", True),
        ("x" * 64, True),
        ("", False),
        ("x" * 65, False),
        ("a b", False),
        ("ä", False),
        ('a"b', False),
    ],
)
def test_a_sane_name_is_taken_and_another_is_made(client, given, taken):
    """The answer and the problem document carry the same name."""
    reply = client.get("/assemblies/nix", headers={"x-request-id": given.encode("latin-1")})
    name = reply.headers["x-request-id"]
    assert reply.json()["request_id"] == name
    assert (name == given) == taken
    assert taken or re.fullmatch("[0-9a-f]{32}", name)
    assert int(reply.headers["content-length"]) == len(reply.content)


def test_every_name_is_another(client):
    """Two requests without a name get two."""
    assert len({client.get("/health").headers["x-request-id"] for _ in range(5)}) == 5


def test_the_log_tells_one_line_a_request(library, capsys, tmp_path):
    """Method, template, status, time, name and caller; nothing of what was asked, and no token."""
    tokens = TokenFile(tmp_path / "tokens.json")
    token = tokens.issue("workshop", "read", 1)
    with TestClient(create_app(library, settings=settings(log="json", tokens=tokens.path))) as client:
        client.headers["authorization"] = f"Bearer {token}"
        client.post("/v1/diagnoses?colour=red", json=UNIT, headers={"x-request-id": "first"})
        client.post("/diagnoses", json=UNIT)
        client.get("/assemblies/brannoch-30s")
        client.get("/nowhere/secret-part")
    text = capsys.readouterr().err
    lines = [json.loads(line) for line in text.splitlines()]
    told = [(line["event"], line["method"], line["route"], line["status"], line["caller"]) for line in lines]
    assert told == [
        ("request", "POST", "/diagnoses", 200, "workshop"),
        ("request", "POST", "/diagnoses", 200, "workshop"),
        ("request", "GET", "/assemblies/{assembly}", 200, "workshop"),
        ("request", "GET", "none", 404, "workshop"),
    ]
    assert lines[0]["request_id"] == "first"
    assert all(line["ms"] >= 0 and line["timestamp"].endswith("Z") for line in lines)
    for secret in (token, "slow-return", "secret-part", "colour", "brannoch"):
        assert secret not in text


def test_the_log_of_a_terminal_is_plain(capsys):
    """Plain lines are for people; what libraries log comes in the same form, and a trace with it."""
    log_to("plain").info("listening", url="here")
    assert re.search(r"listening\s+url=here", capsys.readouterr().err)
    log_to("off").error("nothing")
    handed = Handed(log_to("json"))
    handed.emit(logging.LogRecord("library", logging.ERROR, "", 0, "it %s", ("broke",), None))
    line = json.loads(capsys.readouterr().err)
    assert (line["event"], line["level"], line["logger"]) == ("it broke", "error", "library")


def test_a_fault_is_a_problem_and_its_trace_is_logged(library, capsys, monkeypatch):
    """The caller learns nothing of the inside, the log everything, under one name."""

    def fail(*_):
        raise RuntimeError("inner secret")

    monkeypatch.setattr("clampgraph.api.work.identify", fail)
    with TestClient(create_app(library, settings=settings(log="json"))) as client:
        reply = client.post("/identifications", json={})
    line = json.loads(capsys.readouterr().err.splitlines()[-1])
    assert (reply.status_code, reply.headers["content-type"]) == (500, "application/problem+json")
    assert "secret" not in reply.text
    assert reply.json()["request_id"] == line["request_id"]
    assert line["level"] == "error"
    assert "inner secret" in line["exception"]


def test_metrics_count_by_template(library):
    """Requests, times, what is loaded and how questions were answered; an invented method makes no series."""
    with TestClient(create_app(library)) as client:
        for _ in range(3):
            client.post("/diagnoses", json=UNIT)
        client.get("/assemblies/nix")
        client.request("BREW", "/assemblies")
        text = client.get("/metrics").text
    values = dict(line.rsplit(" ", 1) for line in text.splitlines() if not line.startswith("#"))
    assert values['clampgraph_requests_total{method="POST",route="/diagnoses",status="200"}'] == "3.0"
    assert values['clampgraph_requests_total{method="GET",route="/assemblies/{assembly}",status="404"}'] == "1.0"
    assert values['clampgraph_request_seconds_count{method="POST",route="/diagnoses"}'] == "3.0"
    assert values['clampgraph_remembered_total{how="computed"}'] == "2.0"
    assert values['clampgraph_remembered_total{how="finished"}'] == "2.0"
    assert float(values["clampgraph_triples"]) == len(library.graph)
    assert float(values["clampgraph_kept_bytes"]) > 1000
    assert values["clampgraph_queue"] == "0.0"
    assert [key for key in values if key.startswith("clampgraph_edition{")]
    assert 'method="OTHER"' in text
    assert "BREW" not in text


def test_alive_and_ready_differ(library):
    """A service that goes down is alive and not ready; questions that come nevertheless are answered."""
    app = create_app(library)
    with TestClient(app) as client:
        assert client.get("/health/ready").json()["status"] == "ready"
        app.state.keeper.leaving = True
        assert client.get("/health/alive").json() == {"status": "alive"}
        for path in ("/health/ready", "/health"):
            reply = client.get(path)
            assert (reply.status_code, reply.json()["detail"]) == (503, "The service is going down.")
        assert client.get("/assemblies").status_code == 200


def test_nothing_is_answered_before_it_is_loaded(library):
    """While loading the service is alive, not ready, and sends questions away with a time to come back."""
    app = create_app(library)
    app.state.keeper.held = None
    client = TestClient(app)  # without its lifespan, which would try to load
    assert client.get("/health/alive").status_code == 200
    assert client.get("/metrics").status_code == 200
    for path in ("/health", "/health/ready", "/assemblies"):
        reply = client.get(path)
        assert (reply.status_code, reply.headers["retry-after"]) == (503, "1")


def test_a_case_store_that_is_down_is_not_ready(library, tmp_path):
    """A configured store that does not answer makes the service not ready, and its sentence says which."""
    blocked = tmp_path / "file"
    blocked.write_text("x", "utf-8")
    with TestClient(create_app(library, settings=settings(cases=str(blocked / "cases.sqlite")))) as client:
        reply = client.get("/health/ready")
        assert reply.status_code == 503
        assert "case" in reply.json()["detail"]
        assert client.get("/health/alive").status_code == 200


@pytest.mark.parametrize(
    "path", ["/assemblies", "/assemblies/brannoch-30s/drawing.svg", "/tables/kit-contents", "/queries"]
)
def test_who_holds_an_answer_gets_no_body(client, path):
    """The tag is the same however the body is packed, and 304 repeats what decides over the answer."""
    first, second = client.get(path), client.get(path, headers={"accept-encoding": "identity"})
    tag = first.headers["etag"]
    assert tag.startswith('W/"')
    assert second.headers["etag"] == tag
    for named in (tag, tag.removeprefix("W/"), f'"other", {tag}', "*"):
        reply = client.get(path, headers={"if-none-match": named})
        assert (reply.status_code, reply.content) == (304, b"")
        assert reply.headers["etag"] == tag
        assert reply.headers["vary"].lower().count("accept-language") == 1
        assert "content-type" not in reply.headers
    assert client.get(path, headers={"if-none-match": '"other"'}).status_code == 200


def test_what_decides_over_an_answer_is_told_once(client):
    """`Vary` names the three headers, each once, whoever added them."""
    for reply in (client.get("/assemblies"), client.get("/assemblies", headers={"accept-encoding": "identity"})):
        names = [name.strip().lower() for name in reply.headers["vary"].split(",")]
        assert sorted(names) == ["accept", "accept-encoding", "accept-language"]
    assert varied([(b"Vary", b"Origin, accept")], "Accept", "Origin") == [(b"vary", b"Origin, accept")]


def test_another_language_has_another_tag(client):
    """German labels are another body."""
    tags = {
        client.get("/assemblies/brannoch-30s", headers={"accept-language": x}).headers["etag"] for x in ("en", "de")
    }
    assert len(tags) == 2


def test_problems_and_posts_have_no_tag(client):
    """Only whole answers to GET are tagged."""
    assert "etag" not in client.get("/assemblies/nix").headers
    assert "cache-control" not in client.get("/assemblies/nix").headers


def test_bodies_are_compressed_for_who_takes_it(client):
    """Computed, remembered, and large problem documents alike; small bodies are left alone."""
    plain = client.post("/diagnoses", json=UNIT, headers={"accept-encoding": "identity"})
    with client.stream("POST", "/diagnoses", json=UNIT, headers={"accept-encoding": "gzip"}) as packed:
        raw = b"".join(packed.iter_raw())
    assert packed.headers["content-encoding"] == "gzip"
    assert int(packed.headers["content-length"]) == len(raw) < len(plain.content) / 3
    assert gzip.decompress(raw) == plain.content
    assert "content-encoding" not in plain.headers
    assert "content-encoding" not in client.get("/health").headers
    large = client.get("/assemblies/" + "x" * 3000, headers={"accept-encoding": "gzip"})
    assert large.headers["content-encoding"] == "gzip"
    assert large.json()["request_id"] == large.headers["x-request-id"]


@pytest.fixture(scope="module")
def narrow(library):
    bounds = settings(body_limit=2048, depth_limit=5, header_limit=1024, query_limit=256)
    with TestClient(create_app(library, settings=bounds)) as found:
        yield found


@pytest.mark.parametrize(
    ("content", "status"),
    [
        (b'{"assembly": "brannoch-30s"}' + b" " * 2020, 200),
        (b'{"assembly": "brannoch-30s"}' + b" " * 2021, 413),
        (b'{"assembly": "brannoch-30s", "ages": ' + b"[" * 4, 422),
        (b'{"assembly": "brannoch-30s", "ages": ' + b"[" * 5, 422),
        (b'{"assembly": "' + b"[" * 1000 + b'"}', 404),
    ],
)
def test_bodies_have_bounds(narrow, content, status):
    """Size is bounded told or untold, and nesting counts outside strings only."""

    def parts():
        yield content[:10]
        yield content[10:]

    for sent in (content, parts()):
        reply = narrow.post("/diagnoses", content=sent, headers={"content-type": "application/json"})
        assert reply.status_code == status
    if content.endswith(b"[" * 5):
        assert reply.json()["detail"] == "The JSON nests deeper than 5; no question does."
    if status == 413:
        assert reply.headers["connection"] == "close"


@pytest.mark.parametrize(
    ("text", "limit", "deeper"),
    [
        (b"", 0, False),
        (b"[[]]", 2, False),
        (b"[[[]]]", 2, True),
        (b"[][][][]", 1, False),
        (b'["[[[[", 1]', 1, False),
        (rb'["\"[[[[", 1]', 1, False),
        (rb'["\\", [[1]]]', 2, True),
        (b'["[[[ never closed', 1, False),
        (b"[" * 100_000, 32, True),
        (b'{"a":' * 33, 32, True),
    ],
)
def test_how_deep_a_text_nests(text, limit, deeper):
    """Strings, escapes and broken texts included."""
    assert nests_deeper(text, limit) == deeper


def test_a_deep_body_breaks_nothing(client):
    """A hundred thousand brackets are a problem document."""
    reply = client.post("/diagnoses", content=b"[" * 100_000, headers={"content-type": "application/json"})
    assert reply.status_code == 422


def test_addresses_and_headers_have_bounds(narrow):
    """Both are told apart by their status."""
    assert narrow.get("/symptoms", params={"q": "x" * 200}).status_code == 200
    assert narrow.get("/symptoms", params={"q": "x" * 300}).status_code == 414
    assert narrow.get("/assemblies", headers={"x-filler": "x" * 1000}).status_code == 431


def test_a_bucket_empties_and_fills():
    """Ten seconds' worth may come at once, then one at a time; callers do not share."""
    now = [0.0]
    buckets = Buckets(60, lambda: now[0])
    assert [buckets.wait("a") for _ in range(10)] == [0.0] * 10
    assert buckets.wait("a") == pytest.approx(1.0)
    assert buckets.wait("b") == 0.0
    now[0] = 0.9
    assert buckets.wait("a") == pytest.approx(0.1)
    now[0] = 1.0
    assert buckets.wait("a") == 0.0
    assert buckets.wait("a") == pytest.approx(1.0)
    now[0] = 3600.0
    assert [buckets.wait("a") for _ in range(11)].count(0.0) == 10
    for number in range(CALLERS_KEPT + 10):
        buckets.wait(str(number))
    assert len(buckets._filled) == CALLERS_KEPT


def test_who_asks_too_fast_waits(library, tmp_path):
    """The answer says how long; tokens are paced apart, and health is not paced."""
    tokens = TokenFile(tmp_path / "tokens.json")
    one, two = ({"authorization": f"Bearer {tokens.issue(name, 'read', 1)}"} for name in ("one", "two"))
    with TestClient(create_app(library, settings=settings(tokens=tokens.path, rate=12))) as client:
        assert [client.get("/queries", headers=one).status_code for _ in range(3)] == [200, 200, 429]
        refused = client.get("/queries", headers=one)
        assert 1 <= int(refused.headers["retry-after"]) <= 5
        assert refused.json()["detail"].startswith("That is faster than 12 requests a minute")
        assert client.get("/queries", headers=two).status_code == 200
        assert client.get("/health", headers=one).status_code == 200


def test_a_given_application_is_not_bounded_by_its_name(library):
    """An application in other hands is reached under any name, as those hands decide."""
    assert EMBEDDED.hosts == ("*",)
    assert TestClient(create_app(library), base_url="http://elsewhere.example").get("/assemblies").status_code == 200


def test_every_setting_stands_in_the_readme():
    """What has no option of the command is named in the section on running the service, and nothing else is."""
    readme = (Path(__file__).resolve().parents[2] / "README.md").read_text("utf-8")
    section = readme.split("## Run it as a service")[1].split("\n## ")[0]
    options = set(inspect.signature(serve).parameters)
    named = set(re.findall(r"`([a-z_]+)`", section.split("--set NAME=VALUE")[1]))
    assert named == set(Settings.model_fields) - options
