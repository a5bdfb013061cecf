"""Routes for those who ask a lot: up to a thousand questions in one request, an answer or a problem for each."""

from typing import Annotated, Any

from fastapi import APIRouter, Response
from pydantic import Field

from clampgraph.answers.batches import MOST, BatchAnswer, diagnose_each, fits_each, identify_each, swap_each
from clampgraph.answers.diagnosing.diagnosis import DiagnosisAnswer
from clampgraph.answers.identifying.identify import IdentifyAnswer
from clampgraph.answers.models import Request
from clampgraph.answers.replacing.fits import FitsAnswer
from clampgraph.answers.replacing.replacements import SwapAnswer
from clampgraph.api.routes import Loaded, Taught, send

__all__ = ["router"]

router = APIRouter()


class BatchRequest(Request):
    """Many questions of one kind; each is read by itself, so that a wrong one spoils no other."""

    questions: Annotated[list[Any], Field(max_length=MOST, description="Each as the route for one takes it.")]


@router.post("/diagnoses/batch", response_model=BatchAnswer[DiagnosisAnswer], summary="What explains each of these?")
def post_diagnoses(library: Taught, batch: BatchRequest) -> Response:
    """Rank the causes for each set of findings; those about the same findings of one unit are solved together."""
    return send(diagnose_each(library, batch.questions))


@router.post("/identifications/batch", response_model=BatchAnswer[IdentifyAnswer], summary="Which units are these?")
def post_identifications(library: Loaded, batch: BatchRequest) -> Response:
    """Rank the described units for each set of features."""
    return send(identify_each(library, batch.questions))


@router.post("/fits/batch", response_model=BatchAnswer[FitsAnswer], summary="Do these fit?")
def post_fits(library: Loaded, batch: BatchRequest) -> Response:
    """Tell where each item fits or what fits each position: `mpn`, `assembly`, `position` and so on as fields."""
    return send(fits_each(library, batch.questions))


@router.post("/replacements/batch", response_model=BatchAnswer[SwapAnswer], summary="What else is swapped with each?")
def post_replacements(library: Loaded, batch: BatchRequest) -> Response:
    """Say for each job what comes off, what is renewed and why, the order, the steps and the verification."""
    return send(swap_each(library, batch.questions))
