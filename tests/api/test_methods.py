"""HEAD, OPTIONS and what a path takes (RFC 9110, 9.3.2, 9.3.7 and 15.5.6)."""

import http.client
import json
import socket

import pytest
from fastapi.testclient import TestClient

from api.service import listening, running
from clampgraph.api import examples
from clampgraph.api.app import create_app
from clampgraph.api.examples import EXAMPLES
from clampgraph.api.settings import EMBEDDED

GETS = [example for example in EXAMPLES if example.method == "GET"]
OWN = ("x-request-id", "date")
"""Headers that are others in each answer."""


@pytest.fixture(scope="module")
def client(tmp_path_factory):
    """Return a client of a service that may do all, with a case to ask for."""
    app, token = examples.service(tmp_path_factory.mktemp("service"))
    with TestClient(app, headers={"authorization": f"Bearer {token}"}) as found:
        (case,) = (example for example in EXAMPLES if example.name == "POST /cases")
        assert found.post(case.url, **case.sent()).is_success
        yield found


def headers(reply):
    return {name: value for name, value in reply.headers.items() if name not in OWN}


@pytest.mark.parametrize("example", GETS, ids=[example.route for example in GETS])
def test_head_is_get_without_its_body(example, client):
    """Same status, same headers, length included, and no body; the first time and when it is remembered."""
    for _ in range(2):
        head = client.head(example.url, **example.sent())
        get = client.get(example.url, **example.sent())
        assert (head.status_code, head.content) == (get.status_code, b"") == (200, b"")
        if example.route != "/metrics":  # counts these very requests
            assert headers(head) == headers(get)


@pytest.mark.parametrize("path", ["/assemblies/nix", "/nowhere", "/assemblies?limit=0", "/openapi.json"])
def test_head_tells_what_get_would(path, client):
    """Problems have no body either."""
    head, get = client.head(path), client.get(path)
    assert (head.status_code, head.content, headers(head)) == (get.status_code, b"", headers(get))


def test_head_is_answered_from_what_the_client_holds(client):
    """A tag works as with GET."""
    tag = client.get("/assemblies").headers["etag"]
    assert client.head("/assemblies", headers={"if-none-match": tag}).status_code == 304


def test_head_needs_the_token_that_get_needs(client):
    """Without one nothing is told, not even a length."""
    reply = client.head("/assemblies", headers={"authorization": ""})
    assert (reply.status_code, reply.content) == (401, b"")


def test_the_log_tells_a_head(library, capsys):
    """The log and the metrics tell the method that was asked with."""
    with TestClient(create_app(library, settings=EMBEDDED.model_copy(update={"log": "json"}))) as client:
        client.head("/assemblies")
        counted = client.get("/metrics").text
    line = json.loads(capsys.readouterr().err.splitlines()[0])
    assert (line["method"], line["route"], line["status"]) == ("HEAD", "/assemblies", 200)
    assert 'clampgraph_requests_total{method="HEAD",route="/assemblies",status="200"} 1.0' in counted


def test_a_connection_goes_on_after_head(tmp_path):
    """Over the wire: no byte of a body that would be taken for the next answer, however often the same is asked."""
    with running(tmp_path) as service:
        host, port = service.url.removeprefix("http://").split(":")
        with socket.create_connection((host, int(port)), timeout=20) as wire, wire.makefile("rb") as read:
            told = []
            for method in ("GET", "HEAD", "HEAD", "HEAD", "GET", "GET", "GET", "HEAD", "GET"):
                wire.sendall(f"{method} /assemblies HTTP/1.1\r\nhost: localhost\r\n\r\n".encode())
                assert read.readline() == b"HTTP/1.1 200 OK\r\n"
                head = http.client.parse_headers(read)
                told.append((head["content-length"], head["etag"]))
                assert read.read(int(head["content-length"]) if method == "GET" else 0)[-1:] in (b"}", b"")
    assert len(set(told)) == 1


@pytest.mark.parametrize(
    ("path", "allow"),
    [
        ("/assemblies", "GET, HEAD, OPTIONS"),
        ("/diagnoses", "POST, OPTIONS"),
        ("/sparql", "GET, HEAD, POST, OPTIONS"),
        ("/cases", "GET, HEAD, POST, OPTIONS"),
        ("/cases/authors/somebody", "DELETE, OPTIONS"),
        ("/v1/tables/cautions", "GET, HEAD, OPTIONS"),
        ("/openapi.json", "GET, HEAD, OPTIONS"),
    ],
)
def test_options_tell_the_methods_of_a_path(path, allow, client):
    """Nothing but the header that says it; a method that is not there is refused with the same header."""
    reply = client.options(path)
    assert (reply.status_code, reply.content, reply.headers["allow"]) == (204, b"", allow)
    wrong = client.request("PATCH", path, json={})
    assert (wrong.status_code, wrong.headers["allow"]) == (405, allow)


def test_options_of_nothing_are_nothing(client):
    """A path that is not there has no methods."""
    assert client.options("/nowhere").status_code == 404


def test_head_of_what_only_takes_post_is_refused(library):
    """Also over the wire, where the refusal has no body."""
    with listening(library) as url:
        wire = http.client.HTTPConnection(url.removeprefix("http://"), timeout=20)
        for _ in range(2):
            wire.request("HEAD", "/diagnoses")
            reply = wire.getresponse()
            assert (reply.status, reply.headers["allow"], reply.read()) == (405, "POST, OPTIONS", b"")
        wire.close()
