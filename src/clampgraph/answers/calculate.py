"""The numbers: a calculation by name, from trade text to results with units, source and warnings."""

from collections.abc import Mapping

from pydantic import Field

from clampgraph.answers.models import Answer
from clampgraph.physics.catalogue import CALCULATIONS, run

__all__ = [
    "CalculationAnswer",
    "CalculationInputOut",
    "CalculationOut",
    "CalculationsAnswer",
    "FigureOut",
    "calculate",
    "calculations",
]


class FigureOut(Answer):
    """A number with its unit, or a word with none."""

    value: float | str
    unit: str = Field(description="Unit as written in trade; empty for words and plain numbers.")


class CalculationAnswer(Answer):
    """What a calculation gives."""

    calculation: str
    title: str
    inputs: dict[str, FigureOut]
    results: dict[str, FigureOut]
    source: str
    validity: str
    warnings: tuple[str, ...]


class CalculationInputOut(Answer):
    """An input of a calculation."""

    name: str
    symbol: str
    dimension: str
    unit: str
    description: str
    default: str | None
    choices: tuple[str, ...]
    optional: bool


class CalculationOut(Answer):
    """A calculation that can be called by name."""

    name: str
    title: str
    inputs: tuple[CalculationInputOut, ...]
    results: tuple[str, ...]
    source: str
    validity: str


class CalculationsAnswer(Answer):
    """Every calculation, by name."""

    calculations: tuple[CalculationOut, ...]


def calculate(name: str, inputs: Mapping[str, str]) -> CalculationAnswer:
    """Answer one calculation; inputs are texts such as ``6bar`` by the names that `calculations` lists.

    Raises
    ------
    UnknownNameError
        If there is no such calculation or input; it names the nearest.
    QuantityError
        If an input is missing, is no quantity of its dimension, or lies outside its range.

    Examples
    --------
    >>> calculate("cylinder-force", {"pressure": "6bar", "bore": "100mm"}).results["push"].unit
    'kN'
    """
    return CalculationAnswer.model_validate(run(name, inputs))


def calculations() -> CalculationsAnswer:
    """List every calculation with its inputs and results."""
    return CalculationsAnswer(
        calculations=tuple(
            CalculationOut(
                name=c.name,
                title=c.title,
                inputs=tuple(
                    CalculationInputOut(
                        name=i.name, symbol=i.symbol, dimension=i.dimension, unit=i.unit,
                        description=i.description, default=i.default, choices=i.choices, optional=i.optional,
                    )
                    for i in c.inputs
                ),
                results=tuple(out.name for out in c.outputs),
                source=c.source,
                validity=c.validity,
            )
            for _, c in sorted(CALCULATIONS.items())
        )
    )  # fmt: skip
