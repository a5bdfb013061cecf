"""Routes of what it really was: record a job, list, look at what was learned, and forget a person."""

from typing import Annotated

from fastapi import APIRouter, Depends, Header, Path, Query, Request, Response

from clampgraph.answers.models import parse
from clampgraph.answers.recording.calibrating import CalibrationAnswer, calibration
from clampgraph.answers.recording.cases import (
    LARGEST,
    LONGEST,
    USUAL,
    CaseOut,
    CasesAnswer,
    CasesRequest,
    RecordRequest,
)
from clampgraph.answers.recording.figures import (
    ExposureOut,
    ExposureRequest,
    FiguresAnswer,
    figures,
    state_exposure,
)
from clampgraph.answers.recording.listing import ForgottenAnswer, cases, forget, one_case
from clampgraph.answers.recording.record import record
from clampgraph.api.casebook import CaseBook
from clampgraph.api.paging import linked
from clampgraph.api.routes import Loaded, send

__all__ = ["CaseBook", "router"]

router = APIRouter()


def _book(request: Request) -> CaseBook:
    book: CaseBook = request.app.state.casebook
    return book


Book = Annotated[CaseBook, Depends(_book)]
Key = Annotated[
    str | None,
    Header(alias="Idempotency-Key", max_length=200, description="A case sent again under its key is kept once."),
]
Number = Annotated[int, Path(ge=1, le=LARGEST)]


def _wanted(
    assembly: str | None = None,
    author: str | None = None,
    after: Annotated[int, Query(ge=0, le=LARGEST, description="Those recorded behind this one.")] = 0,
    limit: Annotated[int, Query(ge=1, le=LONGEST)] = USUAL,
) -> CasesRequest:
    return parse(CasesRequest, {"assembly": assembly, "author": author, "after": after, "limit": limit})


@router.post("/cases", response_model=CaseOut, summary="What was it really?")
def post_case(library: Loaded, book: Book, job: RecordRequest, key: Key = None) -> Response:
    """Record a closed job; when the answer comes, it is on the disk."""
    return send(record(library, book.store, job.model_copy(update={"key": key}) if key else job))


@router.get("/cases", response_model=CasesAnswer, summary="What was it in the past?")
def get_cases(
    library: Loaded, book: Book, wanted: Annotated[CasesRequest, Depends(_wanted)], request: Request
) -> Response:
    """List cases in the order in which they were recorded."""
    answer = cases(library, book.store, wanted)
    return linked(send(answer), request, None if answer.after is None else str(answer.after))


@router.get("/cases/figures", response_model=FiguresAnswer, summary="What was learned from cases?")
def get_figures(library: Loaded, book: Book) -> Response:
    """Tell every figure that cases moved, beside the pack's."""
    return send(figures(library, book.teacher))


@router.get("/cases/calibration", response_model=CalibrationAnswer, summary="How good were past predictions?")
def get_calibration(library: Loaded, book: Book, assembly: str | None = None) -> Response:
    """Hold what was predicted on past cases against what was found."""
    return send(calibration(library, book.store, assembly))


@router.post("/cases/exposures", response_model=ExposureOut, summary="How long were jobs recorded?")
def post_exposure(library: Loaded, book: Book, told: ExposureRequest) -> Response:
    """State the machine-years behind the cases of an assembly."""
    return send(state_exposure(library, book.store, told))


@router.delete("/cases/authors/{name:path}", response_model=ForgottenAnswer, summary="Forget a person")
def delete_author(book: Book, name: str) -> Response:
    """Erase an author and their free text; the technical facts stay, under no name."""
    return send(forget(book.store, name))


@router.get("/cases/{number:int}", response_model=CaseOut, summary="What was it in one case?")
def get_case(book: Book, number: Number) -> Response:
    """Tell one case."""
    return send(one_case(book.store, number))
