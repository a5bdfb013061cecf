"""Terms become plain values and back, in one place."""

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pyoxigraph import BlankNode, Literal, NamedNode, Triple

from clampgraph.errors import DataError, WrongCallError
from clampgraph.graph.terms import plain, term

XSD = "http://www.w3.org/2001/XMLSchema#"


def typed(text, kind):
    return Literal(text, datatype=NamedNode(XSD + kind))


def test_nothing_is_nothing():
    """An unbound variable is None."""
    assert plain(None) is None


@pytest.mark.parametrize(
    ("given_term", "value"),
    [
        (NamedNode("urn:x"), "urn:x"),
        (Literal(""), ""),
        (Literal("leer", language="de"), "leer"),
        (typed("007", "integer"), 7),
        (typed("-3", "int"), -3),
        (typed("0.5", "decimal"), 0.5),
        (typed("1e-3", "double"), 0.001),
        (typed("true", "boolean"), True),
        (typed("0", "boolean"), False),
        (typed("2006-01-31", "date"), date(2006, 1, 31)),
        (typed("P1D", "duration"), "P1D"),
    ],
)
def test_plain(given_term, value):
    """Each datatype that the packs use becomes the Python value of the same meaning and type."""
    found = plain(given_term)
    assert found == value
    assert type(found) is type(value)


@pytest.mark.parametrize(("text", "kind"), [("many", "integer"), ("1,5", "decimal"), ("2006-02-31", "date")])
def test_a_text_that_does_not_fit_its_datatype(text, kind):
    """It is refused with text and datatype."""
    with pytest.raises(DataError, match=f"'{text}' is not a value of {kind}"):
        plain(typed(text, kind))


def test_no_term_of_rdf_1_1():
    """A quoted triple is no term of RDF 1.1; a list is no value that a query binds."""
    with pytest.raises(DataError, match=r"no term of RDF 1\.1"):
        plain(Triple(BlankNode(), NamedNode("urn:p"), Literal("x")))
    with pytest.raises(WrongCallError, match="cannot be bound"):
        term(["x"])


values = st.one_of(st.booleans(), st.integers(-(2**62), 2**62), st.dates(), st.text(), st.floats(allow_nan=False))


@given(values)
def test_there_and_back(value):
    """A plain value bound in a query comes back as it was."""
    found = plain(term(value))
    assert found == value
    assert type(found) is type(value)


@pytest.mark.parametrize("text", ["https://x.example/a", "http://x.example/a", "urn:x:y"])
def test_text_with_a_scheme_is_an_iri(text):
    """Text that starts with a scheme is bound as an IRI, every other as a literal."""
    assert term(text) == NamedNode(text)
    assert term(f" {text}") == Literal(f" {text}")
