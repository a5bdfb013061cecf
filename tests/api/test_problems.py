"""Errors over HTTP are problem documents (RFC 9457), whatever went wrong."""

import pytest
from fastapi.testclient import TestClient

from clampgraph.api.app import create_app


@pytest.fixture(scope="module")
def client(library):
    """Return a client of the application."""
    with TestClient(create_app(library)) as found:
        yield found


@pytest.mark.parametrize(
    ("status", "content", "said"),
    [
        (422, b"", "The question is wrong"),
        (422, b"{", "The question is wrong: it is no JSON, from character 1 on."),
        (422, b"[]", "is wrong"),
        (422, b"null", "is wrong"),
        (422, b"{}", "The field 'assembly' is wrong: field required."),
        (422, b'{"assembly": "brannoch-40t", "sen": []}', "The field 'sen' is wrong"),
        (422, b'{"assembly": "brannoch-40t", "seen": "slow-return"}', "The field 'seen' is wrong"),
        (422, b'{"assembly": "brannoch-40t", "ages": {"rod": NaN}}', "rod"),
        (422, b'{"assembly": "brannoch-40t", "ages": {"rod": 1e999}}', "rod"),
        (422, b'{"assembly": "brannoch-40t", "labour_rate": NaN}', "The field 'labour_rate' is wrong"),
        (404, b'{"assembly": "brannoch-40t", "conditions": [{}]}', "There is no condition"),
        (422, b'{"assembly": "brannoch-40t", "readings": ["time-return=slow", "time-return=normal"]}', "two outcomes"),
        (404, b'{"assembly": ""}', "There is no assembly ''"),
    ],
)
def test_wrong_bodies(client, status, content, said):
    """A body that is no question gets one sentence that names the field."""
    reply = client.post("/diagnoses", content=content, headers={"content-type": "application/json"})
    problem = reply.json()
    assert (reply.status_code, problem["status"]) == (status, status)
    assert reply.headers["content-type"] == "application/problem+json"
    assert set(problem) >= {"type", "title", "status", "detail"}
    assert said in problem["detail"]
    assert problem["detail"].endswith(".")


@pytest.mark.parametrize(
    ("status", "method", "path"),
    [(404, "GET", "/nowhere"), (405, "DELETE", "/assemblies"), (405, "GET", "/diagnoses")],
)
def test_wrong_addresses(client, status, method, path):
    """So does an address or a method that does not exist."""
    reply = client.request(method, path)
    assert reply.status_code == reply.json()["status"] == status
    assert reply.headers["content-type"] == "application/problem+json"


def test_health(client, library):
    """The service says that it is ready and how much it holds."""
    assert client.get("/health").json() == {"status": "ready", "triples": len(library.graph)}


def test_description(client):
    """Every operation of the service is described, and every field of a diagnosis is in the schema."""
    described = client.get("/openapi.json").json()
    for path in ("/assemblies", "/assemblies/{assembly}", "/assemblies/{assembly}/network", "/symptoms", "/diagnoses"):
        for operation in described["paths"][path].values():
            assert operation["summary"].endswith("?")
            assert operation["responses"]["200"]["content"]["application/json"]["schema"]
    answer = client.post("/diagnoses", json={"assembly": "brannoch-40t"}).json()
    assert set(answer) <= set(described["components"]["schemas"]["DiagnosisAnswer"]["properties"])
