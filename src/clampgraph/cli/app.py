"""Commands: parse, ask, print. Results go to standard output, messages to standard error."""

import sys
from collections.abc import Callable
from importlib import metadata
from typing import Annotated

import typer

from clampgraph.cli.authoring import export, import_, new_assembly, validate
from clampgraph.cli.binding import book
from clampgraph.cli.diagnosing import diagnose, identify
from clampgraph.cli.looking import assemblies, query, show, symptoms
from clampgraph.cli.numbers import calc, simulate
from clampgraph.cli.recording import cases, record
from clampgraph.cli.replacing import fits, swap
from clampgraph.cli.serving import serve, token
from clampgraph.cli.storing import stored
from clampgraph.cli.triaging import triage
from clampgraph.cli.writing import changes, draw, table, tables
from clampgraph.errors import ClampgraphError

__all__ = ["app", "main"]

app = typer.Typer(
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
)


def _version(wanted: bool) -> None:
    if wanted:
        sys.stdout.write(f"clampgraph {metadata.version('clampgraph')}\n")
        raise typer.Exit


@app.callback()
def about(
    version: Annotated[  # its callback does the work
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Print the version and stop.")
    ] = False,
) -> None:
    """Diagnosis and replacement for tool-clamp assemblies of machining-centre spindles."""


ASKED: tuple[Callable[..., None], ...] = (assemblies, show, symptoms, identify, diagnose, fits, swap, record, cases)
WRITTEN: tuple[Callable[..., None], ...] = (simulate, tables, table, changes, draw, book, validate, triage)
KEPT: tuple[Callable[..., None], ...] = (export, new_assembly, query, serve, token)

for command in ASKED:
    app.command()(stored(command))
app.command(context_settings={"allow_extra_args": True, "ignore_unknown_options": True})(calc)
for command in WRITTEN:
    app.command()(stored(command))
app.command("import")(stored(import_))
for command in KEPT:
    app.command()(stored(command))


def main() -> None:
    """Run the command line; every error of ours becomes one sentence and its exit code."""
    try:
        app()
    except ClampgraphError as error:
        sys.stderr.write(f"{error}\n")
        sys.exit(error.exit_code)
    except BrokenPipeError:
        sys.exit(0)
