"""Statements as plain values: read out of a store, and written as Turtle that people can read and change.

A blank node that is nothing but a number with its unit becomes an `Amount`; packs hold no other blank nodes.
"""

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from pyoxigraph import BlankNode, Literal, NamedNode

from clampgraph.errors import DataError

if TYPE_CHECKING:
    from clampgraph.graph.store import GraphStore

__all__ = [
    "PREFIXES",
    "TYPE",
    "Amount",
    "Iri",
    "Section",
    "Statement",
    "Term",
    "Text",
    "expand",
    "statements",
    "told",
    "turtle",
]

PREFIXES = {
    "cg": "https://w3id.org/clampgraph/ns#",
    "k": "https://w3id.org/clampgraph/knowledge#",
    "ph": "https://w3id.org/clampgraph/phase#",
    "q": "https://w3id.org/clampgraph/quantity#",
    "gw": "https://w3id.org/clampgraph/guideword#",
    "md": "https://w3id.org/clampgraph/medium#",
    "s": "https://w3id.org/clampgraph/source#",
    "f": "https://w3id.org/clampgraph/identification#",
    "dcterms": "http://purl.org/dc/terms/",
    "owl": "http://www.w3.org/2002/07/owl#",
    "prov": "http://www.w3.org/ns/prov#",
    "qudt": "http://qudt.org/schema/qudt/",
    "rdf": "http://www.w3.org/1999/02/22-rdf-syntax-ns#",
    "rdfs": "http://www.w3.org/2000/01/rdf-schema#",
    "schema": "https://schema.org/",
    "skos": "http://www.w3.org/2004/02/skos/core#",
    "unit": "http://qudt.org/vocab/unit/",
    "xsd": "http://www.w3.org/2001/XMLSchema#",
}
"""Prefixes that packs share."""

TYPE = PREFIXES["rdf"] + "type"
_NUMBER, _UNIT = PREFIXES["qudt"] + "numericValue", PREFIXES["qudt"] + "hasUnit"
_LOCAL = re.compile(r"[A-Za-z0-9_](?:[A-Za-z0-9_.-]*[A-Za-z0-9_-])?", re.ASCII)
_BARE = {
    PREFIXES["xsd"] + "integer": re.compile(r"[+-]?[0-9]+"),
    PREFIXES["xsd"] + "decimal": re.compile(r"[+-]?[0-9]*\.[0-9]+"),
    PREFIXES["xsd"] + "double": re.compile(r"[+-]?(?:[0-9]+\.[0-9]*|\.?[0-9]+)[eE][+-]?[0-9]+"),
    PREFIXES["xsd"] + "boolean": re.compile(r"true|false"),
}
_ESCAPES = str.maketrans({"\\": "\\\\", '"': '\\"', "\n": "\\n", "\r": "\\r", "\t": "\\t"})


@dataclass(frozen=True, slots=True, order=True)
class Iri:
    """A node with a name of its own."""

    text: str


@dataclass(frozen=True, slots=True, order=True)
class Text:
    """A literal: its text, and its datatype or its language."""

    text: str
    datatype: str = PREFIXES["xsd"] + "string"
    language: str = ""


@dataclass(frozen=True, slots=True, order=True)
class Amount:
    """A number, as it is written, with the IRI of its unit."""

    number: Text
    unit: str


Term = Iri | Text | Amount


@dataclass(frozen=True, slots=True)
class Statement:
    """Subject, predicate and what is said."""

    subject: str
    predicate: str
    value: Term


@dataclass(frozen=True, slots=True)
class Section:
    """Statements under a comment."""

    comment: str
    statements: Sequence[Statement]


def statements(graph: "GraphStore") -> list[Statement]:
    """Return everything a store says of nodes that have a name.

    Raises
    ------
    DataError
        If a blank node holds anything but a number with its unit.
    """
    named, inner = [], dict[str, dict[str, NamedNode | Literal]]()
    for quad in graph.store:
        if isinstance(quad.subject, BlankNode):
            inner.setdefault(quad.subject.value, {})[quad.predicate.value] = quad.object
        else:
            named.append(quad)
    return [Statement(q.subject.value, q.predicate.value, _term(q.object, inner)) for q in named]


def _term(node: NamedNode | BlankNode | Literal, inner: Mapping[str, Mapping[str, NamedNode | Literal]]) -> Term:
    if isinstance(node, NamedNode):
        return Iri(node.value)
    if isinstance(node, Literal):
        return Text(_lexical(node), "" if node.language else node.datatype.value, node.language or "")
    held = inner.get(node.value, {})
    if set(held) != {_NUMBER, _UNIT} or not isinstance(number := held[_NUMBER], Literal):
        raise DataError(f"A blank node holds {', '.join(sorted(held)) or 'nothing'}; only a number with its unit may.")
    return Amount(Text(_lexical(number), number.datatype.value), held[_UNIT].value)


