"""A folder for a book: written beside, then swapped, so that nobody ever finds half of one."""

import json
import shutil
import tempfile
from collections.abc import Mapping
from pathlib import Path

from clampgraph.answers.book.binding import MANIFEST, PDF
from clampgraph.errors import WrongCallError

__all__ = ["check_folder", "shelve"]

_SHEET = "book.css"


def check_folder(folder: Path, *, force: bool = False) -> None:
    """Refuse a folder that a book must not go into, before any work is done.

    Raises
    ------
    WrongCallError
        If it is a file, if its parent is missing, or if it holds what no book of ours put there and `force` is off.
    """
    if folder.exists() and not folder.is_dir():
        raise WrongCallError(f"{folder} is a file; name a folder for the book.")
    if not folder.absolute().parent.is_dir():
        raise WrongCallError(f"{folder} cannot be made: there is no folder {folder.absolute().parent}.")
    if folder.is_dir() and any(folder.iterdir()) and not _ours(folder) and not force:
        raise WrongCallError(f"{folder} holds files that no book put there; name another folder, or add --force.")


def shelve(files: Mapping[str, bytes], folder: Path, *, force: bool = False) -> None:
    """Put a book into a folder: an earlier book there goes, other files of that folder stay.

    Raises
    ------
    WrongCallError
        If the folder must not be written to, or cannot be.
    """
    check_folder(folder, force=force)
    place = folder.absolute()
    try:
        fresh = Path(tempfile.mkdtemp(prefix=f".{place.name}.", dir=place.parent))
    except OSError as error:
        raise WrongCallError(f"{folder} cannot be written: {error.strerror}.") from error
    try:
        for name, content in files.items():
            (fresh / name).write_bytes(content)
        fresh.chmod(0o755)
        _swap(fresh, place, frozenset(files))
    except OSError as error:
        raise WrongCallError(f"{folder} cannot be written: {error.strerror}.") from error
    finally:
        shutil.rmtree(fresh, ignore_errors=True)


def _swap(fresh: Path, place: Path, new: frozenset[str]) -> None:
    """Put the fresh folder in place of the old one, and give it what is not of an earlier book."""
    if not place.exists():
        fresh.rename(place)
        return
    old = fresh.with_name(f"{fresh.name}.old")
    place.rename(old)
    try:
        fresh.rename(place)
    except OSError:
        old.rename(place)
        raise
    for kept in sorted({entry.name for entry in old.iterdir()} - _files(old) - new):
        (old / kept).rename(place / kept)
    shutil.rmtree(old)


def _manifest(folder: Path) -> Mapping[str, object]:
    try:
        told = json.loads((folder / MANIFEST).read_bytes())
    except (OSError, ValueError):
        return {}
    return told if isinstance(told, dict) else {}


def _ours(folder: Path) -> bool:
    return _manifest(folder).get("made_by") == "clampgraph"


def _files(folder: Path) -> frozenset[str]:
    """Return the files that an earlier book put into a folder."""
    if not _ours(folder):
        return frozenset()
    pages = _manifest(folder).get("pages")
    named = [str(p.get("file")) for p in pages if isinstance(p, dict)] if isinstance(pages, list) else []
    return frozenset({MANIFEST, PDF, _SHEET, *named})
