"""Commands for those who publish: tables, what changed, pictures."""

import json
from collections.abc import Callable, Mapping
from contextlib import nullcontext
from pathlib import Path
from typing import Annotated, Any

import typer

from clampgraph.cli.doors import fetch_bytes
from clampgraph.cli.options import AsJson, GenerationOption, Language, Packs, Server, ask, door, screens, show_answer
from clampgraph.cli.output import Output, write_out
from clampgraph.cli.progress import progress
from clampgraph.errors import WrongCallError

__all__ = ["changes", "draw", "table", "tables"]


def tables(as_json: AsJson = False, lang: Language = None, server: Server = None, data: Packs = None) -> None:
    """Which tables are there?"""
    from clampgraph.answers.table import TablesAnswer
    from clampgraph.answers.table import tables as answer_of

    answer = ask(door(server, data, lang), answer_of, TablesAnswer, ("GET", "/tables", {}))
    show_answer(answer, as_json, lambda: screens().tables(answer))


def table(
    name: str,
    assembly: Annotated[str | None, typer.Option(help="All of them if left out.")] = None,
    generation: GenerationOption = None,
    form: Annotated[str, typer.Option("--format", help="md, html, csv, tex, xlsx, json, dita or cals.")] = "md",
    symptom: Annotated[str | None, typer.Option(help="One top event only.")] = None,
    order: Annotated[int, typer.Option(help="The largest number of causes in a cut set.")] = 2,
    compact: Annotated[bool, typer.Option("--compact", help="A list where the table is a wide matrix.")] = False,
    differing: Annotated[bool, typer.Option("--differing", help="Only the rows in which variants differ.")] = False,
    priority: Annotated[bool, typer.Option("--priority", help="Add the multiplied priority number.")] = False,
    output: Output = None,
    as_json: AsJson = False,
    lang: Language = None,
    server: Server = None,
    data: Packs = None,
) -> None:
    """What does a table of the service manual say?"""
    from clampgraph.answers.models import parse
    from clampgraph.answers.table import TableRequest, render

    body: dict[str, Any] = {
        "name": name, "assembly": assembly, "generation": generation, "symptom": symptom, "order": order,
        "compact": compact, "differing": differing, "priority": priority,
    }  # fmt: skip
    question = parse(TableRequest, body)
    wanted = "json" if as_json else form
    query = {key: str(value) for key, value in body.items() if key != "name" and value not in (None, False)}
    library = door(None, data, lang).library() if server is None else None

    def written(name_of_format: str) -> bytes:
        if library is None:
            return fetch_bytes(server or "", f"/tables/{name}", {**query, "format": name_of_format}, lang)
        with progress(f"Rows of {name}") if output else nullcontext() as counted:
            told = None if counted is None else lambda rows: counted("", rows, 0)
            return render(library, question, name_of_format, told)[0]

    content = written(wanted)
    write_out(content if content.endswith(b"\n") or wanted == "xlsx" else content + b"\n", output)
    if output is not None and wanted.lower() == "csv":
        write_out(*_beside(written("csvm"), output))


def _beside(content: bytes, output: Path) -> tuple[bytes, Path]:
    """Return the metadata of a CSV file and where they go: there readers of CSV on the Web look for them."""
    described = json.loads(content) | {"url": output.name}
    text = json.dumps(described, ensure_ascii=False, indent=1) + "\n"
    return text.encode(), output.with_name(f"{output.name}-metadata.json")


def changes(
    old: Annotated[str, typer.Argument(help="A pack, a folder, or an edition.")],
    new: Annotated[str, typer.Argument(help="The same for the newer one.")],
    tables: Annotated[list[str] | None, typer.Option("--table", help="One table only; may be repeated.")] = None,
    assembly: Annotated[str | None, typer.Option(help="All of them if left out.")] = None,
    form: Annotated[str, typer.Option("--format", help="md, html, csv, tex, xlsx, json, dita or cals.")] = "md",
    output: Output = None,
    as_json: AsJson = False,
) -> None:
    """What changed since the last edition?"""
    from clampgraph.answers.changes import ChangesRequest, open_edition, render_changes
    from clampgraph.answers.changes import changes as answer_of
    from clampgraph.answers.models import parse

    question = parse(ChangesRequest, {"old": old, "new": new, "tables": tables or [], "assembly": assembly})
    if as_json or form == "json":
        write_out(answer_of(question).model_dump_json() + "\n", output)
        return
    content, _ = render_changes(open_edition(old), open_edition(new), question, form)
    write_out(content, output)


def draw(
    assembly: str,
    positions: Annotated[list[str] | None, typer.Argument(help="What to reach, with --disassembly.")] = None,
    phase: Annotated[str, typer.Option(help="Shows which lines carry pressure and which vent.")] = "clamped",
    highlight: Annotated[
        list[str] | None, typer.Option(metavar="POSITION[:MODE]", help="Mark a suspect; may be repeated.")
    ] = None,
    cause: Annotated[
        str | None, typer.Option(metavar="POSITION:MODE", help="Draw what this leads to, port by port.")
    ] = None,
    symptom: Annotated[str | None, typer.Option(help="With --cause: the path to this symptom only.")] = None,
    disassembly: Annotated[bool, typer.Option("--disassembly", help="Draw what must come off before what.")] = False,
    generation: GenerationOption = None,
    output: Output = None,
    lang: Language = None,
    server: Server = None,
    data: Packs = None,
) -> None:
    """What does its circuit look like, where does a cause lead, what must come off before what?"""
    from clampgraph.answers import draw as pictures
    from clampgraph.answers.models import parse

    given = {"phase": phase, "highlight": highlight or [], "cause": cause, "symptom": symptom, "positions": positions}
    kind = _picture(given, disassembly)
    kinds: dict[str, tuple[tuple[str, ...], Any, Callable[..., str]]] = {
        "drawing": (("phase", "highlight"), pictures.DrawRequest, pictures.draw),
        "influence": (("cause", "symptom"), pictures.InfluenceRequest, pictures.draw_influence),
        "disassembly": (("positions",), pictures.DisassemblyRequest, pictures.draw_disassembly),
    }
    fields, model, answer_of = kinds[kind]
    query: dict[str, Any] = {name: given[name] for name in fields if given[name]}
    query |= {"generation": generation} if generation else {}
    question = parse(model, {"assembly": assembly, **query})
    if server is None:
        write_out(answer_of(door(None, data, lang).library(), question), output)
        return
    write_out(fetch_bytes(server, f"/assemblies/{assembly}/{kind}.svg", query, lang), output)


def _picture(given: Mapping[str, Any], disassembly: bool) -> str:
    """Tell which picture is asked for.

    Raises
    ------
    WrongCallError
        If options of two pictures stand together.
    """
    if disassembly and given["cause"]:
        raise WrongCallError("--cause and --disassembly ask for two pictures; draw one after the other.")
    if given["positions"] and not disassembly:
        raise WrongCallError(f"'{given['positions'][0]}' is no option of the circuit; to reach it, add --disassembly.")
    if given["symptom"] and not given["cause"]:
        raise WrongCallError("--symptom needs the cause that leads to it; write --cause POSITION:MODE.")
    return "disassembly" if disassembly else "influence" if given["cause"] else "drawing"
