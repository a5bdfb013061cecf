"""What a calculation is: a formula with named inputs in trade units, results, source and validity."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Any

__all__ = ["Calculation", "Cautions", "Input", "Output"]

Cautions = Callable[[Mapping[str, Any], Mapping[str, Any]], Iterable[str]]
"""Sentences to warn with, from the SI inputs (by keyword) and the SI results (by name)."""


@dataclass(frozen=True, slots=True)
class Input:
    """One input.

    Parameters
    ----------
    name
        Key on the command line, in trade words; the `symbol` is taken as well.
    symbol
        Keyword of the function.
    dimension
        Dimension of the quantity, or ``count``, ``choice`` or ``text``.
    unit
        Unit to show as an example; empty where there is none.
    description
        What it is, in a few words; a pressure says whether it is gauge or absolute.
    default
        Text that stands in when nothing is given; None if it must be given.
    choices
        What a choice allows.
    optional
        Whether it may stay away altogether; the function then gets None.
    """

    name: str
    symbol: str
    dimension: str
    unit: str
    description: str
    default: str | None = None
    choices: tuple[str, ...] = ()
    optional: bool = False


@dataclass(frozen=True, slots=True)
class Output:
    """One result: its name, dimension (or ``text``) and the unit to show."""

    name: str
    dimension: str
    unit: str


@dataclass(frozen=True, slots=True)
class Calculation:
    """A formula that a technician calls by name.

    The `function` takes the inputs in SI by their symbols and gives a mapping from output name to SI value;
    an output that the inputs leave open is left out.
    """

    name: str
    title: str
    function: Callable[..., Mapping[str, Any]]
    inputs: tuple[Input, ...]
    outputs: tuple[Output, ...]
    source: str
    validity: str
    cautions: Cautions = lambda _given, _found: ()
