"""Tables: all of them for all demo assemblies, fault trees against faultree, where-used against rdflib as it grows.

The peers are treated well: faultree gets the trees ready made and is asked for the structure function only,
rdflib gets a parsed graph and a prepared query, and its rows are only counted.
"""

import resource
import tempfile
import time
from functools import partial
from pathlib import Path

import faultree
import rdflib
from rdflib.plugins.sparql import prepareQuery
from tests.bench.timing import timed
from tests.diagnosis.referee import structure

from clampgraph import paths
from clampgraph.answers.library import Library
from clampgraph.diagnosis.fault_tree import fault_tree
from clampgraph.tables import TABLES, Facts, Scope, build

__all__ = ["report"]

ASSEMBLIES, ITEMS_EACH, RDFLIB_SIZE = (1250, 2500, 5000), 4, 100
HEADS = """
@prefix cg: <https://w3id.org/clampgraph/ns#> . @prefix dcterms: <http://purl.org/dc/terms/> .
@prefix schema: <https://schema.org/> . @prefix skos: <http://www.w3.org/2004/02/skos/core#> .
@prefix g: <https://w3id.org/clampgraph/generated/> .
"""


def report():
    """Yield the lines of the report."""
    yield from _all_tables()
    yield from _fault_trees()
    yield from _where_used()


def _all_tables():
    library = Library.open()
    assert library.knowledge
    start, used = time.perf_counter(), _processor()
    facts = Facts(library)
    rows = sum(len(build(facts, name, Scope()).rows) for name in TABLES)
    wall, cpu = time.perf_counter() - start, _processor() - used
    names = f"{len(TABLES)} tables of {len(library.assemblies)} assemblies, {rows} rows, nothing kept from before"
    yield f"{names}: {wall:.2f} s (processor {cpu:.2f} s)"


def _processor():
    return resource.getrusage(resource.RUSAGE_SELF).ru_utime


def _fault_trees():
    library = Library.open()
    networks = [library.network(library.assembly(name)) for name in sorted(library.assemblies)]
    asked = [(network, node.id) for network in networks for node in network.of_kind("symptom")]
    ours = timed([partial(fault_tree, network, top, 2) for network, top in asked])
    trees = [structure(network, top) for network, top in asked]
    cuts = timed([partial(_faultree, tree) for tree in trees])
    yield f"{len(asked)} fault trees, cut sets to order 2, exact probabilities, importance"
    yield f"  here                       {ours}"
    yield f"  faultree, structure only   {cuts}"
    yield f"  times faster: median {cuts.median / ours.median:,.1f}, third quartile {cuts.high / ours.high:,.1f}"


def _faultree(tree):
    faultree.minimal_cut_sets(tree, max_order=2, max_candidates=10**6, max_sets=10**6, max_basic_events=10**4)
    return faultree.analyze(tree)["Q"]


def _where_used():
    seconds = {}
    for size in ASSEMBLIES:
        facts = Facts(_generated(size))
        start = time.perf_counter()
        rows = len(build(facts, "where-used", Scope()).rows)
        seconds[size] = time.perf_counter() - start
        yield f"where-used over {size} assemblies and {size * ITEMS_EACH} items: {rows} rows, {seconds[size]:.2f} s"
    first, last = ASSEMBLIES[0], ASSEMBLIES[-1]
    growth = seconds[last] / seconds[first]
    yield f"  {last / first:.0f} times the assemblies take {growth:.1f} times as long"
    yield from _against_rdflib()


def _against_rdflib():
    query = prepareQuery((paths.queries() / "tables" / "list-fitments.rq").read_text("utf-8"))
    graph = rdflib.Graph().parse(data=HEADS + _pack(RDFLIB_SIZE), format="turtle")
    facts = Facts(_generated(RDFLIB_SIZE))
    ours = timed([partial(build, facts, "where-used", Scope())] * 5)
    theirs = timed([lambda: len(list(graph.query(query)))] * 2)
    yield f"where-used over {RDFLIB_SIZE} assemblies, the whole table   {ours}"
    yield f"  rdflib, the rows of the query alone        {theirs}"
    yield f"  times faster: {theirs.median / ours.median:,.0f}"


def _generated(size):
    with tempfile.TemporaryDirectory() as folder:
        pack = Path(folder) / "generated.ttl"
        pack.write_text(HEADS + _pack(size), "utf-8")
        return Library.open([pack])


def _pack(size):
    """Return assemblies of four positions; each item is fitted in one of them, and every fourth in the next as well."""
    lines = []
    for a in range(size):
        lines.append(
            f'g:a{a} a cg:Assembly ; dcterms:identifier "a{a}" ; skos:prefLabel "unit {a}"@en ; cg:taper "40" ;'
            f' cg:actuator "tandem" . g:a{a}-g a cg:Generation ; cg:generationOf g:a{a} ; dcterms:identifier "gen-1" ;'
            ' cg:order 1 ; skos:prefLabel "only"@en .'
        )
        for p in range(ITEMS_EACH):
            mpn, other = f"I{a * ITEMS_EACH + p}", f"I{(a + 1) % size * ITEMS_EACH}"
            fitted = [mpn, other] if p == 0 else [mpn]
            lines.append(
                f'g:a{a}p{p} a cg:Position ; cg:positionOf g:a{a} ; dcterms:identifier "p{p}" ;'
                f' cg:designation "=P-{p}" . g:{mpn} a cg:Item ; schema:mpn "{mpn}" ; skos:prefLabel "item {mpn}"@en .'
            )
            lines += [f"g:a{a}p{p}-{m} a cg:Fitment ; cg:fitmentAt g:a{a}p{p} ; cg:item g:{m} ." for m in fitted]
    return "\n".join(lines)
