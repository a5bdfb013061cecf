"""What went wrong, as data: problem documents (RFC 9457), the same over HTTP and within a batch."""

from http import HTTPStatus

from pydantic import ConfigDict, Field

from clampgraph.answers.models import Answer
from clampgraph.errors import ClampgraphError, UnknownNameError

__all__ = ["PROBLEM_TYPES", "ProblemOut", "problem_of"]

PROBLEM_TYPES = "https://w3id.org/clampgraph/problems#"
"""Base of the IRIs of kinds of problem."""

PAUSE = 2
"""Seconds after which to ask again where something may come back (common practice)."""


class ProblemOut(Answer):
    """What went wrong, as a problem document (RFC 9457)."""

    model_config = ConfigDict(frozen=True, extra="allow", title="Problem")

    type: str = Field(description="IRI of the kind of problem; stable.")
    title: str = Field(description="The kind of problem in words.")
    status: int = Field(ge=400, le=599, description="The HTTP status; within a batch, that of the question alone.")
    detail: str = Field(description="One sentence: what is wrong, where, and what would be right.")
    nearest: tuple[str, ...] | None = Field(
        default=None,
        description="The nearest existing names, where a name is not known.",
        exclude_if=lambda value: value is None,
    )
    retry_after: int | None = Field(
        default=None,
        description="Seconds after which asking again makes sense, as in the header Retry-After.",
        exclude_if=lambda value: value is None,
    )


def problem_of(error: ClampgraphError, status: int | None = None) -> ProblemOut:
    """Tell an error as a problem document; its status is that of its kind unless another is given."""
    status = status or error.http_status
    return ProblemOut(
        type=PROBLEM_TYPES + error.slug,
        title=error.title,
        status=status,
        detail=str(error),
        nearest=error.nearest if isinstance(error, UnknownNameError) else None,
        retry_after=PAUSE if status == HTTPStatus.SERVICE_UNAVAILABLE else None,
    )
