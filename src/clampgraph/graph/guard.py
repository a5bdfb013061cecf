"""Which SPARQL text is let in: read-only queries over what is loaded, and nothing from outside.

The text is parsed before it is judged, so that no spelling of a keyword slips through.
Updates, SERVICE (which would call another server) and FROM (which would fetch a document) are refused.
"""

from collections.abc import Iterator
from typing import Any

from clampgraph.errors import WrongCallError

__all__ = ["check_read_only"]

LONGEST = 20_000
"""Characters of query text that are parsed at most."""

_REFUSED = {
    "ServiceGraphPattern": "SERVICE is refused: a query sees only what is loaded here.",
    "DatasetClause": "FROM is refused: a query sees only what is loaded here; leave the clause out.",
}


def check_read_only(text: str) -> None:
    """Refuse SPARQL text that is no read-only query over the loaded data.

    Raises
    ------
    WrongCallError
        If the text cannot be parsed, is an update, is too long, or holds SERVICE or FROM.
    """
    # rdflib's parser is not safe in several threads: callers run it in one process, one query at a time.
    from pyparsing import ParseBaseException  # noqa: PLC0415  # comes with rdflib, needed with it alone
    from rdflib.plugins.sparql.parser import parseQuery  # noqa: PLC0415  # slow to import, only needed for raw text

    if not text.strip():
        raise WrongCallError("The query is empty; send a SELECT, ASK, CONSTRUCT or DESCRIBE.")
    if len(text) > LONGEST:
        raise WrongCallError(f"The query has {len(text)} characters; at most {LONGEST} are read.")
    try:
        parsed = parseQuery(text)
    except ParseBaseException as error:
        if _is_update(text):
            raise WrongCallError("Updates are refused: data is only read here; send a SELECT or ASK.") from None
        raise WrongCallError(
            f"The query cannot be parsed at line {error.lineno}, column {error.column}: check it there."
        ) from None
    except RecursionError:
        raise WrongCallError("The query is nested too deeply; write it flatter.") from None
    for name in _names(parsed):
        if name in _REFUSED:
            raise WrongCallError(_REFUSED[name])


def _is_update(text: str) -> bool:
    from pyparsing import ParseBaseException  # noqa: PLC0415  # as above
    from rdflib.plugins.sparql.parser import parseUpdate  # noqa: PLC0415  # as above

    try:
        parseUpdate(text)
    except (ParseBaseException, RecursionError):
        return False
    return True


def _names(node: Any) -> Iterator[str]:
    """List the names of every part of a parse tree, without recursion."""
    queue = [node]
    while queue:
        part = queue.pop()
        name = getattr(part, "name", None)
        if isinstance(name, str):
            yield name
        if hasattr(part, "values") and callable(part.values):
            queue.extend(part.values())
        if isinstance(part, list | tuple) or type(part).__name__ in ("ParseResults", "plist"):
            queue.extend(part)
