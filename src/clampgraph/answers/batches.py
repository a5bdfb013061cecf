"""Many questions at once: each gets its answer or the problem that it alone has, in the order they were asked.

A batch is read whole and answered one question after the other, so that whoever drives it may stop in between.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Generic, TypeVar

from pydantic import Field

from clampgraph.answers.diagnosing.diagnose import diagnose
from clampgraph.answers.diagnosing.diagnosis import DiagnoseRequest
from clampgraph.answers.identifying.identify import IdentifyRequest, identify
from clampgraph.answers.library import Library
from clampgraph.answers.models import Answer, Request, parse
from clampgraph.answers.problems import ProblemOut, problem_of
from clampgraph.answers.replacing.fits import FitsRequest, fits
from clampgraph.answers.replacing.replacements import SwapRequest
from clampgraph.answers.replacing.swap import swap
from clampgraph.errors import ClampgraphError, WrongCallError

__all__ = [
    "DIAGNOSES",
    "FITS",
    "IDENTIFICATIONS",
    "MOST",
    "SWAPS",
    "Answered",
    "Asked",
    "BatchAnswer",
    "Kind",
    "Refused",
    "read_batch",
]

MOST = 1000
"""Questions in one batch, at most."""

A = TypeVar("A", bound=Answer)
R = TypeVar("R", bound=Request)


class Answered(Answer, Generic[A]):
    """The answer to one question."""

    index: int = Field(description="Place of the question, counted from 0.")
    answer: A


class Refused(Answer):
    """What is wrong with one question."""

    index: int = Field(description="Place of the question, counted from 0.")
    problem: ProblemOut


class BatchAnswer(Answer, Generic[A]):
    """The answers, in the order of the questions."""

    answers: tuple[Answered[A] | Refused, ...]


@dataclass(frozen=True)
class Kind(Generic[R, A]):
    """A kind of question that may come in batches: its name, how it is read, and what answers it."""

    name: str
    question: type[R]
    answer: Callable[[Library, R], A]

    def told(self, library: Library, asked: "Asked[R]") -> A | ProblemOut:
        """Answer one question of a batch, or say what is wrong with it."""
        if isinstance(asked.question, ClampgraphError):
            return problem_of(asked.question)
        try:
            return self.answer(library, asked.question)
        except ClampgraphError as error:
            return problem_of(error)


@dataclass(frozen=True, slots=True)
class Asked(Generic[R]):
    """One question of a batch as it was read, or why it could not be; equal questions have equal names."""

    index: int
    name: str
    question: R | ClampgraphError


DIAGNOSES = Kind("diagnoses", DiagnoseRequest, diagnose)
IDENTIFICATIONS = Kind("identifications", IdentifyRequest, identify)
FITS = Kind("fits", FitsRequest, fits)
SWAPS = Kind("replacements", SwapRequest, swap)


def read_batch(kind: Kind[R, A], questions: Sequence[Any]) -> list[Asked[R]]:
    """Read each question by itself.

    Raises
    ------
    WrongCallError
        If there are more questions than `MOST`.
    """
    if len(questions) > MOST:
        raise WrongCallError(f"These are {len(questions)} questions; a batch holds at most {MOST}.")
    return [_read(kind, index, given) for index, given in enumerate(questions)]


def _read(kind: Kind[R, A], index: int, given: object) -> Asked[R]:
    try:
        if not isinstance(given, Mapping):
            raise WrongCallError(f"A question is an object with named fields; this is {str(given)[:40]!r}.")
        question = parse(kind.question, given)
    except ClampgraphError as error:
        return Asked(index, "", error)
    return Asked(index, repr(question), question)
