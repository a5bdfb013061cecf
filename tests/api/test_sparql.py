"""Named queries and the SPARQL 1.1 Protocol over HTTP."""

import csv
import io

import pytest
from fastapi.testclient import TestClient

from clampgraph.answers.library import Library
from clampgraph.api.app import create_app

ASK = "ASK { ?s ?p ?o }"


@pytest.fixture(scope="module")
def client():
    library = Library.open()
    with TestClient(create_app(library)) as found:
        yield found
    library.graph.sandbox.close()


def test_every_named_query_is_listed_with_its_question(client: TestClient) -> None:
    """The list names each query once, with what it asks."""
    found = client.get("/queries").json()["queries"]
    assert "assembly/list-positions" in {q["name"] for q in found}
    assert all(q["question"].endswith("?") for q in found)


def test_a_named_query_binds_its_parameters(client: TestClient) -> None:
    """Parameters become values, and CSV follows RFC 4180."""
    text = client.get("/queries/assembly/list-generations", params={"assembly": "brannoch-40t", "format": "csv"}).text
    assert [row["generation"] for row in csv.DictReader(io.StringIO(text))] == ["gen-1", "gen-2"]


def test_a_bound_value_is_never_read_as_query_text(client: TestClient) -> None:
    """Quotes and braces in a value find nothing and break nothing."""
    reply = client.get("/queries/assembly/list-generations", params={"assembly": '" } UNION { ?s ?p ?o'})
    assert reply.json()["results"]["bindings"] == []


@pytest.mark.parametrize(
    ("path", "status", "said"),
    [
        ("/queries/assembly/list-generations", 422, "needs a value for 'assembly'"),
        ("/queries/assembly/list-generation?assembly=x", 404, "nearest: assembly/list-generations"),
        ("/queries/assembly/list-generations?assembly=x&colour=red", 404, "There is no binding 'colour'"),
        ("/sparql", 400, "exactly one as 'query'"),
    ],
)
def test_a_wrong_call_gets_one_sentence(path: str, status: int, said: str, client: TestClient) -> None:
    """Missing, unknown and misspelt parts are named."""
    reply = client.get(path)
    assert (reply.status_code, reply.headers["content-type"]) == (status, "application/problem+json")
    assert said in reply.json()["detail"]


@pytest.mark.parametrize(
    ("accept", "media"),
    [
        ("application/sparql-results+json", "application/sparql-results+json"),
        ("application/sparql-results+xml", "application/sparql-results+xml"),
        ("text/csv", "text/csv"),
        ("*/*", "application/sparql-results+json"),
    ],
)
def test_the_three_ways_to_ask_agree(accept: str, media: str, client: TestClient) -> None:
    """GET, a form, and a direct POST give the same document in the accepted format."""
    text, head = "SELECT (COUNT(*) AS ?n) { ?s ?p ?o }", {"accept": accept}
    direct = {**head, "content-type": "application/sparql-query"}
    replies = [
        client.get("/sparql", params={"query": text}, headers=head),
        client.post("/sparql", data={"query": text}, headers=head),
        client.post("/sparql", content=text, headers=direct),
    ]
    assert {r.content for r in replies} == {replies[0].content}
    assert {r.headers["content-type"].split(";")[0] for r in replies} == {media}


@pytest.mark.parametrize(
    ("status", "kind", "body", "said"),
    [
        (415, "application/sparql-update", "INSERT DATA { <urn:a> <urn:b> <urn:c> }", "application/sparql-query"),
        (400, "application/sparql-query", "INSERT DATA { <urn:a> <urn:b> <urn:c> }", "Updates are refused"),
        (400, "application/sparql-query", "  ", "is empty"),
    ],
)
def test_what_is_not_a_query_is_refused(status: int, kind: str, body: str, said: str, client: TestClient) -> None:
    """Updates and empty bodies come back as problems, with the statuses of the protocol."""
    reply = client.post("/sparql", content=body, headers={"content-type": kind})
    assert reply.status_code == status
    assert said in reply.json()["detail"]
