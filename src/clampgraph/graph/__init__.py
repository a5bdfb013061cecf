"""The graph room: everything that touches RDF, and the only place where RDF libraries are imported.

Packs are loaded into one Oxigraph store, or lie behind a SPARQL endpoint; questions are asked of it by name.
The answers leave this room as plain Python values: an IRI as a string, a literal as its value.
"""

from clampgraph.graph.named_queries import Row
from clampgraph.graph.opening import load
from clampgraph.graph.store import GraphStore

__all__ = ["GraphStore", "Row", "load"]
