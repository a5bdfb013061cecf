"""The command that ranks work orders in bulk."""

import sys
from pathlib import Path
from typing import Annotated

import typer

from clampgraph.cli.doors import STORE
from clampgraph.cli.options import Packs
from clampgraph.cli.progress import progress

__all__ = ["triage"]


def triage(
    tickets: Annotated[Path, typer.Argument(metavar="TICKETS", help="Parquet or CSV with a ticket in each row.")],
    output: Annotated[Path, typer.Option("-o", "--output", metavar="RANKED", help="Parquet or CSV to write.")],
    top: Annotated[int, typer.Option(min=1, max=12, help="How many causes of each ticket to tell.")] = 3,
    scheduler: Annotated[
        str | None, typer.Option(metavar="ADDRESS", help="Spread the work over a Dask cluster.")
    ] = None,
    restart: Annotated[bool, typer.Option("--restart", help="Throw away what an earlier run left unfinished.")] = False,
    data: Packs = None,
) -> None:
    """What explains each of these work orders?

    Columns: ticket, assembly; and, where there are such, generation, seen, unseen, readings.
    Those three hold lists, or texts with semicolons: 'slow-return; hiss-at-rest', 'read-supply-pressure=4.1bar'.
    The answer has the columns ticket, rank, position, failure_mode, probability, problem and unexplained (the
    probability that no known cause explains the findings), a row for each cause, ticket by ticket.
    A killed run goes on where it stopped when it is called again. Needs the extra 'fleet'.
    """
    from clampgraph.fleet.triage import Run, triage

    run = Run(tickets, output, tuple(data or ()), STORE.get(), top, scheduler, restart)
    with progress("Tickets") as counted:
        count = triage(run, counted)
    sys.stdout.write(f"{output}: {count} tickets ranked.\n")
