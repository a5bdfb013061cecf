"""Commands: parse, ask, print. Results go to standard output, messages to standard error."""

import sys
from collections.abc import Callable
from pathlib import Path
from typing import Annotated, Any, TypeVar

import typer

from clampgraph.answers.library import Library
from clampgraph.answers.models import Answer, parse
from clampgraph.cli.doors import fetch, open_library
from clampgraph.errors import ClampgraphError, WrongCallError

__all__ = ["app", "main"]

app = typer.Typer(
    help="Diagnosis and replacement for tool-clamp assemblies of machining-centre spindles.",
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
)

A = TypeVar("A", bound=Answer)

AsJson = Annotated[bool, typer.Option("--json", help="Print the answer as HTTP sends it.")]
Server = Annotated[str | None, typer.Option("--server", metavar="URL", help="Ask a running service.")]
Packs = Annotated[
    list[Path] | None, typer.Option("--data", metavar="PATH", help="Load a further pack, file or folder.")
]
GenerationOption = Annotated[str | None, typer.Option(help="The newest one if left out.")]


def _ask(
    server: str | None, packs: list[Path] | None, local: Callable[[Library], A], model: type[A],
    remote: tuple[str, str, dict[str, Any]],
) -> A:  # fmt: skip
    if server is None:
        return local(open_library(packs or []))
    if packs:
        raise WrongCallError("A running service has its own packs: give --data to 'clampgraph serve' instead.")
    method, path, body = remote
    return fetch(server, (method, path), body, model)


def _print(answer: Answer, as_json: bool, screen: Callable[[], Any]) -> None:
    if as_json:
        sys.stdout.write(answer.model_dump_json() + "\n")
        return
    from clampgraph.cli.screens import console

    console().print(screen())


@app.command()
def assemblies(as_json: AsJson = False, server: Server = None, data: Packs = None) -> None:
    """What is there?"""
    from clampgraph.answers.assemblies import AssembliesAnswer
    from clampgraph.answers.assemblies import assemblies as ask

    answer = _ask(server, data, ask, AssembliesAnswer, ("GET", "/assemblies", {}))
    _print(answer, as_json, lambda: _screens().assemblies(answer))


@app.command()
def show(
    assembly: str,
    generation: GenerationOption = None,
    network: Annotated[
        str | None, typer.Option(metavar="FORMAT", help="Export the derived network instead: json or bif.")
    ] = None,
    as_json: AsJson = False,
    server: Server = None,
    data: Packs = None,
) -> None:
    """What does one assembly consist of?"""
    from clampgraph.answers.assemblies import ShowAnswer
    from clampgraph.answers.assemblies import show as ask

    if network is not None:
        _export(assembly, generation, network, server, data)
        return
    question = {} if generation is None else {"generation": generation}
    answer = _ask(
        server, data, lambda library: ask(library, assembly, generation), ShowAnswer,
        ("GET", f"/assemblies/{assembly}", question),
    )  # fmt: skip
    _print(answer, as_json, lambda: _screens().show(answer))


def _export(assembly: str, generation: str | None, kind: str, server: str | None, packs: list[Path] | None) -> None:
    from clampgraph.answers.network import NetworkAnswer, network, network_bif

    if kind not in ("json", "bif"):
        raise WrongCallError(f"There is no network format '{kind}'; choose json or bif.")
    if kind == "bif":
        if server is not None:
            raise WrongCallError("The bif format is written here: leave --server out, or ask for json.")
        sys.stdout.write(network_bif(open_library(packs or []), assembly, generation))
        return
    question = {} if generation is None else {"generation": generation}
    answer = _ask(
        server, packs, lambda library: network(library, assembly, generation), NetworkAnswer,
        ("GET", f"/assemblies/{assembly}/network", question),
    )  # fmt: skip
    sys.stdout.write(answer.model_dump_json() + "\n")


@app.command()
def symptoms(
    text: Annotated[str, typer.Argument(help="What people say at the machine.")] = "",
    as_json: AsJson = False,
    server: Server = None,
    data: Packs = None,
) -> None:
    """How is this symptom called?"""
    from clampgraph.answers.symptoms import SymptomsAnswer
    from clampgraph.answers.symptoms import symptoms as ask

    answer = _ask(server, data, lambda library: ask(library, text), SymptomsAnswer, ("GET", "/symptoms", {"q": text}))
    _print(answer, as_json, lambda: _screens().symptoms(answer))


