"""Triples in a folder on disk: each edition is an Oxigraph store of its own, shared by any number of processes."""

import shutil
import tempfile
from pathlib import Path
from threading import Lock

from pyoxigraph import Store

from clampgraph.errors import StoreError
from clampgraph.graph.leases import BUILDING, Lease, remove, tidy
from clampgraph.graph.loading import Packs
from clampgraph.graph.local import Local

__all__ = ["Disk"]

_LATEST: dict[Path, Path] = {}
"""The store that this process opened last in each folder."""

_LOCK = Lock()


class Disk(Local):
    """The store of one edition in a folder, filled when it is opened if it is not there yet.

    Each edition has a folder of its own, which is put in place as a whole when it is ready, and stays while any
    process uses it.

    Raises
    ------
    StoreError
        If the folder cannot be written to, or what lies in it is no store.
    DataError
        If a pack cannot be loaded.
    """

    def __init__(self, packs: Packs, place: Path) -> None:
        self._packs, self._place = packs, place.absolute()
        self._lease: Lease | None = None
        super().__init__(self._open, self._place / packs.edition)
        self.store  # noqa: B018  # let it show now whether it can be opened

    def close(self) -> None:
        """Let go of the store, too; where this process opened another one since, it goes unless somebody uses it."""
        super().close()
        with self._lock:
            self._store = None
            if self._lease is not None:
                self._lease.release()
            self._lease = None
        folder = self._place / self._packs.edition
        with _LOCK:
            replaced = _LATEST.get(self._place, folder) != folder
        if replaced:
            remove(folder)

    def _open(self) -> Store:
        folder = self._place / self._packs.edition
        try:
            lease = self._leased(folder)
        except OSError as error:
            raise StoreError(
                f"No store can be made in {self._place} ({error}): name a folder that can be written to."
            ) from error
        try:
            store = Store.read_only(str(folder))
        except OSError as error:
            raise StoreError(
                f"The store in {folder} cannot be read ({error}): remove it, and it is made anew."
            ) from error
        self._lease = lease
        with _LOCK:
            _LATEST[self._place] = folder
        tidy(self._place)
        return store

    def _leased(self, folder: Path) -> Lease:
        """Return a lease of the store, which is built unless it is there."""
        self._place.mkdir(parents=True, exist_ok=True)
        while True:
            try:
                return Lease(folder)
            except FileNotFoundError:
                self._build(folder)

    def _build(self, folder: Path) -> None:
        building = Path(tempfile.mkdtemp(dir=self._place, prefix=BUILDING))
        try:
            with Lease(building):
                store = self._packs.fill(Store(str(building)))
                store.flush()
                del store  # closes it
                building.rename(folder)
        except OSError:
            if not folder.is_dir():  # else another process was faster, with the same triples
                raise
        finally:
            shutil.rmtree(building, ignore_errors=True)
