"""Commands of what it really was: record a closed job, and look at what was recorded and learned."""

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from clampgraph.cli.case_store import Cases, open_store, place_of
from clampgraph.cli.doors import fetch, service
from clampgraph.cli.options import (
    Ages,
    AsJson,
    Conditions,
    Door,
    GenerationOption,
    Packs,
    Readings,
    Seen,
    Server,
    Unseen,
    ask,
    door,
    findings,
    pairs,
    show_answer,
    years,
)
from clampgraph.cli.output import Output, write_out
from clampgraph.errors import DataError, WrongCallError

if TYPE_CHECKING:
    from clampgraph.answers.models import Answer

__all__ = ["cases", "record"]


def _screens() -> Any:
    from clampgraph.cli import case_screens

    return case_screens


def record(
    assembly: str,
    seen: Seen = None,
    unseen: Unseen = None,
    reading: Readings = None,
    age: Ages = None,
    condition: Conditions = None,
    found: Annotated[
        list[str] | None, typer.Option(metavar="POSITION:MODE", help="What it really was; nothing if none was found.")
    ] = None,
    replaced: Annotated[list[str] | None, typer.Option(metavar="MPN=N", help="Items that were put in.")] = None,
    minutes: Annotated[float | None, typer.Option(help="Time the job took [min].")] = None,
    note: Annotated[str | None, typer.Option(metavar="TEXT", help="Free text.")] = None,
    author: Annotated[str | None, typer.Option(metavar="NAME", help="Who tells it; can be forgotten later.")] = None,
    corrects: Annotated[int | None, typer.Option(metavar="CASE", help="The earlier case this one puts right.")] = None,
    generation: GenerationOption = None,
    key: Annotated[str | None, typer.Option(help="Sent again under its key, a case is kept once.")] = None,
    place: Cases = None,
    as_json: AsJson = False,
    server: Server = None,
    data: Packs = None,
) -> None:
    """What was it really?"""
    from uuid import uuid4

    from clampgraph.answers.models import parse
    from clampgraph.answers.recording.cases import CaseOut, RecordRequest
    from clampgraph.answers.recording.record import record as answer_of

    body = {
        "assembly": assembly,
        "generation": generation,
        "evidence": findings(seen, unseen, reading, age, condition),
        "found": found or [],
        "replaced": {mpn: _pieces(mpn, text) for mpn, text in pairs(replaced, "replaced", "MPN=N").items()},
        "minutes": minutes,
        "note": note,
        "author": author,
        "corrects": corrects,
        "key": key or str(uuid4()),
    }
    if not found:
        raise WrongCallError("Say what it was with --found POSITION:MODE, or --found nothing.")
    job, store = parse(RecordRequest, body), open_store(place, server)
    try:
        remote = "POST", "/cases", body
        kept = ask(door(server, data), lambda library: answer_of(library, store, job), CaseOut, remote)
    except DataError:
        sys.stderr.write(f"Whoever sends this case again adds --key {job.key}, and it is kept once.\n")
        raise
    show_answer(kept, as_json, lambda: _screens().case(kept))
    if store is not None and not place_of(place, server):
        sys.stderr.write(f"Kept in {store.place}; 'clampgraph diagnose --cases default' reckons with what is there.\n")


def _pieces(mpn: str, text: str) -> int:
    if not text.isascii() or not text.isdigit():
        raise WrongCallError(f"--replaced {mpn}={text} is no number of pieces; write {mpn}=1.")
    return int(text)


def cases(
    case: Annotated[int | None, typer.Argument(help="One case by its number; all of them if left out.")] = None,
    assembly: Annotated[str | None, typer.Option(help="Those of one assembly.")] = None,
    author: Annotated[str | None, typer.Option(metavar="NAME", help="Those of one author.")] = None,
    after: Annotated[int, typer.Option(help="Those recorded behind this one.")] = 0,
    limit: Annotated[int | None, typer.Option(help="How many at most; all of them if left out.")] = None,
    calibration: Annotated[
        bool, typer.Option("--calibration", help="Hold predictions against what was found.")
    ] = False,
    output: Output = None,
    figures: Annotated[bool, typer.Option("--figures", help="What was learned, beside the pack's figures.")] = False,
    exposure: Annotated[
        str | None, typer.Option(metavar="ASSEMBLY=YEARS", help="State the machine-years behind its cases.")
    ] = None,
    export: Annotated[Path | None, typer.Option(metavar="FILE.json", help="Write the cases to a file.")] = None,
    forget: Annotated[str | None, typer.Option(metavar="NAME", help="Erase a person and their free text.")] = None,
    place: Cases = None,
    as_json: AsJson = False,
    server: Server = None,
    data: Packs = None,
) -> None:
    """What was it in the past, and what was learned from it?"""
    asked = {
        "a case": case is not None, "--calibration": calibration, "--figures": figures,
        "--exposure": exposure is not None, "--forget": forget is not None,
    }  # fmt: skip
    narrowed = {
        "--assembly": assembly is not None and not calibration, "--author": author is not None, "--after": after != 0,
        "--limit": limit is not None, "--export": export is not None,
    }  # fmt: skip
    _check_alone([name for name, said in asked.items() if said], [name for name, said in narrowed.items() if said])
    if output is not None and not calibration:
        raise WrongCallError("-o writes the picture of --calibration; use --export FILE.json for cases.")
    where, store = door(server, data), open_store(place, server)
    screen = _CaseCommands(where, store, as_json=as_json)
    if case is not None:
        screen.one(case)
    elif calibration:
        screen.calibration(assembly, output)
    elif figures:
        screen.figures()
    elif exposure is not None:
        screen.exposure(exposure)
    elif forget is not None:
        screen.forget(forget)
    else:
        screen.all({"assembly": assembly, "author": author, "after": after}, limit, export)


