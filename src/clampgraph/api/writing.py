"""Routes for those who publish: tables, what changed, pictures."""

from pathlib import Path
from typing import Annotated

from fastapi import APIRouter, Depends, Query, Request, Response

from clampgraph.answers.changes import ChangesAnswer, ChangesRequest, changes_since, open_edition
from clampgraph.answers.draw import (
    DisassemblyRequest,
    DrawRequest,
    InfluenceRequest,
    draw,
    draw_disassembly,
    draw_influence,
)
from clampgraph.answers.library import Library
from clampgraph.answers.models import parse
from clampgraph.answers.table import TableAnswer, TableRequest, TablesAnswer, render, tables
from clampgraph.api.routes import Generation, Loaded, accepted, send
from clampgraph.errors import DataError, UnknownNameError, WrongCallError
from clampgraph.graph.editions import SHIPPED

__all__ = ["router"]

router = APIRouter()

_SHORT = {
    "application/json": "json",
    "text/markdown": "md",
    "text/html": "html",
    "text/csv": "csv",
    "application/x-tex": "tex",
    "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet": "xlsx",
    "application/dita+xml": "dita",
    "application/xml": "cals",
    "application/csvm+json": "csvm",
}

_SINCE = "The edition 'shipped'; on this machine also a pack or a folder of packs."


@router.get("/tables", response_model=TablesAnswer, summary="Which tables are there?")
def get_tables(library: Loaded) -> Response:
    """List the tables with the questions they answer."""
    return send(tables(library))


def _table(  # noqa: PLR0913, PLR0917  # one parameter for each option
    name: str,
    assembly: str | None = None,
    generation: Generation = None,
    symptom: str | None = None,
    order: Annotated[int, Query(ge=1, le=6)] = 2,
    compact: bool = False,  # noqa: FBT001, FBT002  # a query parameter
    differing: bool = False,  # noqa: FBT001, FBT002  # a query parameter
    priority: bool = False,  # noqa: FBT001, FBT002  # a query parameter
) -> TableRequest:
    return TableRequest(
        name=name, assembly=assembly, generation=generation, symptom=symptom, order=order,
        compact=compact, differing=differing, priority=priority,
    )  # fmt: skip


@router.get("/tables/{name}", response_model=TableAnswer, summary="A table of the service manual")
def get_table(
    library: Loaded,
    request: Request,
    question: Annotated[TableRequest, Depends(_table)],
    format: Annotated[str, Query(description="json, md, html, csv, csvm, tex, xlsx, dita or cals.")] = "",  # noqa: A002  # what people type
) -> Response:
    """Write a table in the format asked for, by `format` or by `Accept`; JSON otherwise.

    Beside CSV, which has no place for the edition, a link leads to its metadata (CSV on the Web).
    """
    content, media = render(library, question, format or accepted(request, _SHORT, "json"))
    headers = {"link": _described(request)} if media.startswith("text/csv") else {}
    return Response(content, media_type=media, headers=headers)


def _described(request: Request) -> str:
    query = request.url.include_query_params(format="csvm").query
    return f'<?{query}>; rel="describedby"; type="application/csvm+json"'


@router.get("/tables/{name}/changes", response_model=ChangesAnswer, summary="What changed in a table?")
def get_changes(
    library: Loaded, request: Request, name: str, since: Annotated[str, Query(description=_SINCE, min_length=1)]
) -> Response:
    """Say which rows and cells of a table differ from an earlier edition, and why."""
    question = parse(ChangesRequest, {"old": since, "tables": [name]})
    return send(changes_since(_edition(request, question.old), library, question))


def _edition(request: Request, name: str) -> Library:
    """Open an edition; who asks from elsewhere may not point at the files of this machine."""
    named = Path(name).name not in ("", "..") and request.app.state.settings.loopback
    if name != SHIPPED and not named:
        raise UnknownNameError("edition", name, [SHIPPED])
    try:
        return open_edition(name)
    except DataError as error:
        raise WrongCallError(str(error)) from error
    except OSError as error:  # a name that no file can have
        raise UnknownNameError("edition", name[:80], [SHIPPED]) from error


def _drawing(
    assembly: str,
    generation: Generation = None,
    phase: str = "clamped",
    highlight: Annotated[list[str] | None, Query(description="POSITION or POSITION:MODE.")] = None,
) -> DrawRequest:
    return DrawRequest(assembly=assembly, generation=generation, phase=phase, highlight=tuple(highlight or ()))


@router.get("/assemblies/{assembly}/drawing.svg", summary="A picture of its circuit")
def get_drawing(library: Loaded, question: Annotated[DrawRequest, Depends(_drawing)]) -> Response:
    """Draw the circuit of an assembly, phase by phase, with suspects marked."""
    return Response(draw(library, question), media_type="image/svg+xml")


def _influence(
    assembly: str,
    cause: Annotated[str, Query(description="POSITION:MODE, or a condition.")],
    symptom: Annotated[str | None, Query(description="All that it leads to if left out.")] = None,
    generation: Generation = None,
) -> InfluenceRequest:
    return InfluenceRequest(assembly=assembly, generation=generation, cause=cause, symptom=symptom)


@router.get("/assemblies/{assembly}/influence.svg", summary="A picture of where a cause leads")
def get_influence(library: Loaded, question: Annotated[InfluenceRequest, Depends(_influence)]) -> Response:
    """Draw how a cause leads to a symptom, or to all that it leads to, port by port and phase by phase."""
    return Response(draw_influence(library, question), media_type="image/svg+xml")


def _disassembly(
    assembly: str,
    positions: Annotated[list[str] | None, Query(description="What to reach; all joints if left out.")] = None,
    generation: Generation = None,
) -> DisassemblyRequest:
    return DisassemblyRequest(assembly=assembly, generation=generation, positions=tuple(positions or ()))


@router.get("/assemblies/{assembly}/disassembly.svg", summary="A picture of what must come off before what")
def get_disassembly(library: Loaded, question: Annotated[DisassemblyRequest, Depends(_disassembly)]) -> Response:
    """Draw which joints must be open before which, with minutes, tools and cautions."""
    return Response(draw_disassembly(library, question), media_type="image/svg+xml")
