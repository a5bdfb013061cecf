"""Commands that choose parts."""

from typing import Annotated, Any

import typer

from clampgraph.answers.models import parse
from clampgraph.cli.options import AsJson, GenerationOption, Packs, Server, ask, show_answer

__all__ = ["fits"]

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
    server: Server = None,
    data: Packs = None,
) -> None:
    """Does it fit?"""
    from clampgraph.answers.fits import FitsAnswer, FitsRequest
    from clampgraph.answers.fits import fits as answer_of

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
    answer = ask(server, data, lambda library: answer_of(library, question), FitsAnswer, ("GET", path, query))
    show_answer(answer, as_json, lambda: _screens().fits(answer))
    if not any(place.verdict.startswith("fits") for place in answer.places):
        raise typer.Exit(1)
