"""Commands: parse, ask, print. Results go to standard output, messages to standard error."""

import atexit
import gc
import sys
from collections.abc import Iterator, Mapping
from functools import cache
from importlib import import_module
from typing import Annotated, Any

import typer
from typer.core import TyperGroup

from clampgraph.cli.storing import stored
from clampgraph.errors import ClampgraphError

__all__ = ["COMMANDS", "app", "main"]

COMMANDS = {
    "assemblies": "looking.assemblies",
    "show": "looking.show",
    "symptoms": "looking.symptoms",
    "identify": "diagnosing.identify",
    "diagnose": "diagnosing.diagnose",
    "fits": "replacing.fits",
    "swap": "replacing.swap",
    "record": "recording.record",
    "cases": "recording.cases",
    "calc": "numbers.calc",
    "simulate": "numbers.simulate",
    "tables": "writing.tables",
    "table": "writing.table",
    "changes": "writing.changes",
    "draw": "writing.draw",
    "book": "binding.book",
    "validate": "authoring.validate",
    "triage": "triaging.triage",
    "import": "authoring.import_",
    "export": "authoring.export",
    "new-assembly": "authoring.new_assembly",
    "query": "looking.query",
    "serve": "serving.serve",
    "token": "serving.token",
}
"""Every command, in the order of `--help`, and the function that runs it."""

FREE_OPTIONS = {"allow_extra_args": True, "ignore_unknown_options": True}
"""Of `calc`: each calculation names its own inputs."""

OBJECTS = 100_000
"""New containers between two searches for garbage; a diagnosis makes fewer, so it ends before the first search."""


@cache
def _made(name: str) -> Any:
    """Return a command, from the module that holds it."""
    module, _, function = COMMANDS[name].partition(".")
    alone = typer.Typer(add_completion=False, rich_markup_mode=None, pretty_exceptions_enable=False)
    settings = FREE_OPTIONS if name == "calc" else None
    run = stored(getattr(import_module(f"clampgraph.cli.{module}"), function))
    alone.command(name, context_settings=settings)(run)
    return typer.main.get_command(alone)


class _Commands(Mapping[str, Any]):
    """The commands by name; each is made when it is asked for, so that none waits for the imports of the others."""

    def __getitem__(self, name: str) -> Any:
        return _made(name)

    def __iter__(self) -> Iterator[str]:
        return iter(COMMANDS)

    def __len__(self) -> int:
        return len(COMMANDS)


class _Group(TyperGroup):
    """What stands behind the word `clampgraph`."""

    def __init__(self, **given: Any) -> None:
        super().__init__(**given | {"commands": _Commands()})


app = typer.Typer(
    cls=_Group,
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
)


def _version(wanted: bool) -> None:
    if wanted:
        from importlib import metadata

        sys.stdout.write(f"clampgraph {metadata.version('clampgraph')}\n")
        raise typer.Exit


@app.callback()
def about(
    version: Annotated[  # its callback does the work
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Print the version and stop.")
    ] = False,
) -> None:
    """Diagnosis and replacement for tool-clamp assemblies of machining-centre spindles."""


def main() -> None:
    """Run the command line; every error of ours becomes one sentence and its exit code."""
    gc.set_threshold(OBJECTS)
    atexit.register(gc.freeze)  # what is left goes with the process: nobody need look through it once more
    try:
        app()
    except ClampgraphError as error:
        sys.stderr.write(f"{error}\n")
        sys.exit(error.exit_code)
    except BrokenPipeError:
        sys.exit(0)
