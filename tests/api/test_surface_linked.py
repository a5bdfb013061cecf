"""Linked data: the same body with a context, which says nothing that the graph does not say."""

import json

import pytest
from fastapi.testclient import TestClient
from rdflib import RDF, Graph, URIRef
from rdflib.namespace import DCTERMS, SKOS

from clampgraph.answers.query import raw
from clampgraph.api.app import create_app
from clampgraph.api.linked import CONTEXTS, LINKED

# rdflib's own reader of JSON-LD uses a class that rdflib deprecates.
pytestmark = pytest.mark.filterwarnings("ignore:ConjunctiveGraph is deprecated:DeprecationWarning")

UNIT = "brannoch-40t"
CG = "https://w3id.org/clampgraph/ns#"
ASKED = {
    "assemblies": ("GET", "/assemblies", {}, 20),
    "show": ("GET", f"/assemblies/{UNIT}", {"generation": "gen-1"}, 200),
    "symptoms": ("GET", "/symptoms", {}, 80),
    "diagnoses": ("POST", "/diagnoses", {"assembly": UNIT, "seen": ["slow-return"]}, 40),
    "identifications": ("POST", "/identifications", {"features": {"taper": "BT40"}}, 2),
    "fits": ("GET", "/fits", {"assembly": UNIT, "position": "push-bolt"}, 2),
    "replacements": ("POST", "/replacements", {"assembly": UNIT, "positions": ["rod"]}, 0),
}


@pytest.fixture(scope="module")
def client(library):
    with TestClient(create_app(library)) as found:
        yield found


@pytest.fixture(scope="module")
def known(library):
    """Return every statement that is loaded."""
    graph = Graph()
    graph.parse(data=raw(library, "CONSTRUCT { ?s ?p ?o } { ?s ?p ?o }", "ntriples").body, format="nt")
    library.graph.sandbox.close()
    return graph


@pytest.fixture
def offline(monkeypatch):
    """Let nothing be fetched."""

    def refuse(*_, **__):
        raise AssertionError("something was fetched")

    monkeypatch.setattr("socket.socket.connect", refuse)
    monkeypatch.setattr("rdflib.parser.URLInputSource", refuse)


def ask(client, name, accept):
    method, path, given, _ = ASKED[name]
    sent = {"params": given} if method == "GET" else {"json": given}
    return client.request(method, path, headers={"accept": accept}, **sent)


@pytest.mark.parametrize("name", ASKED)
def test_linked_data_says_what_the_graph_says(name, client, known, offline):
    """Expanded without any network, every statement is one that is loaded, and there are as many as one expects."""
    del offline
    told = Graph().parse(data=ask(client, name, LINKED).text, format="json-ld")
    strange = [triple for triple in told if triple not in known]
    assert strange == []
    assert len(told) >= ASKED[name][3]


@pytest.mark.parametrize("name", ASKED)
def test_the_body_is_the_same(name, client):
    """Apart from its context, the body is that of JSON, byte for byte."""
    plain, linked = ask(client, name, "application/json"), ask(client, name, LINKED)
    assert (plain.headers["content-type"], linked.headers["content-type"]) == ("application/json", LINKED)
    context = json.dumps(linked.json()["@context"], separators=(",", ":"))
    assert linked.text == f'{{"@context":{context},{plain.text[1:]}'
    assert "http" not in json.dumps([v for v in linked.json()["@context"].values() if isinstance(v, list)])
    assert "accept" in linked.headers["vary"].lower()
    assert linked.headers.get("etag", "linked") != plain.headers.get("etag", "plain")


def test_topology_comes_through(client, offline):
    """What a position is, where it belongs and when it is driven can be asked of the expanded answer."""
    del offline
    told = Graph().parse(data=ask(client, "show", LINKED).text, format="json-ld")
    base = f"https://w3id.org/clampgraph/demo/{UNIT}/"
    valve, unit = URIRef(f"{base}main-valve"), URIRef(base + UNIT)
    assert (valve, URIRef(f"{CG}positionOf"), unit) in told
    assert (valve, URIRef(f"{CG}ofType"), URIRef("https://w3id.org/clampgraph/knowledge#main-valve")) in told
    assert (valve, URIRef(f"{CG}actuatedIn"), URIRef("https://w3id.org/clampgraph/phase#release")) in told
    assert told.value(unit, DCTERMS.identifier).toPython() == UNIT
    assert told.value(URIRef(f"{base}gen-1"), SKOS.prefLabel).language == "en"
    assert told.value(unit, RDF.type) is None


def test_every_word_is_defined():
    """Each term of our own that a context maps to stands in the ontology."""
    ontology = Graph().parse("ontology/terms.ttl")

    def words(value):
        if isinstance(value, dict):
            return [word for entry in value.values() for word in words(entry)]
        return [value] if isinstance(value, str) and value.startswith("cg:") else []

    found = {word for context in CONTEXTS.values() for word in words(context)}
    assert len(found) > 12
    assert [w for w in found if (URIRef(CG + w.removeprefix("cg:")), None, None) not in ontology] == []


@pytest.mark.parametrize(
    ("accept", "media"),
    [
        ("application/ld+json", LINKED),
        ("application/json;q=0.5, application/ld+json", LINKED),
        ("application/ld+json;q=0.5, application/json", "application/json"),
        ("application/ld+json;q=0, */*", "application/json"),
        ("*/*", "application/json"),
        ("", "application/json"),
    ],
)
def test_the_caller_chooses(accept, media, client):
    """Only who likes linked data better gets it."""
    assert client.get("/assemblies", headers={"accept": accept}).headers["content-type"] == media


def test_foreign_labels_are_not_called_english(client, offline):
    """In another language the labels stay plain JSON: the context would call them English."""
    del offline
    method, path, given, _ = ASKED["diagnoses"]
    reply = client.request(method, path, json=given, headers={"accept": LINKED, "accept-language": "de"})
    assert reply.status_code == 200
    told = Graph().parse(data=reply.text, format="json-ld")
    assert list(told.subject_objects(SKOS.prefLabel)) == []
    assert len(told) > 20
