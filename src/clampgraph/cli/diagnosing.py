"""Commands that find the cause."""

from typing import Annotated, Any

import typer

from clampgraph.cli.case_store import Cases, taught_by
from clampgraph.cli.options import (
    Ages,
    AsJson,
    Conditions,
    GenerationOption,
    Language,
    Packs,
    Readings,
    Seen,
    Server,
    SiteFile,
    Unseen,
    ask,
    door,
    findings,
    pairs,
    screens,
    show_answer,
    with_site,
)

__all__ = ["diagnose", "identify"]


def diagnose(
    assembly: str,
    seen: Seen = None,
    unseen: Unseen = None,
    reading: Readings = None,
    age: Ages = None,
    condition: Conditions = None,
    generation: GenerationOption = None,
    site: SiteFile = None,
    labour_rate: Annotated[float | None, typer.Option(help="Labour rate [EUR/h].")] = None,
    cases: Cases = None,
    everything: Annotated[bool, typer.Option("--all", help="Every cause, not the likeliest dozen.")] = False,
    as_json: AsJson = False,
    lang: Language = None,
    server: Server = None,
    data: Packs = None,
) -> None:
    """What explains it?"""
    from clampgraph.answers.diagnosing.diagnose import diagnose as answer_of
    from clampgraph.answers.diagnosing.diagnosis import DiagnoseRequest, DiagnosisAnswer
    from clampgraph.answers.models import parse

    body: dict[str, Any] = {
        "assembly": assembly,
        "generation": generation,
        **findings(seen, unseen, reading, age, condition),
        "all": everything,
    }
    if labour_rate is not None:
        body["labour_rate"] = labour_rate
    if site is not None:
        body = with_site(body, site, data)
    question, taught = parse(DiagnoseRequest, body), taught_by(cases, server)
    answer = ask(
        door(server, data, lang),
        lambda library: answer_of(taught(library), question),
        DiagnosisAnswer,
        ("POST", "/diagnoses", body),
    )
    show_answer(answer, as_json, lambda: screens().diagnosis(answer, everything=everything))


def identify(
    feature: Annotated[list[str] | None, typer.Option(metavar="KEY=VALUE", help="A feature that was seen.")] = None,
    unreadable: Annotated[list[str] | None, typer.Option(metavar="KEY", help="A feature that cannot be seen.")] = None,
    as_json: AsJson = False,
    lang: Language = None,
    server: Server = None,
    data: Packs = None,
) -> None:
    """Which unit is fitted, and what should be looked at next?"""
    from clampgraph.answers.identifying.identify import IdentifyAnswer, IdentifyRequest
    from clampgraph.answers.identifying.identify import identify as answer_of
    from clampgraph.answers.models import parse

    body = {"features": pairs(feature, "feature", "KEY=VALUE"), "unreadable": unreadable or []}
    question = parse(IdentifyRequest, body)
    answer = ask(
        door(server, data, lang),
        lambda library: answer_of(library, question),
        IdentifyAnswer,
        ("POST", "/identifications", body),
    )
    show_answer(answer, as_json, lambda: screens().identification(answer))
