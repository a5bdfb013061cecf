"""Commands for those who write packs."""

from pathlib import Path
from typing import Annotated

import typer

from clampgraph.cli.options import AsJson, screens, show_answer

__all__ = ["validate"]


def validate(
    paths: Annotated[list[Path], typer.Argument(help="Files and folders of RDF packs.")], as_json: AsJson = False
) -> None:
    """Is my data sound?"""
    from clampgraph.answers.validate import validate as answer_of

    answer = answer_of(paths)
    show_answer(answer, as_json, lambda: screens().findings(answer))
    if not answer.valid:
        raise typer.Exit(1)
