"""One route for each question."""

from typing import Annotated, Literal

from fastapi import APIRouter, Depends, Query, Request, Response

from clampgraph.answers import assemblies as listing
from clampgraph.answers import network as export
from clampgraph.answers.assemblies import AssembliesAnswer, ShowAnswer
from clampgraph.answers.diagnosing.diagnose import diagnose
from clampgraph.answers.diagnosing.diagnosis import DiagnoseRequest, DiagnosisAnswer
from clampgraph.answers.languages import preferred_language
from clampgraph.answers.library import Library
from clampgraph.answers.models import Answer, Day
from clampgraph.answers.network import NetworkAnswer
from clampgraph.answers.replacing.fits import FitsAnswer, FitsRequest, PlaceOut, fits
from clampgraph.answers.symptoms import SymptomsAnswer, symptoms
from clampgraph.api.accepting import accepted
from clampgraph.api.around.pinning import held_of
from clampgraph.api.casebook import CaseBook, Lesson
from clampgraph.api.linked import LinkingRoute, Told
from clampgraph.api.paging import PageQuery, linked, page

__all__ = ["Generation", "Loaded", "Taught", "accepted", "router", "send"]

router = APIRouter(route_class=LinkingRoute)


def _library(request: Request) -> Library:
    """Return what is loaded, in the language that the caller prefers and that labels are told in."""
    held = held_of(request.scope)
    header = request.headers.get("accept-language", "")
    return held.library.in_language(preferred_language(header, held.languages)) if header else held.library


Loaded = Annotated[Library, Depends(_library)]


def _taught(request: Request, library: Loaded) -> Lesson:
    """Return what is loaded, with the figures that the case store teaches, if one is named."""
    book: CaseBook = request.app.state.casebook
    return book.taught(library, held_of(request.scope).library)


Taught = Annotated[Lesson, Depends(_taught)]
Generation = Annotated[str | None, Query(description="The newest one if left out.")]


def _fits(
    assembly: str | None = None,
    position: str | None = None,
    generation: str | None = None,
    build_date: Day | None = None,
    serial: Annotated[int | None, Query(ge=0)] = None,
) -> FitsRequest:
    return FitsRequest(
        mpn=None, assembly=assembly, position=position, generation=generation, build_date=build_date, serial=serial
    )


Fits = Annotated[FitsRequest, Depends(_fits)]


def send(answer: Answer) -> Response:
    """Serialise once; `response_model` on the route is there for the description."""
    return Told(answer)


@router.get("/assemblies", response_model=AssembliesAnswer, summary="What is there?")
def get_assemblies(library: Loaded, request: Request, asked: PageQuery) -> Response:
    """List the assemblies that are described, in alphabetical order."""
    answer = listing.assemblies(library)
    found, after = page(answer.assemblies, lambda a: [a.id], asked)
    return linked(send(answer.model_copy(update={"assemblies": tuple(found)})), request, after)


@router.get("/assemblies/{assembly}", response_model=ShowAnswer, summary="What does one assembly consist of?")
def get_assembly(library: Loaded, assembly: str, generation: Generation = None) -> Response:
    """Show one generation of an assembly."""
    return send(listing.show(library, assembly, generation))


@router.get("/assemblies/{assembly}/network", response_model=NetworkAnswer, summary="Which network follows from it?")
def get_network(
    library: Loaded,
    assembly: str,
    generation: Generation = None,
    format: Literal["json", "bif"] = "json",  # noqa: A002
) -> Response:
    """Export the derived network as JSON or in the Bayesian interchange format."""
    if format == "bif":
        return Response(export.network_bif(library, assembly, generation), media_type="text/plain")
    return send(export.network(library, assembly, generation))


def _place_key(place: PlaceOut) -> list[str]:
    return [place.assembly, place.generation, place.position, place.item]


def _fitting(library: Library, question: FitsRequest, request: Request, asked: PageQuery) -> Response:
    answer = fits(library, question)
    found, after = page(answer.places, _place_key, asked)
    return linked(send(answer.model_copy(update={"places": tuple(found)})), request, after)


@router.get("/items/{mpn}/fits", response_model=FitsAnswer, summary="Does it fit?")
def get_fits_of_item(library: Loaded, mpn: str, question: Fits, request: Request, asked: PageQuery) -> Response:
    """Tell where an item fits, feature by feature, the best places first."""
    return _fitting(library, question.model_copy(update={"mpn": mpn}), request, asked)


@router.get("/fits", response_model=FitsAnswer, summary="What fits this position?")
def get_fits(library: Loaded, question: Fits, request: Request, asked: PageQuery) -> Response:
    """Tell which items fit a position, feature by feature, the best first."""
    return _fitting(library, question, request, asked)


@router.get("/symptoms", response_model=SymptomsAnswer, summary="How is this symptom called?")
def get_symptoms(
    library: Loaded, request: Request, asked: PageQuery, q: Annotated[str, Query(description="What people say.")] = ""
) -> Response:
    """Find symptoms by what people say at the machine, the best match first."""
    answer = symptoms(library, q)
    found, after = page(answer.symptoms, lambda s: [s.id], asked)
    return linked(send(answer.model_copy(update={"symptoms": tuple(found)})), request, after)


@router.post("/diagnoses", response_model=DiagnosisAnswer, summary="What explains it?")
def post_diagnosis(lesson: Taught, question: DiagnoseRequest) -> Response:
    """Rank the causes of what was found; while the case store is down, with the figures known before, and saying so."""
    response = send(lesson.told(diagnose(lesson.library, question)))
    if lesson.warnings:
        response.headers["cache-control"] = "no-store"  # it is another answer as soon as the store is back
    return response
