"""Commands that choose parts."""

from pathlib import Path
from typing import Annotated, Any

import typer

from clampgraph.cli.options import (
    AsJson,
    GenerationOption,
    Language,
    Packs,
    Server,
    SiteFile,
    ask,
    door,
    pairs,
    show_answer,
    with_site,
    years,
)
from clampgraph.cli.output import write_out
from clampgraph.errors import WrongCallError

__all__ = ["fits", "swap"]

ANY = "any"


def _screens() -> Any:
    from clampgraph.cli import part_screens

    return part_screens


def fits(
    mpn: Annotated[str, typer.Argument(help="A part number; 'any' for whatever fits the position.")],
    assembly: Annotated[str | None, typer.Argument()] = None,
    position: Annotated[str | None, typer.Argument()] = None,
    generation: GenerationOption = None,
    build_date: Annotated[str | None, typer.Option(metavar="YYYY-MM-DD", help="When the machine was built.")] = None,
    serial: Annotated[int | None, typer.Option(help="Serial number of the machine.")] = None,
    as_json: AsJson = False,
    lang: Language = None,
    server: Server = None,
    data: Packs = None,
) -> None:
    """Does it fit?"""
    from clampgraph.answers.models import parse
    from clampgraph.answers.replacing.fits import FitsAnswer, FitsRequest
    from clampgraph.answers.replacing.fits import fits as answer_of

    body: dict[str, Any] = {
        "mpn": None if mpn == ANY else mpn,
        "assembly": assembly,
        "position": position,
        "generation": generation,
        "build_date": build_date,
        "serial": serial,
    }
    question = parse(FitsRequest, body)
    path = f"/items/{mpn}/fits" if mpn != ANY else "/fits"
    query = {key: value for key, value in body.items() if value is not None and key != "mpn"}
    answer = ask(
        door(server, data, lang), lambda library: answer_of(library, question), FitsAnswer, ("GET", path, query)
    )
    show_answer(answer, as_json, lambda: _screens().fits(answer))
    if not any(place.verdict.startswith("fits") for place in answer.places):
        raise typer.Exit(1)


def swap(
    assembly: str,
    positions: Annotated[list[str] | None, typer.Argument(metavar="[POSITION]...")] = None,
    with_mpn: Annotated[str | None, typer.Option("--with", metavar="MPN", help="The item that goes in.")] = None,
    cause: Annotated[str | None, typer.Option(metavar="POSITION:MODE", help="Start from a cause.")] = None,
    age: Annotated[list[str] | None, typer.Option(metavar="POSITION=YEARS", help="Years since renewed.")] = None,
    stock: Annotated[list[str] | None, typer.Option(metavar="MPN=N", help="Pieces in hand.")] = None,
    generation: GenerationOption = None,
    build_date: Annotated[str | None, typer.Option(metavar="YYYY-MM-DD", help="When the machine was built.")] = None,
    serial: Annotated[int | None, typer.Option(help="Serial number of the machine.")] = None,
    site: SiteFile = None,
    labour_rate: Annotated[float | None, typer.Option(help="Labour rate [EUR/h].")] = None,
    visit_cost: Annotated[float | None, typer.Option(help="What another visit costs [EUR].")] = None,
    horizon: Annotated[float | None, typer.Option(help="How far ahead a renewal looks [yr].")] = None,
    sheet: Annotated[Path | None, typer.Option(metavar="F.html|F.md", help="Write a job sheet to print.")] = None,
    as_json: AsJson = False,
    lang: Language = None,
    server: Server = None,
    data: Packs = None,
) -> None:
    """What else is swapped with it?"""
    from clampgraph.answers.models import parse
    from clampgraph.answers.replacing.replacements import SwapAnswer, SwapRequest
    from clampgraph.answers.replacing.swap import swap as answer_of

    body: dict[str, Any] = {
        "assembly": assembly,
        "positions": positions or [],
        "with_mpn": with_mpn,
        "cause": cause,
        "ages": years(age),
        "stock": {mpn: _pieces(mpn, n) for mpn, n in pairs(stock, "stock", "MPN=N").items()},
        "generation": generation,
        "build_date": build_date,
        "serial": serial,
    }
    figures = {"labour_rate": labour_rate, "visit_cost": visit_cost, "horizon": horizon}
    body |= {key: value for key, value in figures.items() if value is not None}
    form = None if sheet is None else _form(sheet)
    if site is not None:
        body = {k: v for k, v in with_site(body, site, data).items() if k != "conditions"}
    question = parse(SwapRequest, body)
    answer = ask(
        door(server, data, lang),
        lambda library: answer_of(library, question),
        SwapAnswer,
        ("POST", "/replacements", body),
    )
    if sheet is not None and form is not None:
        from clampgraph.answers.replacing.sheet import job_sheet

        write_out(job_sheet(answer, form), sheet)
    if sheet is None or as_json:
        show_answer(answer, as_json, lambda: _screens().swap(answer))


def _form(sheet: Path) -> str:
    forms = {".html": "html", ".md": "md"}
    if sheet.suffix not in forms:
        raise WrongCallError(f"A job sheet is written as .html or .md; {sheet.name} is neither.")
    return forms[sheet.suffix]


def _pieces(mpn: str, text: str) -> int:
    try:
        return int(text)
    except ValueError:
        raise WrongCallError(f"--stock {mpn}={text} is no number of pieces; write {mpn}=2.") from None