@app.command()
def diagnose(
    assembly: str,
    seen: Annotated[list[str] | None, typer.Option(help="A symptom that was seen.")] = None,
    unseen: Annotated[list[str] | None, typer.Option(help="A symptom that was looked for and is absent.")] = None,
    reading: Annotated[list[str] | None, typer.Option(metavar="CHECK=OUTCOME", help="A check that was made.")] = None,
    age: Annotated[
        list[str] | None, typer.Option(metavar="POSITION=YEARS", help="Years since the item was renewed.")
    ] = None,
    condition: Annotated[
        list[str] | None, typer.Option(help="A condition known to hold; CONDITION=absent if known not to.")
    ] = None,
    generation: GenerationOption = None,
    labour_rate: Annotated[float | None, typer.Option(help="Labour rate [EUR/h].")] = None,
    everything: Annotated[bool, typer.Option("--all", help="Every cause, not the likeliest dozen.")] = False,
    as_json: AsJson = False,
    server: Server = None,
    data: Packs = None,
) -> None:
    """What explains it?"""
    from clampgraph.answers.diagnose import diagnose as ask
    from clampgraph.answers.diagnosis import DiagnoseRequest, DiagnosisAnswer

    body: dict[str, Any] = {
        "assembly": assembly,
        "generation": generation,
        "seen": seen or [],
        "unseen": unseen or [],
        "readings": _pairs(reading, "reading", "CHECK=OUTCOME"),
        "ages": {k: _years(k, v) for k, v in _pairs(age, "age", "POSITION=YEARS").items()},
        "conditions": dict(_condition(text) for text in condition or []),
        "all": everything,
    }
    if labour_rate is not None:
        body["labour_rate"] = labour_rate
    question = parse(DiagnoseRequest, body)
    answer = _ask(server, data, lambda library: ask(library, question), DiagnosisAnswer, ("POST", "/diagnoses", body))
    _print(answer, as_json, lambda: _screens().diagnosis(answer, everything=everything))


def _pairs(texts: list[str] | None, option: str, form: str) -> dict[str, str]:
    found: dict[str, str] = {}
    for text in texts or []:
        key, equals, value = text.partition("=")
        if not (key and equals and value):
            raise WrongCallError(f"--{option} '{text}' is incomplete; write {form}.")
        if key in found:
            raise WrongCallError(f"--{option} names '{key}' twice; say it once.")
        found[key] = value
    return found


def _years(position: str, text: str) -> float:
    number = text.removesuffix("yr").removesuffix("y").strip()
    try:
        return float(number)
    except ValueError:
        raise WrongCallError(f"--age {position}={text} is no number of years; write {position}=12.") from None


def _condition(text: str) -> tuple[str, bool]:
    name, _, state = text.partition("=")
    if state not in ("", "present", "absent"):
        raise WrongCallError(f"--condition '{text}' is unclear; write {name}, {name}=present or {name}=absent.")
    return name, state != "absent"


@app.command()
def validate(
    paths: Annotated[list[Path], typer.Argument(help="Files and folders of RDF packs.")], as_json: AsJson = False
) -> None:
    """Is my data sound?"""
    from clampgraph.answers.validate import validate as ask

    answer = ask(paths)
    _print(answer, as_json, lambda: _screens().findings(answer))
    if not answer.valid:
        raise typer.Exit(1)


@app.command()
def serve(
    host: Annotated[str, typer.Option(help="Address to listen on; only this machine by default.")] = "127.0.0.1",
    port: Annotated[int, typer.Option(min=0, max=65535)] = 8350,
    data: Packs = None,
) -> None:
    """Run the service over HTTP."""
    import importlib

    # The two doors do not import each other; the service is found by name.
    create_app = importlib.import_module("clampgraph.api.app").create_app
    importlib.import_module("uvicorn").run(create_app(packs=data or []), host=host, port=port, log_level="info")


def _screens() -> Any:
    from clampgraph.cli import screens

    return screens


def main() -> None:
    """Run the command line; every error of ours becomes one sentence and its exit code."""
    try:
        app()
    except ClampgraphError as error:
        sys.stderr.write(f"{error}\n")
        sys.exit(error.exit_code)
    except BrokenPipeError:
        sys.exit(0)
