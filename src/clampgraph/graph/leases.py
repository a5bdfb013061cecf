"""Which editions in a folder of stores are in use, by whatever process, so that the others can go.

Whoever reads or builds an edition holds a shared lock on its folder.
The system itself lets go of a lock when its process ends, however it ends, so no lease outlives its holder.
Only who gets the lock alone takes an edition away, and first gives it another name: it is there whole or not at all,
and what a process leaves half built or half removed when it is killed goes with the next look.
Where a system has no such locks nothing is ever taken away.
"""

import contextlib
import os
import secrets
import shutil
import time
import weakref
from pathlib import Path
from typing import Self

try:
    import fcntl
except ImportError:  # Windows
    fcntl = None  # type: ignore[assignment]

__all__ = ["BUILDING", "KEPT", "Lease", "remove", "tidy"]

BUILDING, _GONE = ".building-", ".gone-"
"""Begin the names of folders that are no store yet, and none any more."""

KEPT = 2
"""Editions that stay although nobody uses them: the ones that were used last."""


class Lease:
    """Keeps a folder in place as long as it is held.

    Raises
    ------
    FileNotFoundError
        If it is not there, or was taken away just now.
    """

    def __init__(self, folder: Path) -> None:
        number = _locked(folder, alone=False)
        self._let_go = weakref.finalize(self, os.close, number) if number is not None else None

    def __enter__(self) -> Self:
        """Return the lease, to be let go at the end."""
        return self

    def __exit__(self, *_: object) -> None:
        """Let the folder go."""
        self.release()

    def release(self) -> None:
        """Let the folder go."""
        if self._let_go is not None:
            self._let_go()


def _locked(folder: Path, *, alone: bool) -> int | None:
    """Lock a folder, and note when that was; None where it cannot be locked, or not alone."""
    if fcntl is None:
        return None
    number = os.open(folder, os.O_RDONLY)
    try:
        fcntl.flock(number, fcntl.LOCK_EX | fcntl.LOCK_NB if alone else fcntl.LOCK_SH)
    except OSError:
        os.close(number)
        return None
    try:
        # It may have been taken away between opening and locking: then a lock on it binds nobody.
        if not os.path.samestat(os.fstat(number), folder.stat()):
            raise FileNotFoundError(folder)
    except OSError:
        os.close(number)
        raise
    if not alone:
        with contextlib.suppress(OSError):
            os.utime(number, ns=(time.time_ns(), os.fstat(number).st_mtime_ns))
    return number


def remove(folder: Path) -> bool:
    """Take a folder away if nobody uses it; tell whether it is gone."""
    try:
        number = _locked(folder, alone=True)
    except OSError:
        return not folder.exists()
    if number is None:
        return False
    try:
        gone = folder.with_name(f"{_GONE}{secrets.token_hex(8)}")
        folder.rename(gone)
    except OSError:
        return False
    finally:
        os.close(number)
    shutil.rmtree(gone, ignore_errors=True)
    return True


def tidy(place: Path) -> None:
    """Take away stores that nobody uses, but for those used last, and what killed processes left behind."""
    with contextlib.suppress(OSError):
        folders = [path for path in place.iterdir() if path.is_dir()]
        ready = [path for path in folders if (path / "CURRENT").is_file() and not path.name.startswith(".")]
        for path in sorted(ready, key=lambda path: path.stat().st_atime_ns, reverse=True)[KEPT + 1 :]:
            remove(path)
        for path in folders:
            if path.name.startswith((BUILDING, _GONE)):
                remove(path)
