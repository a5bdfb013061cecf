"""Check a graph against the SHACL shapes of `ontology/shapes.ttl`, offline and on a fresh copy of them."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from pyoxigraph import BlankNode, Literal, NamedNode, Quad, RdfFormat, parse

from clampgraph import paths

if TYPE_CHECKING:
    from rdflib import Graph
    from rdflib.term import Node

__all__ = ["Violation", "violations"]

_SHACL = "http://www.w3.org/ns/shacl#"


@dataclass(frozen=True, slots=True)
class Violation:
    """One result of SHACL: the node it is about, what its author should write, and an example."""

    focus: NamedNode | BlankNode
    message: str
    hint: str
    severity: str


def violations(quads: Iterable[Quad]) -> list[Violation]:
    """Validate statements against the shapes; graph names are ignored.

    Nothing is fetched: both graphs are handed over as terms, and imports are off.
    pySHACL changes a shapes graph it is given, so every call reads its own.
    """
    import pyshacl  # noqa: PLC0415  # slow to import, and only authors of packs need it
    from rdflib import URIRef  # noqa: PLC0415

    shapes = _graph(parse(path=str(paths.ontology() / "shapes.ttl"), format=RdfFormat.TURTLE))
    _, report, _ = pyshacl.validate(
        _graph(quads), shacl_graph=shapes, inference="none", inplace=True, do_owl_imports=False, allow_warnings=True
    )

    def sh(name: str) -> URIRef:
        return URIRef(_SHACL + name)

    found = []
    for result in report.objects(None, sh("result")):
        source = report.value(result, sh("sourceShape"))
        severity = "warning" if report.value(result, sh("resultSeverity")) == sh("Warning") else "error"
        found.append(
            Violation(
                _back(report.value(result, sh("focusNode"))),
                str(report.value(result, sh("resultMessage"))),
                _hint(report.value(result, sh("value")), shapes.value(source, sh("description"))),
                severity,
            )
        )
    return found


def _hint(value: "Node | None", example: "Node | None") -> str:
    from rdflib import Literal as Text  # noqa: PLC0415

    said = [f"It says {value}."] if isinstance(value, Text) else []
    return " ".join([*said, *([f"Write for example: {example} ."] if example is not None else [])])


def _graph(quads: Iterable[Quad]) -> "Graph":
    from rdflib import Graph  # noqa: PLC0415

    graph = Graph()
    for quad in quads:
        graph.add((_forth(quad.subject), _forth(quad.predicate), _forth(quad.object)))
    return graph


def _forth(term: object) -> "Node":
    from rdflib import BNode, URIRef  # noqa: PLC0415
    from rdflib import Literal as Text  # noqa: PLC0415

    if isinstance(term, NamedNode):
        return URIRef(term.value)
    if isinstance(term, BlankNode):
        return BNode(term.value)
    if not isinstance(term, Literal):
        raise TypeError(f"{term} is no term of RDF 1.1")
    if term.language:
        return Text(term.value, lang=term.language)
    return Text(term.value, datatype=URIRef(term.datatype.value), normalize=False)


def _back(node: "Node | None") -> NamedNode | BlankNode:
    from rdflib import URIRef  # noqa: PLC0415

    return NamedNode(str(node)) if isinstance(node, URIRef) else BlankNode(str(node))
