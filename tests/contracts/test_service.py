"""The service describes itself in full: every route, with an example that works and the problems it may have."""

import re
from pathlib import Path

import pytest
from fastapi.testclient import TestClient
from jsonschema import Draft202012Validator

from clampgraph.api import examples
from clampgraph.api.describing import TAGS
from clampgraph.api.examples import EXAMPLES, cut
from clampgraph.api.linked import CONTEXTS, LINKED

README = (Path(__file__).resolve().parents[2] / "README.md").read_text("utf-8")
NAMES = {example.name: example for example in EXAMPLES}
METHODS = {"get", "put", "post", "patch", "delete"}


@pytest.fixture(scope="module")
def client(tmp_path_factory):
    """Return a client of a service that may do all."""
    app, token = examples.service(tmp_path_factory.mktemp("service"))
    with TestClient(app, headers={"authorization": f"Bearer {token}"}) as found:
        yield found


@pytest.fixture(scope="module")
def described(client):
    return client.get("/openapi.json").json()


@pytest.fixture(scope="module")
def operations(described):
    """Return every operation by method and route."""
    return {
        f"{method.upper()} {route}": operation
        for route, found in described["paths"].items()
        for method, operation in found.items()
        if method in METHODS
    }


def fine(operation):
    """Return status and description of success."""
    return next((int(status), told) for status, told in operation["responses"].items() if status.startswith("2"))


def check(described, schema, value):
    """Validate a value against a schema of the description."""
    Draft202012Validator({**schema, "components": described["components"]}).validate(value)


def test_there_is_one_list_of_routes(described):
    """Paths stand once, without a version; the version stands in the server's address."""
    assert described["servers"] == [{"url": "/v1"}]
    assert not [path for path in described["paths"] if re.match(r"/v\d", path)]


def test_every_route_says_what_it_is_for(operations):
    """Each has a summary, a description and a task of the trade."""
    assert [name for name, told in operations.items() if not (told.get("summary") and told.get("description"))] == []
    assert [name for name, told in operations.items() if not set(told["tags"]) <= set(TAGS)] == []
    used = {tag for told in operations.values() for tag in told["tags"]}
    assert used == set(TAGS)


def test_every_route_is_in_the_readme(operations):
    """A route that the README does not show is a route nobody finds."""
    paths = {re.sub(r"\{\w+\}", "{id}", name.split()[1]) for name in operations}
    assert [path for path in sorted(paths) if f"{path}`" not in README and f"{path}?" not in README] == []


def test_every_route_has_an_example(operations):
    """Each has a request that works and what came back; there is no example of a route that is gone."""
    assert sorted(NAMES) == sorted(operations)
    for name, operation in operations.items():
        content = fine(operation)[1]["content"]
        assert any("example" in form for form in content.values()), name
        if "requestBody" in operation:
            assert any("example" in form for form in operation["requestBody"]["content"].values()), name


def test_every_route_names_its_problems(operations, described):
    """Each has the problem document for its errors, with an example that is one."""
    for name, operation in operations.items():
        problems = {status: told for status, told in operation["responses"].items() if status[0] != "2"}
        assert {"404", "422", "500", "503", "default"} <= set(problems), name
        assert ("415" in problems) == ("requestBody" in operation), name
        for status, told in problems.items():
            form = told["content"]["application/problem+json"]
            assert form["schema"] == {"$ref": "#/components/schemas/ProblemOut"}, name
            if status != "default":
                check(described, form["schema"], form["example"])
                assert form["example"]["status"] == int(status)
                assert form["example"]["type"].startswith("https://w3id.org/clampgraph/problems#")


@pytest.mark.parametrize("example", EXAMPLES, ids=list(NAMES))
def test_every_example_works(example, client, operations, described):
    """A request from the description succeeds, and what comes back and what is shown both have the shape told."""
    operation = operations[example.name]
    status, told = fine(operation)
    if "requestBody" in operation:
        form = operation["requestBody"]["content"][example.media]
        assert form["example"] == example.body
        check(described, form.get("schema", {}), example.body)
    reply = client.request(example.method, example.url, **example.sent())
    assert reply.status_code == status, reply.text
    media = reply.headers["content-type"].partition(";")[0]
    form = told["content"][media]
    value = reply.json() if "json" in media else reply.text
    check(described, form["schema"], value)
    check(described, form["schema"], form["example"])
    assert shape(form["example"]) == shape(cut(value)), "write them anew: python -m clampgraph.api.examples"


def shape(value):
    """Return the fields of a value, without figures and texts, which change with the data."""
    if isinstance(value, dict):
        return {key: shape(entry) for key, entry in value.items()}
    return shape(value[0]) if isinstance(value, list) and value else None


def test_linked_data_is_offered_where_it_is_given(client, operations):
    """The routes whose answers have a context say so."""
    offered = {name for name, told in operations.items() if LINKED in fine(told)[1]["content"] and "{" not in name}
    assert {"GET /assemblies", "GET /symptoms", "POST /diagnoses", "GET /fits", "POST /replacements"} <= offered
    for name in offered - {"GET /sparql", "POST /sparql"}:
        sent = NAMES[name].sent()
        headers = {**sent.pop("headers", {}), "accept": LINKED}
        assert client.request(*name.split(), headers=headers, **sent).headers["content-type"] == LINKED, name
    assert len(CONTEXTS) == len([n for n, told in operations.items() if LINKED in fine(told)[1]["content"]]) - 3