def _lexical(literal: Literal) -> str:
    """Return the text of a literal; the store writes the decimal 3.0 as 3, which would read back as a whole number."""
    whole = literal.datatype.value == PREFIXES["xsd"] + "decimal" and "." not in literal.value
    return f"{literal.value}.0" if whole else literal.value


def expand(text: str, prefixes: Mapping[str, str]) -> str | None:
    """Return the IRI that a prefixed name or an IRI in angle brackets stands for; None if it is neither."""
    if text.startswith("<") and text.endswith(">") and not re.search(r'[\x00-\x20<>"{}|^`\\]', text[1:-1]):
        return text[1:-1]
    prefix, colon, local = text.partition(":")
    return prefixes[prefix] + local if colon and prefix in prefixes and _LOCAL.fullmatch(local) else None


def told(term: Term) -> str:
    """Write one term by the shared prefixes; an amount as its number and its unit.

    Examples
    --------
    >>> told(Iri("https://w3id.org/clampgraph/knowledge#rod")), told(Text("Stange", "", "de"))
    ('k:rod', '"Stange"@de')
    """
    known = sorted(PREFIXES.items(), key=lambda pair: -len(pair[1]))
    if isinstance(term, Amount):
        return f"{_written(term.number, known)} {_iri(term.unit, known)}"
    return _written(term, known)


def turtle(sections: Iterable[Section], heading: str, prefixes: Mapping[str, str]) -> str:
    """Write statements as Turtle, one subject after the other, in the order given.

    Parameters
    ----------
    sections
        Each becomes a comment and its statements.
    heading
        The first comment of the file.
    prefixes
        Further prefixes beside the shared ones; only those in use are written.
    """
    known = sorted((PREFIXES | dict(prefixes)).items(), key=lambda pair: -len(pair[1]))
    body = [text for section in sections if section.statements for text in _section(section, known)]
    whole = "\n".join(body)
    used = [p for p in sorted(known) if re.search(rf"(?<![\w:]){re.escape(p[0])}:", whole)]
    head = [f"# {line}".rstrip() for line in heading.splitlines()]
    return "\n".join([*head, *(f"@prefix {name}: <{iri}> ." for name, iri in used), *body]) + "\n"


def _section(section: Section, known: Sequence[tuple[str, str]]) -> Iterator[str]:
    yield ""
    yield from (f"# {line}".rstrip() for line in section.comment.splitlines())
    by_subject: dict[str, dict[str, list[str]]] = {}
    for s in section.statements:
        told = by_subject.setdefault(s.subject, {}).setdefault(
            "a" if s.predicate == TYPE else _iri(s.predicate, known), []
        )
        if (value := _written(s.value, known)) not in told:
            told.append(value)
    for subject, said in by_subject.items():
        parts = [
            f"{predicate} {', '.join(values)}" for predicate, values in sorted(said.items(), key=lambda p: p[0] != "a")
        ]
        parts[0] = f"{_iri(subject, known)} {parts[0]}"
        lines = " ;\n    ".join(_lines(parts))
        yield f"{lines} ."


def _lines(parts: Sequence[str]) -> Iterator[str]:
    """Join short parts into lines of about a page's width."""
    line = ""
    for part in parts:
        if line and len(line) + len(part) > 110:
            yield line
            line = part
        else:
            line = f"{line} ; {part}" if line else part
    yield line


def _iri(iri: str, known: Sequence[tuple[str, str]]) -> str:
    for name, start in known:
        if iri.startswith(start) and _LOCAL.fullmatch(iri[len(start) :]):
            return f"{name}:{iri[len(start) :]}"
    return f"<{iri}>"


def _written(value: Term, known: Sequence[tuple[str, str]]) -> str:
    if isinstance(value, Iri):
        return _iri(value.text, known)
    if isinstance(value, Amount):
        number, unit = _written(value.number, known), _iri(value.unit, known)
        return f"[ qudt:numericValue {number} ; qudt:hasUnit {unit} ]"
    bare = _BARE.get(value.datatype)
    if bare is not None and bare.fullmatch(value.text):
        return value.text
    text = f'"{value.text.translate(_ESCAPES)}"'
    if value.language:
        return f"{text}@{value.language}"
    return text if value.datatype == Text("").datatype else f"{text}^^{_iri(value.datatype, known)}"
