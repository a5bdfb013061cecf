"""The SPARQL 1.1 Protocol as two independent clients see it, and what no query can reach.

Clauses are those of SPARQL 1.1 Protocol, W3C Recommendation 21 March 2013.
"""

import csv
import io
import json
import subprocess
from xml.etree import ElementTree as ET

import httpx
import pytest
import rdflib
import rdflib.compare
from SPARQLWrapper import CSV, JSON, JSONLD, POST, POSTDIRECTLY, TSV, TURTLE, URLENCODED, XML, SPARQLWrapper
from SPARQLWrapper.SPARQLExceptions import QueryBadFormed
from tests.api.service import running
from tests.graph.endpoints import listening

from machine import program

CG = "https://w3id.org/clampgraph/ns#"
UNITS = {"brannoch-30s", "brannoch-40t", "ulvedal-40c", "ulvedal-50b", "ulvedal-63h"}
SELECT = f"SELECT ?id {{ ?a a <{CG}Assembly> ; <http://purl.org/dc/terms/identifier> ?id }} ORDER BY ?id"
GRAPH = f"CONSTRUCT {{ ?a a <{CG}Assembly> }} WHERE {{ ?a a <{CG}Assembly> }}"
ASK = f"ASK {{ ?a a <{CG}Assembly> }}"


@pytest.fixture(scope="module")
def url(tmp_path_factory):
    """Run the service; return the address of its endpoint."""
    with running(tmp_path_factory.mktemp("sparql")) as service:
        yield f"{service.url}/sparql"


def asked(url, query, form=JSON, method="GET", request=URLENCODED):
    client = SPARQLWrapper(url)
    client.setQuery(query)
    client.setMethod(method)
    client.setRequestMethod(request)
    client.setReturnFormat(form)
    return client.query().convert()


@pytest.mark.parametrize(
    ("method", "request_method"),
    [("GET", URLENCODED), (POST, URLENCODED), (POST, POSTDIRECTLY)],
    ids=["2.1.1 query via GET", "2.1.2 query via POST with a form", "2.1.3 query via POST directly"],
)
def test_the_three_operations_of_the_protocol(url, method, request_method):
    """Each gives the same rows."""
    found = asked(url, SELECT, JSON, method, request_method)
    assert {row["id"]["value"] for row in found["results"]["bindings"]} == UNITS


def test_a_table_in_every_form_of_results(url):
    """XML, CSV and TSV results hold what the JSON results hold (2.2.1: content negotiation)."""
    xml = asked(url, SELECT, XML).toprettyxml()
    space = "{http://www.w3.org/2005/sparql-results#}"
    assert {e.text for e in ET.fromstring(xml).iter(f"{space}literal")} == UNITS  # noqa: S314  # ours
    heads, *rows = csv.reader(io.StringIO(asked(url, SELECT, CSV).decode()))
    assert (heads, {row[0] for row in rows}) == (["id"], UNITS)
    first, *lines = asked(url, SELECT, TSV).decode().splitlines()
    assert (first, {line.strip('"') for line in lines}) == ("?id", UNITS)


def test_yes_and_no(url):
    """ASK in JSON and XML."""
    assert asked(url, ASK)["boolean"] is True
    assert asked(url, "ASK { <urn:nothing> ?p ?o }")["boolean"] is False
    assert "<boolean>true</boolean>" in asked(url, ASK, XML).toxml()


@pytest.mark.filterwarnings("ignore:ConjunctiveGraph is deprecated:DeprecationWarning")  # rdflib reads JSON-LD so
@pytest.mark.parametrize(
    "query", [GRAPH, f"DESCRIBE ?a WHERE {{ ?a a <{CG}Assembly> }}"], ids=["CONSTRUCT", "DESCRIBE"]
)
def test_a_graph_in_every_form(url, query):
    """Turtle, N-Triples and JSON-LD are read by another library into the same triples."""
    turtle = rdflib.Graph().parse(data=asked(url, query, TURTLE), format="turtle")
    client = SPARQLWrapper(url)
    client.setQuery(query)
    client.setReturnFormat(JSONLD)
    linked = rdflib.Graph().parse(data=client.query().response.read(), format="json-ld")
    reply = httpx.get(url, params={"query": query}, headers={"accept": "application/n-triples"})
    lines = rdflib.Graph().parse(data=reply.text, format="nt")
    assert len(set(turtle.subjects(rdflib.RDF.type, rdflib.URIRef(f"{CG}Assembly")))) == len(UNITS)
    assert len(turtle) == len(linked) == len(lines)
    assert rdflib.compare.isomorphic(turtle, linked)
    assert rdflib.compare.isomorphic(turtle, lines)


