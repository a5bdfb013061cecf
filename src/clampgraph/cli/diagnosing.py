"""Commands that find the cause."""

from typing import Annotated, Any

import typer

from clampgraph.answers.models import parse
from clampgraph.cli.options import AsJson, GenerationOption, Packs, Server, ask, pairs, screens, show_answer
from clampgraph.errors import WrongCallError

__all__ = ["diagnose"]


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
    from clampgraph.answers.diagnose import diagnose as answer_of
    from clampgraph.answers.diagnosis import DiagnoseRequest, DiagnosisAnswer

    body: dict[str, Any] = {
        "assembly": assembly,
        "generation": generation,
        "seen": seen or [],
        "unseen": unseen or [],
        "readings": pairs(reading, "reading", "CHECK=OUTCOME"),
        "ages": {k: _years(k, v) for k, v in pairs(age, "age", "POSITION=YEARS").items()},
        "conditions": dict(_condition(text) for text in condition or []),
        "all": everything,
    }
    if labour_rate is not None:
        body["labour_rate"] = labour_rate
    question = parse(DiagnoseRequest, body)
    answer = ask(
        server, data, lambda library: answer_of(library, question), DiagnosisAnswer, ("POST", "/diagnoses", body)
    )
    show_answer(answer, as_json, lambda: screens().diagnosis(answer, everything=everything))


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
