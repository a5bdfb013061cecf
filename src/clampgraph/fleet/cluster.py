"""Blocks sent to the workers of a Dask cluster; a worker that dies has its blocks done by another."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import islice
from pathlib import Path
from typing import Any

from clampgraph.answers.library import Library
from clampgraph.errors import ClampgraphError, DataError, StoreError, WrongCallError
from clampgraph.fleet.ranking import Ranker

__all__ = ["Job", "spread"]

AHEAD = 3
"""Blocks that wait at each worker beyond the one it works on, so that none is idle and memory stays bounded."""

TRIES = 5
"""How often a block may lose its worker."""

WAIT = "30s"


@dataclass(frozen=True)
class Job:
    """What a worker must know: its packs and store, the edition that these must be, and how many causes are told."""

    packs: tuple[Path, ...]
    store: str | None
    edition: str
    top: int


_rankers: dict[Job, Ranker] = {}


def _ranked(job: Job, block: Any) -> Any:
    """Rank a block at a worker, which loads its packs once."""
    if job not in _rankers:
        library = Library.open(job.packs, job.store)
        if library.graph.edition != job.edition:
            raise DataError(
                "A worker has other packs, or another version of clampgraph, than this machine: align them."
            )
        _rankers.clear()
        _rankers[job] = Ranker(library, job.top)
    return _rankers[job].rank(block)


def spread(scheduler: str, job: Job, blocks: Iterable[tuple[int, Any]]) -> Iterator[tuple[int, Any]]:
    """Rank numbered blocks on a cluster; yields each with its number, in whatever order they are finished.

    Raises
    ------
    WrongCallError
        If Dask is not installed.
    StoreError
        If the scheduler does not answer, or blocks are lost again and again.
    """
    try:
        import distributed  # noqa: PLC0415  # an extra, and slow to load
    except ImportError as error:
        raise WrongCallError(
            "A scheduler needs Dask, which is not installed: pip install 'clampgraph[fleet]'."
        ) from error
    dask: Any = distributed  # it is typed in part
    try:
        client = dask.Client(scheduler, timeout=WAIT, set_as_default=False)
    except (OSError, TimeoutError, ValueError) as error:
        raise StoreError(
            f"The scheduler at {scheduler} does not answer: check its address, and that it runs."
        ) from error
    with client:
        client.wait_for_workers(1, timeout=60)
        todo = iter(blocks)
        number: dict[str, int] = {}

        def sent(block: tuple[int, Any]) -> Any:
            future = client.submit(_ranked, job, block[1], pure=False, retries=TRIES)
            number[future.key] = block[0]
            return future

        first = AHEAD * max(len(client.scheduler_info()["workers"]), 1)
        waiting = dask.as_completed([sent(block) for block in islice(todo, first)], loop=client.loop)
        for future in waiting:
            try:
                ranked = future.result()
            except ClampgraphError:
                raise
            except Exception as error:
                raise StoreError(f"The cluster lost a block again and again: {error}.") from error
            yield number.pop(future.key), ranked
            for block in islice(todo, 1):
                waiting.add(sent(block))
