"""Commands that look: what is there, and how it is called."""

import sys
from pathlib import Path
from typing import Annotated
from urllib.parse import quote

import typer

from clampgraph.cli.doors import fetch_bytes, open_library, service
from clampgraph.cli.options import (
    AsJson,
    GenerationOption,
    Language,
    Packs,
    Server,
    ask,
    door,
    pairs,
    screens,
    show_answer,
)
from clampgraph.errors import WrongCallError

__all__ = ["assemblies", "query", "show", "symptoms"]


def assemblies(as_json: AsJson = False, lang: Language = None, server: Server = None, data: Packs = None) -> None:
    """What is there?"""
    from clampgraph.answers.assemblies import AssembliesAnswer
    from clampgraph.answers.assemblies import assemblies as answer_of

    answer = ask(door(server, data, lang), answer_of, AssembliesAnswer, ("GET", "/assemblies", {}))
    show_answer(answer, as_json, lambda: screens().assemblies(answer))


def show(
    assembly: str,
    generation: GenerationOption = None,
    network: Annotated[
        str | None, typer.Option(metavar="FORMAT", help="Export the derived network instead: json or bif.")
    ] = None,
    as_json: AsJson = False,
    lang: Language = None,
    server: Server = None,
    data: Packs = None,
) -> None:
    """What does one assembly consist of?"""
    from clampgraph.answers.assemblies import ShowAnswer
    from clampgraph.answers.assemblies import show as answer_of

    if network is not None:
        _export(assembly, generation, network, server, data)
        return
    question = {} if generation is None else {"generation": generation}
    answer = ask(door(server, data, lang), lambda library: answer_of(library, assembly, generation), ShowAnswer,
        ("GET", f"/assemblies/{quote(assembly, safe='')}", question),
    )  # fmt: skip
    show_answer(answer, as_json, lambda: screens().show(answer))


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
    answer = ask(door(server, packs), lambda library: network(library, assembly, generation), NetworkAnswer,
        ("GET", f"/assemblies/{quote(assembly, safe='')}/network", question),
    )  # fmt: skip
    sys.stdout.write(answer.model_dump_json() + "\n")


def symptoms(
    text: Annotated[str, typer.Argument(help="What people say at the machine.")] = "",
    as_json: AsJson = False,
    lang: Language = None,
    server: Server = None,
    data: Packs = None,
) -> None:
    """How is this symptom called?"""
    from clampgraph.answers.symptoms import SymptomsAnswer
    from clampgraph.answers.symptoms import symptoms as answer_of

    answer = ask(
        door(server, data, lang),
        lambda library: answer_of(library, text),
        SymptomsAnswer,
        ("GET", "/symptoms", {"q": text}),
    )
    show_answer(answer, as_json, lambda: screens().symptoms(answer))


def query(
    name: Annotated[str, typer.Argument(help="A named query; without one, all are listed.")] = "",
    bind: Annotated[list[str] | None, typer.Option(metavar="KEY=VALUE", help="A value for the query.")] = None,
    file: Annotated[Path | None, typer.Option(metavar="Q.rq", help="Run the SPARQL in a file instead.")] = None,
    wanted: Annotated[
        str, typer.Option("--format", help="json, xml, csv, tsv; turtle, ntriples, jsonld for graphs.")
    ] = "",
    as_json: AsJson = False,
    lang: Language = None,
    server: Server = None,
    data: Packs = None,
) -> None:
    """Ask anything: which named queries are there, and what do they answer?"""
    from clampgraph.answers.query import QueriesAnswer, queries, raw, run

    if name and file is not None:
        raise WrongCallError("Give the name of a query or --file, not both.")
    if not name and file is None:
        answer = ask(door(server, data, lang), lambda _: queries(), QueriesAnswer, ("GET", "/queries", {}))
        show_answer(answer, as_json, lambda: screens().queries(answer))
        return
    form = wanted or ("json" if as_json else "")
    bindings = pairs(bind, "bind", "KEY=VALUE")
    if server is not None and file is not None:
        with service(server) as found:
            body = found.document("/sparql", {"format": form}, _text_of(file))
    elif server is not None:
        body = fetch_bytes(server, f"/queries/{name}", {**bindings, "format": form})
    elif file is not None:
        body = raw(open_library(data or []), _text_of(file), form).body
    else:
        body = run(open_library(data or []), name, bindings, form or "csv").body
    sys.stdout.write(body.decode("utf-8").rstrip("\n") + "\n")


def _text_of(file: Path) -> str:
    try:
        return file.read_text("utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise WrongCallError(f"{file} cannot be read as a query: {error}.") from error
