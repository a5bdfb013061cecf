"""One place converts RDF terms to plain values and back."""

from datetime import date
from typing import Any

from pyoxigraph import BlankNode, Literal, NamedNode

from clampgraph.errors import DataError, WrongCallError

__all__ = ["Plain", "plain", "term"]

Plain = str | int | float | bool | date | None

_XSD = "http://www.w3.org/2001/XMLSchema#"
_WHOLE = frozenset(_XSD + name for name in ("integer", "int", "long", "nonNegativeInteger", "positiveInteger"))
_REAL = frozenset(_XSD + name for name in ("decimal", "double", "float"))


def plain(value: Any) -> Plain:
    """Convert an RDF term to a plain value.

    Raises
    ------
    DataError
        If the term is a literal whose text does not fit its datatype, or no term of RDF 1.1.
    """
    if value is None:
        return None
    if isinstance(value, NamedNode | BlankNode):
        return value.value
    if not isinstance(value, Literal):
        raise DataError(f"{value} is no term of RDF 1.1; use an IRI or a literal.")
    kind, text = value.datatype.value, value.value
    try:
        if kind in _WHOLE:
            return int(text)
        if kind in _REAL:
            return float(text)
        if kind == _XSD + "date":
            return date.fromisoformat(text)
    except ValueError as error:
        raise DataError(f"'{text}' is not a value of {kind.removeprefix(_XSD)}.") from error
    return text in {"true", "1"} if kind == _XSD + "boolean" else text


def term(value: Plain) -> NamedNode | Literal:
    """Convert a plain value to a term; text that starts with a scheme and ``//`` becomes an IRI.

    Raises
    ------
    WrongCallError
        If the value is of a kind that no query binds, or looks like an IRI and is none.
    """
    if isinstance(value, bool | int | float):
        return Literal(value)
    if isinstance(value, date):
        return Literal(value.isoformat(), datatype=NamedNode(_XSD + "date"))
    if isinstance(value, str):
        return _iri(value) if value.startswith(("https://", "http://", "urn:")) else Literal(value)
    raise WrongCallError(f"{value!r} cannot be bound in a query; give text, a number, a date or an IRI.")


def _iri(text: str) -> NamedNode:
    try:
        return NamedNode(text)
    except ValueError as error:
        raise WrongCallError(f"'{text}' is no IRI: {str(error).rstrip('.')}.") from error
