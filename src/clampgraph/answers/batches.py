"""Many questions at once: each gets its answer or the problem that it alone has, in the order they were asked."""

from collections.abc import Callable, Mapping, Sequence
from typing import Any, Generic, TypeVar

from pydantic import Field

from clampgraph.answers.diagnosing.diagnose import diagnose_many
from clampgraph.answers.diagnosing.diagnosis import DiagnoseRequest, DiagnosisAnswer
from clampgraph.answers.identifying.identify import IdentifyAnswer, IdentifyRequest, identify
from clampgraph.answers.library import Library
from clampgraph.answers.models import Answer, Request, parse
from clampgraph.answers.problems import ProblemOut, problem_of
from clampgraph.answers.replacing.fits import FitsAnswer, FitsRequest, fits
from clampgraph.answers.replacing.replacements import SwapAnswer, SwapRequest
from clampgraph.answers.replacing.swap import swap
from clampgraph.errors import ClampgraphError, WrongCallError

__all__ = [
    "MOST",
    "Answered",
    "BatchAnswer",
    "Refused",
    "diagnose_each",
    "fits_each",
    "identify_each",
    "swap_each",
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


def _each(
    question: type[R],
    answered: type[Answered[A]],
    questions: Sequence[Any],
    answer: Callable[[Sequence[R]], Sequence[A | ClampgraphError]],
) -> tuple[Answered[A] | Refused, ...]:
    """Read the questions, have those answered that can be read, and put all outcomes in order; equal ones count once.

    Raises
    ------
    WrongCallError
        If there are more questions than `MOST`.
    """
    if len(questions) > MOST:
        raise WrongCallError(f"These are {len(questions)} questions; a batch holds at most {MOST}.")
    outcome: dict[int, A | ClampgraphError] = {}
    asked: dict[str, tuple[R, list[int]]] = {}
    for index, given in enumerate(questions):
        try:
            read = parse(question, given if isinstance(given, Mapping) else _no_question(given))
            asked.setdefault(repr(read), (read, []))[1].append(index)
        except ClampgraphError as error:
            outcome[index] = error
    found = answer([read for read, _ in asked.values()])
    for (_, places), told in zip(asked.values(), found, strict=True):
        outcome |= dict.fromkeys(places, told)
    return tuple(_entry(answered, index, outcome[index]) for index in range(len(questions)))


def _no_question(given: object) -> Mapping[str, Any]:
    raise WrongCallError(f"A question is an object with named fields; this is {str(given)[:40]!r}.")


def _entry(answered: type[Answered[A]], index: int, told: A | ClampgraphError) -> Answered[A] | Refused:
    if isinstance(told, ClampgraphError):
        return Refused(index=index, problem=problem_of(told))
    # The answer is a checked model already, and stays the very object that it is.
    return answered.model_construct(index=index, answer=told)


def _alone(answer: Callable[[R], A]) -> Callable[[Sequence[R]], Sequence[A | ClampgraphError]]:
    def one(question: R) -> A | ClampgraphError:
        try:
            return answer(question)
        except ClampgraphError as error:
            return error

    return lambda questions: [one(question) for question in questions]


def diagnose_each(library: Library, questions: Sequence[Any]) -> BatchAnswer[DiagnosisAnswer]:
    """Answer what explains each set of findings; those that share a compiled network are solved together."""
    found = _each(DiagnoseRequest, Answered[DiagnosisAnswer], questions, lambda asked: diagnose_many(library, asked))
    return BatchAnswer[DiagnosisAnswer](answers=found)


def identify_each(library: Library, questions: Sequence[Any]) -> BatchAnswer[IdentifyAnswer]:
    """Answer which unit shows each set of features."""
    found = _each(
        IdentifyRequest, Answered[IdentifyAnswer], questions, _alone(lambda question: identify(library, question))
    )
    return BatchAnswer[IdentifyAnswer](answers=found)


def fits_each(library: Library, questions: Sequence[Any]) -> BatchAnswer[FitsAnswer]:
    """Answer where each item fits, or what fits each position."""
    found = _each(FitsRequest, Answered[FitsAnswer], questions, _alone(lambda question: fits(library, question)))
    return BatchAnswer[FitsAnswer](answers=found)


def swap_each(library: Library, questions: Sequence[Any]) -> BatchAnswer[SwapAnswer]:
    """Answer what else is swapped, for each job."""
    found = _each(SwapRequest, Answered[SwapAnswer], questions, _alone(lambda question: swap(library, question)))
    return BatchAnswer[SwapAnswer](answers=found)
