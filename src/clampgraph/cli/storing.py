"""The option that says where triples are kept; every command that opens the packs has it."""

import functools
import inspect
from collections.abc import Callable
from typing import Annotated, Any

import typer

from clampgraph.cli.doors import STORE
from clampgraph.errors import WrongCallError

__all__ = ["stored"]

Store = Annotated[
    str | None,
    typer.Option(
        "--store", metavar="PLACE", help="memory, a folder, or a SPARQL endpoint; else as CLAMPGRAPH_STORE says."
    ),
]


def stored(command: Callable[..., None]) -> Callable[..., None]:
    """Return a command with the option beside its own; unchanged if it opens no packs or has the option already."""
    own = inspect.signature(command)
    if "data" not in own.parameters or "store" in own.parameters:
        return command

    @functools.wraps(command)
    def run(*, store: Store = None, **given: Any) -> None:
        if store is not None and given.get("server") is not None:
            raise WrongCallError("A running service has its own store: give --store to 'clampgraph serve' instead.")
        before = STORE.set(store)
        try:
            command(**given)
        finally:
            STORE.reset(before)

    option = inspect.Parameter("store", inspect.Parameter.KEYWORD_ONLY, default=None, annotation=Store)
    parameters = [p.replace(kind=inspect.Parameter.KEYWORD_ONLY) for p in own.parameters.values()]
    run.__signature__ = own.replace(parameters=[*parameters, option])  # type: ignore[attr-defined]  # Typer reads it
    run.__annotations__ = {**command.__annotations__, "store": Store}
    return run