def test_a_broken_query_is_the_callers_fault(url):
    """Status 400 for a malformed query (2.1.6)."""
    with pytest.raises(QueryBadFormed):
        asked(url, "SELECT * {")


def curl(*words):
    told = subprocess.run([program("curl"), "-s", "-w", "\n%{http_code}", *words], capture_output=True, check=True)
    body, _, status = told.stdout.decode().rpartition("\n")
    return int(status), body


def test_the_same_with_curl(url):
    """A query in the address, as a form, and as a body of its own type."""
    get = curl("-G", url, "--data-urlencode", f"query={SELECT}", "-H", "accept: text/csv")
    form = curl(url, "--data-urlencode", f"query={SELECT}", "-H", "accept: text/csv")
    body = curl(url, "--data-binary", SELECT, "-H", "content-type: application/sparql-query", "-H", "accept: text/csv")
    assert get == form == body
    assert get[0] == 200
    assert set(get[1].split()[1:]) == UNITS


@pytest.mark.parametrize(
    "words",
    [
        ["--data-binary", "DELETE WHERE { ?s ?p ?o }", "-H", "content-type: application/sparql-update"],
        ["--data-urlencode", "update=DELETE WHERE { ?s ?p ?o }"],
        ["--data-urlencode", "query=DELETE WHERE { ?s ?p ?o }"],
        ["--data-urlencode", "query=LOAD <http://127.0.0.1:1/x>"],
        ["--data-urlencode", "query=CLEAR ALL"],
        ["-G", "--data-urlencode", f"query={SELECT}", "--data-urlencode", "default-graph-uri=http://127.0.0.1:1/x"],
        ["-G", "--data-urlencode", f"query={SELECT}", "--data-urlencode", "named-graph-uri=file:///etc/hostname"],
    ],
)
def test_what_is_not_reading_is_refused_and_changes_nothing(url, words):
    """A problem document with one sentence; the graph answers as before."""
    status, body = curl(url, *words)
    assert 400 <= status < 500
    assert json.loads(body)["detail"].endswith(".")
    assert asked(url, ASK)["boolean"] is True


def test_no_query_and_no_pack_calls_out(url, tmp_path):
    """SERVICE, LOAD, FROM, graphs by address, remote contexts, entities and imports: a listener hears nothing."""
    base = url.removesuffix("/sparql")
    with listening() as (place, heard):
        for query in (
            f"SELECT * {{ SERVICE <{place}/q> {{ ?s ?p ?o }} }}",
            f"SELECT * {{ SERVICE SILENT <{place}/q> {{ ?s ?p ?o }} }}",
            f"SELECT * {{ BIND(<{place}/q> AS ?x) SERVICE ?x {{ ?s ?p ?o }} }}",
            f"LOAD <{place}/data.ttl>",
            f"LOAD SILENT <{place}/data.ttl>",
            f"SELECT * FROM <{place}/data.ttl> {{ ?s ?p ?o }}",  # noqa: S608  # SPARQL, and that is the point
            f"SELECT * FROM NAMED <{place}/data.ttl> {{ GRAPH ?g {{ ?s ?p ?o }} }}",  # noqa: S608  # as above
            "CONSTRUCT { ?s ?p ?o } FROM <file:///etc/hostname> WHERE { ?s ?p ?o }",
            f"SELECT * {{ GRAPH <{place}/data.ttl> {{ ?s ?p ?o }} }}",
            f"DESCRIBE <{place}/thing>",
        ):
            httpx.post(url, data={"query": query})
            httpx.get(url, params={"query": query, "default-graph-uri": f"{place}/data.ttl"})
        context = json.dumps(
            {"@context": f"{place}/context.jsonld", "assembly": "brannoch-40t", "seen": ["slow-return"]}
        )
        httpx.post(f"{base}/diagnoses", content=context, headers={"content-type": "application/ld+json"})
        httpx.post(f"{base}/diagnoses", content=context, headers={"content-type": "application/json"})
        entity = f'<?xml version="1.0"?><!DOCTYPE r [<!ENTITY x SYSTEM "{place}/e">]><r>&x;</r>'
        httpx.post(f"{base}/packs", content=entity, headers={"content-type": "application/rdf+xml"})
        pack = tmp_path / "imports.ttl"
        pack.write_text(
            "<urn:pack> a <http://www.w3.org/2002/07/owl#Ontology> ; "
            f"<http://www.w3.org/2002/07/owl#imports> <{place}/more.ttl> , <file:///etc/hostname> .",
            "utf-8",
        )
        (tmp_path / "log").mkdir()
        with running(tmp_path / "log", "--data", str(pack)) as service:
            assert httpx.get(f"{service.url}/health").is_success
            assert httpx.get(f"{service.url}/assemblies").is_success
    assert heard == []
