"""Triage: every ticket of a file gets its likeliest causes, in bounded memory, and a killed run can be taken up."""

import hashlib
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from clampgraph.answers.library import Library
from clampgraph.errors import WrongCallError
from clampgraph.fleet.cluster import Job, spread
from clampgraph.fleet.journal import Journal
from clampgraph.fleet.ranking import Ranker
from clampgraph.fleet.tickets import Tickets

__all__ = ["Counted", "Run", "triage"]

Counted = Callable[[str, int, int], None]
"""Told after each block: what is done, how many tickets are done, and how many there are, 0 where nobody knows."""

BLOCK = 50_000
"""Tickets in a block."""


@dataclass(frozen=True)
class Run:
    """One run of triage.

    Parameters
    ----------
    tickets, target
        The file that is read, and the file that is made: Parquet or CSV.
    packs, store
        What is loaded beside the shipped packs, and where triples are kept.
    top
        How many causes of each ticket are told.
    scheduler
        Address of a Dask scheduler; this process alone if none is named.
    restart
        Throw away what an earlier run left unfinished.
    rows
        Tickets in a block.
    """

    tickets: Path
    target: Path
    packs: tuple[Path, ...] = ()
    store: str | None = None
    top: int = 3
    scheduler: str | None = None
    restart: bool = False
    rows: int = BLOCK


def triage(run: Run, counted: Counted | None = None) -> int:
    """Rank every ticket of a file; return how many there were.

    Raises
    ------
    UnknownNameError
        If there is no such file.
    WrongCallError
        If a file is neither Parquet nor CSV, lacks a column, cannot be written, or an earlier run left blocks that
        depended on something else.
    StoreError
        If the disk is full, or the cluster is lost; the same run again goes on where it stopped.
    """
    if run.tickets.absolute() == run.target.absolute():
        raise WrongCallError(f"{run.target} holds the tickets themselves; name another file for the ranked ones.")
    tickets = Tickets(run.tickets, run.rows)
    library = Library.open(run.packs, run.store)
    about = {"tickets": _digest(run.tickets), "edition": library.graph.edition, "top": run.top, "rows": run.rows}
    journal = Journal(run.target, about, restart=run.restart)
    done, total, sizes = 0, tickets.total or 0, []

    def open_blocks() -> Iterator[tuple[int, Any]]:
        nonlocal done
        for number, block in enumerate(tickets.blocks()):
            sizes.append(block.num_rows)
            if number in journal:
                done += block.num_rows
            else:
                yield number, block

    for number, ranked in _ranked(run, library, open_blocks()):
        journal.keep(number, ranked)
        done += sizes[number]
        if counted is not None:
            counted("", done, total)
    journal.finish(len(sizes))
    return sum(sizes)


def _ranked(run: Run, library: Library, blocks: Iterable[tuple[int, Any]]) -> Iterator[tuple[int, Any]]:
    if run.scheduler is not None:
        yield from spread(run.scheduler, Job(run.packs, run.store, library.graph.edition, run.top), blocks)
        return
    yield from Ranker(library, run.top).rank_all(blocks)


def _digest(file: Path) -> str:
    with file.open("rb") as opened:
        return hashlib.file_digest(opened, lambda: hashlib.blake2b(digest_size=16)).hexdigest()
