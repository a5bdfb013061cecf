"""Upstream trace and where-used: what is read from compiled structures here, asked in SPARQL elsewhere.

The peers are treated well: they get the derived influence graph ready made, one triple an influence, the query is
prepared where the engine can prepare it, and their rows are only counted.
What limits ours: a walk over tuples in Python; for where-used, making the cells of a table from rows kept since load.
"""

from functools import partial

import rdflib
from pyoxigraph import NamedNode, Quad, Store
from rdflib.plugins.sparql import prepareQuery
from tests.bench.timing import timed

from clampgraph import paths
from clampgraph.answers.library import Library
from clampgraph.diagnosis.relevance import causes_of
from clampgraph.tables import Facts, Scope, build

__all__ = ["report"]

BASE = "urn:node:"
LEADS, KIND, MODE = NamedNode("urn:leads-to"), NamedNode("urn:kind"), NamedNode("urn:failure-mode")
TRACE = "SELECT DISTINCT ?mode { ?mode <urn:leads-to>+ ?top . ?mode <urn:kind> <urn:failure-mode> }"
ROUNDS, NO_SLOWER, RDFLIB = 5, 1, 50


def report():
    """Yield the lines of the report."""
    library = Library.open()
    yield from _traces(library)
    yield from _where_used(library)


def _traces(library):
    networks = {name: library.network(library.assembly(name)) for name in library.assemblies}
    network = max(networks.values(), key=lambda network: len(list(network)))
    tops = [node.id for node in network.of_kind("symptom")]
    modes = {node.id for node in network.of_kind("failure-mode")}
    store, graph = _as_triples(network)
    prepared = prepareQuery(TRACE)
    ways = {
        "here": lambda top: len(causes_of(network, {top}) & modes),
        "Oxigraph": lambda top: sum(1 for _ in store.query(TRACE.replace("?top", f"<{BASE}{top}>"))),
        "rdflib": lambda top: len(graph.query(prepared, initBindings={"top": rdflib.URIRef(BASE + top)})),
    }
    counts = {name: [way(top) for top in tops] for name, way in ways.items()}
    assert counts["here"] == counts["Oxigraph"] == counts["rdflib"]
    yield f"failure modes upstream of each of {len(tops)} symptoms, {len(list(network))} nodes, {len(store)} triples"
    yield from _told({name: [partial(way, top) for top in tops] for name, way in ways.items()})


def _as_triples(network):
    store, graph = Store(), rdflib.Graph()
    for node in network:
        for link in node.links:
            store.add(Quad(NamedNode(BASE + link.parent), LEADS, NamedNode(BASE + node.id)))
        if node.kind == "failure-mode":
            store.add(Quad(NamedNode(BASE + node.id), KIND, MODE))
    for quad in store:
        graph.add(tuple(rdflib.URIRef(term.value) for term in quad.triple))
    return store, graph


def _where_used(library):
    text = (paths.queries() / "tables" / "list-fitments.rq").read_text("utf-8")
    graph, prepared, store = rdflib.Graph(), prepareQuery(text), Library.open().graph.store
    for file in sorted(paths.data().rglob("*.ttl")):
        graph.parse(file)
    facts = Facts(library)
    ways = {
        "here": lambda: len(build(facts, "where-used", Scope()).rows),
        "Oxigraph": lambda: sum(1 for _ in store.query(text)),
        "rdflib": lambda: len(graph.query(prepared)),
    }
    yield f"where-used, all {ways['here']()} fitments of {len(library.assemblies)} assemblies"
    yield from _told({name: [way] * 4 for name, way in ways.items()})


def _told(jobs):
    for calls in jobs.values():
        calls[0]()
    times = {name: timed(calls * (2 if name == "rdflib" else ROUNDS)) for name, calls in jobs.items()}
    for name, time in times.items():
        yield f"  {name:9} {time}"
    ours = times["here"].median
    against = ((name, time.median / ours) for name, time in times.items() if name != "here")
    asked = {"Oxigraph": NO_SLOWER, "rdflib": RDFLIB}
    yield "  times faster: " + "; ".join(f"{name} {ratio:,.1f} (asked: {asked[name]})" for name, ratio in against)
