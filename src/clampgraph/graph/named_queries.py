"""Named queries: SPARQL files below `queries/`, bound with values.

Each file starts with three comment lines: the question, the bindings, the columns.
"""

import difflib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache

from pyoxigraph import BlankNode, Literal, NamedNode, QuerySolutions, Store, Triple, Variable

from clampgraph import paths
from clampgraph.errors import DataError, UnknownNameError, WrongCallError
from clampgraph.graph.terms import Plain, plain, term

__all__ = ["NamedQuery", "Row", "catalogue", "check_bindings", "find", "rows", "run", "substitutions"]

Row = Mapping[str, Plain]

_HEADS = ("# question:", "# bindings:", "# columns:")


@dataclass(frozen=True, slots=True)
class NamedQuery:
    """One query file: its name, what it asks, what it needs, what it gives, and its text."""

    name: str
    question: str
    bindings: tuple[str, ...]
    columns: tuple[str, ...]
    text: str


@cache
def catalogue() -> Mapping[str, NamedQuery]:
    """Read every query file, by name.

    Raises
    ------
    DataError
        If a file does not start with its three comment lines.
    """
    root = paths.queries()
    files = sorted(root.rglob("*.rq"))
    names = [f.relative_to(root).with_suffix("").as_posix() for f in files]
    return {name: _read(f.read_text("utf-8"), name) for name, f in zip(names, files, strict=True)}


def _read(text: str, name: str) -> NamedQuery:
    lines = text.splitlines()[:3]
    if len(lines) < len(_HEADS) or any(not line.startswith(h) for line, h in zip(lines, _HEADS, strict=True)):
        raise DataError(f"{name}.rq must start with three lines: {' … '.join(_HEADS)} …")
    question, bindings, columns = (line[len(h) :].strip() for line, h in zip(lines, _HEADS, strict=True))
    needs = () if bindings == "none" else tuple(b.strip() for b in bindings.split(","))
    return NamedQuery(name, question, needs, tuple(c.strip() for c in columns.split(",")), text)


def find(name: str) -> NamedQuery:
    """Return a named query.

    Raises
    ------
    UnknownNameError
        If there is none of that name; names the nearest.
    """
    query = catalogue().get(name)
    if query is None:
        raise UnknownNameError("named query", name, difflib.get_close_matches(name, catalogue(), 3, 0.3))
    return query


def check_bindings(query: NamedQuery, name: str, bindings: Mapping[str, Plain]) -> None:
    """Refuse bindings that a query lacks or does not know.

    Raises
    ------
    UnknownNameError
        If a name is none of the query's bindings.
    WrongCallError
        If one is missing.
    """
    for given in bindings:
        if given not in query.bindings:
            raise UnknownNameError("binding", given, query.bindings, f"of {name}")
    missing = [needed for needed in query.bindings if needed not in bindings]
    if missing:
        raise WrongCallError(f"The query {name} needs a value for '{missing[0]}'; bind it.")


def substitutions(bindings: Mapping[str, Plain]) -> dict[Variable, NamedNode | BlankNode | Literal | Triple]:
    """Turn plain values into terms for the engine's own substitution."""
    return {Variable(name): term(value) for name, value in bindings.items()}


def run(store: Store, query: NamedQuery, bindings: Mapping[str, Plain]) -> list[Row]:
    """Run one named query; see `GraphStore.ask`."""
    return rows(store.query(query.text, substitutions=substitutions(bindings)), query.name)


def rows(result: object, name: str) -> list[Row]:
    """Turn the solutions of a named query into plain rows.

    Raises
    ------
    DataError
        If the result is no table, or a literal in it does not fit its datatype.
    """
    if not isinstance(result, QuerySolutions):
        raise DataError(f"The query {name} must be a SELECT.")
    columns = [variable.value for variable in result.variables]
    return [{c: plain(v) for c, v in zip(columns, solution, strict=True)} for solution in result]
