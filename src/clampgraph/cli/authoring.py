"""Commands for those who write packs."""

import sys
from pathlib import Path
from typing import Annotated, Any

import typer

from clampgraph.cli.doors import open_library
from clampgraph.cli.options import AsJson, Packs, screens, show_answer
from clampgraph.cli.output import Output, write_out
from clampgraph.errors import WrongCallError

__all__ = ["export", "import_", "new_assembly", "validate"]


def validate(
    paths: Annotated[list[Path], typer.Argument(help="Files and folders of RDF packs.")],
    physics: Annotated[
        bool, typer.Option("--physics", help="Also hold what the graph claims against the simulated stroke.")
    ] = False,
    lang: Annotated[str | None, typer.Option("--lang", metavar="CODE", help="Warn of labels not told in it.")] = None,
    as_json: AsJson = False,
) -> None:
    """Is my data sound?"""
    from clampgraph.answers.validate import validate as answer_of

    answer = answer_of(paths, lang, physics=physics)
    show_answer(answer, as_json, lambda: screens().findings(answer))
    if not answer.valid:
        raise typer.Exit(1)


def import_(
    files: Annotated[list[Path], typer.Argument(metavar="FILE.csv...", help="Spreadsheets as CSV.")],
    output: Output = None,
    kind: Annotated[str | None, typer.Option(help="The table, where the header does not tell.")] = None,
    assembly: Annotated[str, typer.Option(help="Stands in where a row names no assembly.")] = "",
    base: Annotated[str, typer.Option(metavar="IRI", help="Where new IRIs begin.")] = "",
    partial: Annotated[
        bool, typer.Option("--partial", help="Write the sound rows although others are refused.")
    ] = False,
    as_json: AsJson = False,
    data: Packs = None,
) -> None:
    """Bring a parts list, or a whole unit, in from spreadsheets."""
    from clampgraph.answers.authoring import ImportOptions, import_parts

    answer = import_parts(open_library(data or []), files, ImportOptions(base, kind, assembly, partial))
    if as_json:
        show_answer(answer, as_json, lambda: None)
    else:
        _report(answer)
    if answer.pack is not None and (output is not None or not as_json):
        write_out(answer.pack, output)
    if answer.refused:
        raise typer.Exit(1)


def _report(answer: Any) -> None:
    """Tell on standard error what became of the rows; standard output is for the pack."""
    for file in answer.files:
        sys.stderr.write(f"{file.file}: {file.rows_accepted} of {file.rows_read} rows of {file.kind} accepted.\n")
    for cell in answer.refused:
        sys.stderr.write(f"{cell.file} row {cell.row}, column {cell.column}: {cell.why}\n")
    for note in answer.notes:
        sys.stderr.write(f"Note: {note}\n")
    if answer.pack is None:
        sys.stderr.write("Nothing was written; mend these rows, or give --partial to keep the sound ones.\n")


def export(
    assembly: str,
    output: Annotated[Path, typer.Option("-o", "--output", metavar="FOLDER", help="Folder for the CSV files.")],
    data: Packs = None,
) -> None:
    """Write a unit out as spreadsheets that can be imported again."""
    from clampgraph.answers.authoring import export_pack

    sheets = export_pack(open_library(data or []), assembly)
    try:
        output.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise WrongCallError(f"{output} cannot be made a folder: {error.strerror}.") from error
    for name, content in sheets.items():
        write_out(content, output / name)


def new_assembly(
    name: Annotated[str, typer.Argument(help="Identifier of the new unit, such as my-unit-40.")],
    like: Annotated[str | None, typer.Option(metavar="ASSEMBLY", help="A described unit to start from.")] = None,
    base: Annotated[str, typer.Option(metavar="IRI", help="Where new IRIs begin.")] = "",
    output: Output = None,
    data: Packs = None,
) -> None:
    """Start a pack for a new unit, with comments that say what to fill in."""
    from clampgraph.answers.authoring import new_assembly as pack_of

    given = {"base": base} if base else {}
    write_out(pack_of(open_library(data or []), name, like, **given), output)
