"""The command that makes a book of everything about one assembly."""

import sys
from pathlib import Path
from typing import Annotated

import typer

from clampgraph.cli.options import GenerationOption, Language, Packs, door
from clampgraph.cli.progress import progress

__all__ = ["book"]


def book(
    assembly: str,
    output: Annotated[Path, typer.Option("-o", "--output", metavar="DIR", help="The folder that the book goes into.")],
    generation: GenerationOption = None,
    tables: Annotated[
        list[str] | None, typer.Option("--table", help="Only this table beside the rest; may be repeated.")
    ] = None,
    since: Annotated[
        str | None, typer.Option(metavar="OLD", help="A pack, folder or edition: mark what changed since.")
    ] = None,
    pdf: Annotated[bool, typer.Option("--pdf/--no-pdf", help="Also set it as one PDF (extra 'book').")] = True,
    force: Annotated[bool, typer.Option("--force", help="Use a folder that holds other files; they stay.")] = False,
    lang: Language = None,
    data: Packs = None,
) -> None:
    """What is there to know about one assembly, as linked pages and one PDF?"""
    from clampgraph.answers.book.binding import PDF, as_files, as_pdf
    from clampgraph.answers.book.contents import BookRequest
    from clampgraph.answers.book.contents import book as gathered
    from clampgraph.answers.book.shelf import check_folder, shelve
    from clampgraph.answers.changes import open_edition
    from clampgraph.answers.models import parse

    check_folder(output, force=force)
    question = parse(BookRequest, {"assembly": assembly, "generation": generation, "tables": tables or []})
    library, before = door(None, data, lang).library(), None if since is None else open_edition(since)
    with progress("Pages") as counted:
        made = gathered(library, question, before, counted)
        files = as_files(made)
    if pdf:
        with progress("Setting the PDF") as counted:
            counted("", 0, 1)
            files[PDF] = as_pdf(made)
    shelve(files, output, force=force)
    sys.stdout.write(f"{output}/index.html: {len(made.pages) + 1} pages{f', and {output}/{PDF}' if pdf else ''}.\n")
