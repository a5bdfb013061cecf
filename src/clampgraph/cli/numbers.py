"""Commands that compute: single figures, and a whole stroke."""

from pathlib import Path
from typing import Annotated, Any

import typer

from clampgraph.cli.options import AsJson, GenerationOption, Language, Packs, Server, ask, door, show_answer
from clampgraph.cli.output import write_out
from clampgraph.errors import WrongCallError

__all__ = ["calc", "simulate"]


def _screens() -> Any:
    from clampgraph.cli import number_screens

    return number_screens


def calc(
    context: typer.Context,
    name: Annotated[str, typer.Argument(help="A calculation; without one, all are listed.")] = "",
    as_json: AsJson = False,
    server: Server = None,
) -> None:
    """Compute a figure: give each input as --NAME VALUE with its unit, such as --pressure 6bar."""
    from clampgraph.answers.calculate import CalculationAnswer, CalculationsAnswer, calculate, calculations
    from clampgraph.cli.doors import fetch

    inputs = _inputs(context.args)
    if not name:
        listed = calculations() if server is None else fetch(server, ("GET", "/calculations"), {}, CalculationsAnswer)
        show_answer(listed, as_json, lambda: _screens().calculations(listed))
        return
    if server is None:
        answer = calculate(name, inputs)
    else:
        answer = fetch(server, ("POST", f"/calculations/{name}"), inputs, CalculationAnswer)
    show_answer(answer, as_json, lambda: _screens().calculation(answer))


def _inputs(arguments: list[str]) -> dict[str, str]:
    found: dict[str, str] = {}
    rest = iter(arguments)
    for argument in rest:
        if not argument.startswith("--"):
            raise WrongCallError(
                f"'{argument}' belongs to no input; write each as --NAME VALUE, such as --pressure 6bar."
            )
        key, equals, value = argument[2:].partition("=")
        text = value if equals else next(rest, "")
        if not text or (not equals and text.startswith("--")):
            raise WrongCallError(f"--{key} has no value; write for example --{key} 6bar.")
        if key in found:
            raise WrongCallError(f"--{key} is given twice; say it once.")
        found[key] = text
    return found


def simulate(
    assembly: str,
    fault: Annotated[
        list[str] | None, typer.Option(metavar="POSITION:MODE", help="Inject a failure mode; may be repeated.")
    ] = None,
    generation: GenerationOption = None,
    plot: Annotated[Path | None, typer.Option(metavar="F.svg", help="Draw pressure, travel, speed and force.")] = None,
    trace: Annotated[bool, typer.Option("--trace", help="Return the course over time.")] = False,
    as_json: AsJson = False,
    lang: Language = None,
    server: Server = None,
    data: Packs = None,
) -> None:
    """What does one tool change look like in numbers?"""
    from clampgraph.answers.models import parse
    from clampgraph.answers.stroke.simulate import SimulateRequest, SimulationAnswer
    from clampgraph.answers.stroke.simulate import simulate as answer_of

    body: dict[str, Any] = {
        "assembly": assembly,
        "generation": generation,
        "faults": fault or [],
        "trace": trace or plot is not None,
    }
    question = parse(SimulateRequest, body)
    answer = ask(
        door(server, data, lang),
        lambda library: answer_of(library, question),
        SimulationAnswer,
        ("POST", "/simulations", body),
    )
    if plot is not None:
        from clampgraph.drawing.stroke_plot import stroke_svg

        write_out(stroke_svg(answer), plot)
    if plot is None or as_json:
        show_answer(answer, as_json, lambda: _screens().simulation(answer))
