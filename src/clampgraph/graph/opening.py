"""Open a graph by one setting: in memory, in a folder, or behind the address of a SPARQL endpoint."""

import os
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING

from pyoxigraph import Store

from clampgraph.errors import WrongCallError
from clampgraph.graph.disk import Disk
from clampgraph.graph.loading import Packs, default_packs, files_of
from clampgraph.graph.local import Local
from clampgraph.graph.snapshot import Snapshot
from clampgraph.graph.store import GraphStore
from clampgraph.kept import folders

if TYPE_CHECKING:
    from clampgraph.graph.remote import Remote

__all__ = ["MEMORY", "SETTING", "is_endpoint", "load"]

SETTING = "CLAMPGRAPH_STORE"
"""Environment variable with the store that is used where none is named."""

MEMORY = "memory"


def is_endpoint(store: str | None) -> bool:
    """Tell whether a store that is named or set is the address of an endpoint."""
    return "://" in _place(store)


def _place(store: str | None) -> str:
    return store or os.environ.get(SETTING) or MEMORY


def load(packs: Iterable[Path] = (), store: str | None = None) -> GraphStore:
    """Open the shipped packs and the given ones.

    Parameters
    ----------
    packs
        Further files or folders.
    store
        `memory`; or a folder, in which each edition of the packs is kept as an Oxigraph store and shared by any number
        of processes; or the address of a SPARQL 1.1 endpoint, which has its own packs.
        As the environment variable `SETTING` says if none is named; else in memory.

    Raises
    ------
    UnknownNameError
        If a path does not exist.
    DataError
        If a file cannot be parsed; the sentence carries file, line and column.
    StoreError
        If the folder cannot be used.
    WrongCallError
        If packs are given for an endpoint, or the address is none.
    """
    place, given = _place(store), list(packs)
    if is_endpoint(place):
        return GraphStore(_endpoint(place, given))
    found = Packs(files_of([*default_packs(), *given]))
    snapshot = Snapshot(found.edition, folders())
    if place != MEMORY:
        return GraphStore(Disk(found, Path(place)), snapshot, found.edition)
    kept = Local(lambda: found.fill(Store()))
    if not len(snapshot):  # these packs were never loaded, so let it show now whether they can be
        kept.store  # noqa: B018  # opens it
    return GraphStore(kept, snapshot, found.edition)


def _endpoint(address: str, packs: list[Path]) -> "Remote":
    from clampgraph.graph.remote import Remote  # noqa: PLC0415  # most stores are in this process

    if packs:
        raise WrongCallError(f"The endpoint {address} has its own packs: load {packs[0]} there instead.")
    if not address.startswith(("http://", "https://")):
        raise WrongCallError(f"'{address}' is no store: give memory, a folder, or an address with http:// or https://.")
    return Remote(address)