def _check_alone(asked: list[str], narrowed: list[str]) -> None:
    """Refuse two questions in one call, and what would narrow a list beside a question that lists nothing."""
    if len(asked) > 1:
        raise WrongCallError("A case, --calibration, --figures, --exposure and --forget are asked one at a time.")
    if asked and narrowed:
        raise WrongCallError(f"{narrowed[0]} says nothing beside {asked[0]}; leave one of them out.")


class _CaseCommands:
    """One method for each thing that the command can do."""

    def __init__(self, where: Door, store: Any, *, as_json: bool) -> None:
        self.where, self.store, self.as_json = where, store, as_json

    def _show(self, answer: "Answer", screen: str) -> None:
        show_answer(answer, self.as_json, lambda: getattr(_screens(), screen)(answer))

    def one(self, number: int) -> None:
        from clampgraph.answers.recording.cases import CaseOut
        from clampgraph.answers.recording.listing import one_case

        if self.where.server is None:
            answer = one_case(self.store, number)
        else:
            answer = fetch(self.where.server, ("GET", f"/cases/{number}"), {}, CaseOut)
        self._show(answer, "case")

    def all(self, wanted: dict[str, Any], limit: int | None, export: Path | None) -> None:
        answer = self._pages(wanted, limit)
        if export is None:
            self._show(answer, "cases")
        else:
            write_out(answer.model_dump_json(indent=1) + "\n", export)

    def _pages(self, wanted: dict[str, Any], limit: int | None) -> Any:
        """Ask page after page, up to a limit."""
        from clampgraph.answers.models import parse
        from clampgraph.answers.recording.cases import LONGEST, CasesAnswer, CasesRequest
        from clampgraph.answers.recording.listing import cases as answer_of

        found: list[Any] = []
        after: int | None = wanted["after"]
        library = None if self.where.server else self.where.library()
        while after is not None:
            size = LONGEST if limit is None else min(limit - len(found), LONGEST)
            body = {k: v for k, v in {**wanted, "after": after, "limit": size}.items() if v is not None}
            question = parse(CasesRequest, body)
            if library is None:
                page = fetch(str(self.where.server), ("GET", "/cases"), body, CasesAnswer)
            else:
                page = answer_of(library, self.store, question)
            found, after = [*found, *page.cases], page.after
            if limit is not None and len(found) >= limit:
                break
        return CasesAnswer(cases=tuple(found), after=after)

    def calibration(self, assembly: str | None, output: Path | None) -> None:
        from clampgraph.answers.recording.calibrating import CalibrationAnswer
        from clampgraph.answers.recording.calibrating import calibration as answer_of

        query = {"assembly": assembly} if assembly else {}
        answer = ask(
            self.where,
            lambda library: answer_of(library, self.store, assembly),
            CalibrationAnswer,
            ("GET", "/cases/calibration", query),
        )
        if output is not None:
            from clampgraph.drawing.reliability_plot import reliability_svg

            write_out(reliability_svg(answer), output)
        if output is None or self.as_json:
            self._show(answer, "calibration")

    def figures(self) -> None:
        from clampgraph.answers.recording.figures import FiguresAnswer
        from clampgraph.answers.recording.figures import figures as answer_of
        from clampgraph.answers.recording.lessons import Teacher

        answer = ask(
            self.where,
            lambda library: answer_of(library, Teacher(self.store)),
            FiguresAnswer,
            ("GET", "/cases/figures", {}),
        )
        self._show(answer, "figures")

    def exposure(self, text: str) -> None:
        from clampgraph.answers.models import parse
        from clampgraph.answers.recording.figures import ExposureOut, ExposureRequest, state_exposure

        ((assembly, told),) = years([text], "exposure", "ASSEMBLY=YEARS").items()
        body = {"assembly": assembly, "years": told}
        request = parse(ExposureRequest, body)
        answer = ask(
            self.where,
            lambda library: state_exposure(library, self.store, request),
            ExposureOut,
            ("POST", "/cases/exposures", body),
        )
        self._show(answer, "exposure")

    def forget(self, name: str) -> None:
        from urllib.parse import quote

        from clampgraph.answers.recording.listing import ForgottenAnswer
        from clampgraph.answers.recording.listing import forget as answer_of

        if self.where.server is None:
            answer = answer_of(self.store, name)
        else:
            path = f"/cases/authors/{quote(name, safe='')}"
            with service(self.where.server) as found:  # sent once: the second time there is nobody to forget
                answer = found.ask("DELETE", path, ForgottenAnswer, again=False)
        self._show(answer, "forgotten")
