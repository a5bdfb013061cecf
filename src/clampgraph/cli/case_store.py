"""The option that says where cases are kept, and what a command does with it."""

import os
from typing import TYPE_CHECKING, Annotated, Any

import typer

from clampgraph.errors import WrongCallError

if TYPE_CHECKING:
    from collections.abc import Callable

    from clampgraph.answers.library import Library

__all__ = ["Cases", "open_store", "place_of", "taught_by"]

Cases = Annotated[
    str | None,
    typer.Option(
        "--cases", metavar="PLACE", help="Case store: a file, postgresql://..., or default; CLAMPGRAPH_CASES."
    ),
]


def place_of(cases: str | None, server: str | None) -> str:
    """Return where cases are kept, as the option or the environment says; empty if neither says anything."""
    if server is not None and cases is not None:
        raise WrongCallError("A running service has its own case store: give --cases to 'clampgraph serve' instead.")
    return cases or os.environ.get("CLAMPGRAPH_CASES", "")


def open_store(cases: str | None, server: str | None) -> Any:
    """Return the case store; None where a running service has it."""
    place = place_of(cases, server)
    if server is not None:
        return None
    from clampgraph.cases.store import CaseStore

    return CaseStore(place)


def taught_by(cases: str | None, server: str | None) -> "Callable[[Library], Library]":
    """Return what teaches a library the figures of a case store; without a store it stays as it is.

    Raises
    ------
    WrongCallError
        If a store and a service are both named.
    """
    if not place_of(cases, server) or server is not None:
        return lambda library: library
    from clampgraph.answers.recording.lessons import Teacher

    return Teacher(open_store(cases, server)).taught
