"""Routes for those who ask a lot: up to a thousand questions in one request, an answer or a problem for each."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Annotated, Any, TypeVar

from fastapi import APIRouter, Request, Response
from fastapi.responses import StreamingResponse
from pydantic import Field

from clampgraph.answers.batches import (
    DIAGNOSES,
    FITS,
    IDENTIFICATIONS,
    MOST,
    SWAPS,
    BatchAnswer,
    Kind,
    read_batch,
)
from clampgraph.answers.diagnosing.diagnosis import DiagnosisAnswer
from clampgraph.answers.identifying.identify import IdentifyAnswer
from clampgraph.answers.languages import preferred_language
from clampgraph.answers.library import Library
from clampgraph.answers.models import Answer
from clampgraph.answers.models import Request as Question
from clampgraph.answers.problems import ProblemOut
from clampgraph.answers.replacing.fits import FitsAnswer
from clampgraph.answers.replacing.replacements import SwapAnswer
from clampgraph.api.around.pinning import held_of
from clampgraph.api.batching import MOST_WAITING, Done, Run, Turns
from clampgraph.api.problems import problem, unforeseen
from clampgraph.api.routes import Loaded, Taught

__all__ = ["Desk", "router"]

router = APIRouter()

A = TypeVar("A", bound=Answer)
Q = TypeVar("Q", bound=Question)


class BatchRequest(Question):
    """Many questions of one kind; each is read by itself, so that a wrong one spoils no other."""

    questions: Annotated[list[Any], Field(max_length=MOST, description="Each as the route for one takes it.")]


class Desk:
    """Where the batches of one application are worked on; `budget` is for answers that are kept [byte]."""

    def __init__(self, budget: int) -> None:
        self.turns, self.done = Turns(), Done(budget)


@dataclass(frozen=True)
class _Way:
    """How the answers of one batch are told: what they rest on beside the question, and what is added to each."""

    basis: str
    told: Callable[[Any], Any] = lambda answer: answer


async def _stream(request: Request, kind: Kind[Q, A], library: Library, batch: BatchRequest, way: _Way) -> Response:
    state = request.app.state
    desk: Desk = state.desk
    if desk.turns.batches >= MOST_WAITING:
        return problem(503, "Too many batches are being worked on; send it again.", {"retry-after": "10"})
    asked = read_batch(kind, batch.questions)

    def failed(error: Exception) -> ProblemOut:
        state.log.error("batch", route=request.url.path, exc_info=error)
        return unforeseen()

    run = Run(
        kind, library, asked, way.told, failed, desk.done, way.basis,
        seconds=state.settings.time_limit * max(1, len(asked)),
        leaving=lambda: bool(state.keeper.leaving),
    )  # fmt: skip
    return StreamingResponse(run.stream(desk.turns), media_type="application/json")


def _basis(request: Request) -> str:
    """Return what answers rest on beside the question: what is loaded, and the language."""
    held = held_of(request.scope)
    return f"{held.content}\0{preferred_language(request.headers.get('accept-language', ''), held.languages)}"


@router.post("/diagnoses/batch", response_model=BatchAnswer[DiagnosisAnswer], summary="What explains each of these?")
async def post_diagnoses(request: Request, lesson: Taught, batch: BatchRequest) -> Response:
    """Rank the causes for each set of findings; the answers come as a stream, each when it is worked out."""
    basis = f"{_basis(request)}\0{lesson.state}" if lesson.state else ""
    return await _stream(request, DIAGNOSES, lesson.library, batch, _Way(basis, lesson.told))


@router.post("/identifications/batch", response_model=BatchAnswer[IdentifyAnswer], summary="Which units are these?")
async def post_identifications(request: Request, library: Loaded, batch: BatchRequest) -> Response:
    """Rank the described units for each set of features."""
    return await _stream(request, IDENTIFICATIONS, library, batch, _Way(_basis(request)))


@router.post("/fits/batch", response_model=BatchAnswer[FitsAnswer], summary="Do these fit?")
async def post_fits(request: Request, library: Loaded, batch: BatchRequest) -> Response:
    """Tell where each item fits or what fits each position: `mpn`, `assembly`, `position` and so on as fields."""
    return await _stream(request, FITS, library, batch, _Way(_basis(request)))


@router.post("/replacements/batch", response_model=BatchAnswer[SwapAnswer], summary="What else is swapped with each?")
async def post_replacements(request: Request, library: Loaded, batch: BatchRequest) -> Response:
    """Say for each job what comes off, what is renewed and why, the order, the steps and the verification."""
    return await _stream(request, SWAPS, library, batch, _Way(_basis(request)))
