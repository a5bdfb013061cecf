"""Commands for those who publish: pictures."""

import sys
from pathlib import Path
from typing import Annotated

import typer

from clampgraph.answers.models import parse
from clampgraph.cli.doors import fetch_bytes, open_library
from clampgraph.cli.options import GenerationOption, Packs, Server
from clampgraph.errors import WrongCallError

__all__ = ["draw"]

Output = Annotated[Path | None, typer.Option("-o", "--output", metavar="FILE", help="Write here instead of printing.")]


def draw(
    assembly: str,
    phase: Annotated[str, typer.Option(help="Shows which lines carry pressure and which vent.")] = "clamped",
    highlight: Annotated[
        list[str] | None, typer.Option(metavar="POSITION[:MODE]", help="Mark a suspect; may be repeated.")
    ] = None,
    generation: GenerationOption = None,
    output: Output = None,
    server: Server = None,
    data: Packs = None,
) -> None:
    """What does its circuit look like?"""
    from clampgraph.answers.draw import DrawRequest
    from clampgraph.answers.draw import draw as picture_of

    body = {"assembly": assembly, "generation": generation, "phase": phase, "highlight": highlight or []}
    question = parse(DrawRequest, body)
    if server is None:
        picture = picture_of(open_library(data or []), question)
    else:
        query: dict[str, str | list[str]] = {
            "generation": generation or "",
            "phase": phase,
            "highlight": highlight or [],
        }
        picture = fetch_bytes(server, f"/assemblies/{assembly}/drawing.svg", query).decode("utf-8")
    write_out(picture, output)


def write_out(content: str, output: Path | None) -> None:
    """Print, or write a file whole or not at all.

    Raises
    ------
    WrongCallError
        If the file cannot be written.
    """
    if output is None:
        sys.stdout.write(content)
        return
    part = output.with_name(output.name + ".part")
    try:
        part.write_text(content, "utf-8")
        part.replace(output)
    except OSError as error:
        raise WrongCallError(f"{output} cannot be written: {error.strerror}.") from error
