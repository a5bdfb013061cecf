"""Parse one pack file and keep what is wrong with it, so that one bad file hides nothing of the others."""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from pyoxigraph import BlankNode, Literal, NamedNode, Quad, parse

from clampgraph.errors import UnknownNameError
from clampgraph.graph.loading import FORMATS

__all__ = ["Fault", "PackFile", "parse_pack"]

_XSD = "http://www.w3.org/2001/XMLSchema#"
_DECIMAL = r"[+-]?(\d+(\.\d*)?|\.\d+)"
_LEXICAL = {
    **{
        _XSD + name: re.compile(r"[+-]?\d+", re.ASCII)
        for name in ("integer", "int", "long", "nonNegativeInteger", "positiveInteger")
    },
    _XSD + "decimal": re.compile(_DECIMAL, re.ASCII),
    _XSD + "double": re.compile(_DECIMAL + r"([eE][+-]?\d+)?", re.ASCII),
    _XSD + "float": re.compile(_DECIMAL + r"([eE][+-]?\d+)?", re.ASCII),
    _XSD + "boolean": re.compile(r"true|false|1|0"),
    _XSD + "date": re.compile(r"\d{4}-\d{2}-\d{2}", re.ASCII),
}
_TEXT = {_XSD + "string", "http://www.w3.org/1999/02/22-rdf-syntax-ns#langString"}


@dataclass(frozen=True, slots=True)
class Fault:
    """Something wrong in one file: where (line, subject), what, and what would be right."""

    message: str
    hint: str = ""
    line: int | None = None
    focus: NamedNode | BlankNode | None = None


@dataclass(frozen=True)
class PackFile:
    """One file: its text, its statements (their blank nodes are its own) and what is wrong with them."""

    path: Path
    text: str
    quads: tuple[Quad, ...]
    faults: tuple[Fault, ...]

    @property
    def whole(self) -> bool:
        """False if the file could not be read to its end; then none of its statements count."""
        return all(fault.focus is not None for fault in self.faults)

    def line_of(self, iri: str) -> int | None:
        """Return the line on which a subject first begins; None if it is written in a way not recognised."""
        local = re.escape(re.split(r"[#/]", iri)[-1])
        subject = rf"^[ \t]*(?:[\w.-]*:{local}|<{re.escape(iri)}>|<#?{local}>)(?=[\s;,.]|$)"
        found = re.search(subject, self.text, re.MULTILINE)
        return None if not local or found is None else self.text.count("\n", 0, found.start()) + 1


def parse_pack(path: Path) -> PackFile:
    """Parse a Turtle, N-Triples, N-Quads or TriG file in UTF-8; a syntax error becomes a fault, not an exception.

    Raises
    ------
    UnknownNameError
        If the file cannot be opened.
    """
    try:
        raw = path.read_bytes()
    except OSError as error:
        raise UnknownNameError("readable file", str(path)) from error
    try:
        text = raw.decode("utf-8")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        fault = Fault(f"Byte {raw[error.start]:#04x} at line {line} is not UTF-8.", "Save the file in UTF-8.", line)
        return PackFile(path, raw.decode("utf-8", "replace"), (), (fault,))
    quads: list[Quad] = []
    faults: list[Fault] = []
    try:
        for quad in parse(raw, format=FORMATS[path.suffix], rename_blank_nodes=True):
            told = list(_refusals(quad))
            faults += told
            if not told:
                quads.append(quad)
    except SyntaxError as error:
        where = f"line {error.lineno}, column {error.offset}"
        what = re.sub(r"^Parser error at line [^:]*: ", "", error.msg).rstrip(".")
        fault = Fault(f"Syntax error at {where}: {what}.", "Correct it and check again.", error.lineno)
        return PackFile(path, text, (), (*faults, fault))
    return PackFile(path, text, tuple(quads), tuple(faults))


def _refusals(quad: Quad) -> Iterator[Fault]:
    """Tell why a statement cannot be used: it is not RDF 1.1, or a literal does not fit its datatype."""
    subject, value = quad.subject, quad.object
    if not isinstance(subject, NamedNode | BlankNode) or not isinstance(value, NamedNode | BlankNode | Literal):
        yield Fault(
            "Quoted triples are not RDF 1.1.",
            "Make the claim a node of its own with cg:strength and prov:hadPrimarySource.",
            focus=subject if isinstance(subject, NamedNode | BlankNode) else BlankNode(),
        )
    elif isinstance(value, Literal) and not _fits(value):
        kind = value.datatype.value.removeprefix(_XSD)
        name = quad.predicate.value
        yield Fault(
            f"'{value.value}' at <{name}> is not a finite value of {kind}.",
            "Write text, a whole number, a decimal, true or false, or a date such as 2014-07-01.",
            focus=subject,
        )


def _fits(literal: Literal) -> bool:
    kind, text = literal.datatype.value, literal.value
    if kind in _TEXT:
        return True
    pattern = _LEXICAL.get(kind)
    if pattern is None or pattern.fullmatch(text) is None:
        return False
    if kind == _XSD + "date":
        try:
            date.fromisoformat(text)
        except ValueError:
            return False
    return True
