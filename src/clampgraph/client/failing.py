"""From what a service reports back to the error tree: the same class and sentence as in this process."""

import json

from clampgraph import errors
from clampgraph.errors import ClampgraphError, DataError, ImpossibleEvidenceError, UnknownNameError, WrongCallError

__all__ = ["error_of"]

_KINDS: dict[str, type[ClampgraphError]] = {
    kind.slug: kind for kind in (getattr(errors, name) for name in errors.__all__) if kind is not ClampgraphError
}


def error_of(server: str, status: int, content: bytes) -> ClampgraphError:
    """Return the error that a problem document tells (RFC 9457).

    Parameters
    ----------
    server
        Address of the service, for the sentence where it gives none.
    status
        The HTTP status: where the problem is of no kind of ours, 429 and 5xx are faults of the service, other
        statuses of the call.
    content
        The body.
    """
    try:
        problem = json.loads(content)
        slug, detail = str(problem["type"]).rpartition("#")[2], str(problem["detail"])
    except (ValueError, KeyError, TypeError, RecursionError):
        return DataError(f"The service at {server} answered {status} without saying why.")
    kind = _KINDS.get(slug)
    if kind is None:
        kind = DataError if status == 429 or status >= 500 else WrongCallError
    # Told as it was: the sentence is complete already, and a constructor would build another one.
    error = kind.__new__(kind, detail)
    if isinstance(error, UnknownNameError):
        nearest = problem.get("nearest")
        error.kind = error.name = ""
        error.nearest = tuple(map(str, nearest)) if isinstance(nearest, list) else ()
    if isinstance(error, ImpossibleEvidenceError):
        error.findings = ()
    return error
