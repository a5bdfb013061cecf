"""Commands: parse, ask, print. Results go to standard output, messages to standard error."""

import sys

import typer

from clampgraph.cli.authoring import validate
from clampgraph.cli.diagnosing import diagnose
from clampgraph.cli.looking import assemblies, query, show, symptoms
from clampgraph.cli.replacing import fits
from clampgraph.cli.serving import serve
from clampgraph.cli.writing import draw
from clampgraph.errors import ClampgraphError

__all__ = ["app", "main"]

app = typer.Typer(
    help="Diagnosis and replacement for tool-clamp assemblies of machining-centre spindles.",
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
)

for command in (assemblies, show, symptoms, diagnose, fits, query, draw, validate, serve):
    app.command()(command)


def main() -> None:
    """Run the command line; every error of ours becomes one sentence and its exit code."""
    try:
        app()
    except ClampgraphError as error:
        sys.stderr.write(f"{error}\n")
        sys.exit(error.exit_code)
    except BrokenPipeError:
        sys.exit(0)
