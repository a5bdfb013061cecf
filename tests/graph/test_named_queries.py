"""Named queries: each file says what it asks, and keeps its word."""

import pytest

from clampgraph import paths
from clampgraph.errors import DataError, UnknownNameError
from clampgraph.graph import named_queries
from clampgraph.graph.named_queries import catalogue

NAMES = sorted(catalogue())
BOUND = {"assembly": "brannoch-40t"}


def test_every_file_is_a_query():
    """The catalogue holds every file below the folder, by area and verb-noun."""
    files = {str(f.relative_to(paths.queries()).with_suffix("")) for f in paths.queries().rglob("*.rq")}
    assert set(NAMES) == files
    assert all("/" in name and "-" in name for name in NAMES)


@pytest.mark.parametrize("name", NAMES)
def test_header_and_query_agree(library, name):
    """The question is a question; the columns told are those given; every binding stands in the text."""
    query = catalogue()[name]
    assert "?" in query.question
    assert len(set(query.columns)) == len(query.columns)
    assert all(f"?{binding}" in query.text for binding in query.bindings)
    result = library.graph.store.query(query.text)
    assert [variable.value for variable in result.variables] == list(query.columns)


@pytest.mark.parametrize("name", [n for n in NAMES if "assembly" in catalogue()[n].bindings])
def test_bindings_bind(library, name):
    """Bound to a unit a query answers for that unit alone; bound to one that does not exist it gives nothing."""
    if set(catalogue()[name].bindings) != {"assembly"}:
        assert set(catalogue()[name].bindings) > {"assembly"}
        return
    rows = library.graph.ask(name, **BOUND)
    everything = library.graph.ask(name)
    assert len(rows) <= len(everything)
    assert library.graph.ask(name, assembly="none-such") == []
    if "assembly" in catalogue()[name].columns and rows:
        assert {row["assembly"] for row in rows} == {"brannoch-40t"}


def test_an_unknown_query_names_the_nearest(library):
    """A name that is no query names those that are near."""
    with pytest.raises(UnknownNameError, match="assembly/list-positions"):
        library.graph.ask("assembly/list-position")


@pytest.mark.parametrize(
    "text",
    ["", "# question: x?\n", "# question: x?\n# columns: a\n# bindings: none\n", "SELECT * WHERE { ?s ?p ?o }\n\n\n"],
)
def test_a_file_without_its_three_lines_is_refused(text):
    """Question, bindings and columns come first, in this order."""
    with pytest.raises(DataError, match=r"odd\.rq must start with three lines"):
        named_queries._read(text, "odd")


def test_a_value_is_bound_and_never_formatted(library):
    """Text that would change a query if it were pasted in is a value that nothing has."""
    assert library.graph.ask("assembly/list-positions", assembly='x" } UNION { ?iri ?p ?o } #') == []


def test_no_row_names_a_blank_node(library):
    """No column of any query carries the label of a blank node."""
    store = library.graph.store
    blank = {q.subject.value for q in store if type(q.subject).__name__ == "BlankNode"}
    assert blank
    for name in NAMES:
        if catalogue()[name].bindings:
            continue
        for row in library.graph.ask(name):
            assert not blank & {value for value in row.values() if isinstance(value, str)}, name
