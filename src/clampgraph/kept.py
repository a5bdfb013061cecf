"""Files kept between runs: whole or not at all, never trusted when stale, cut short or damaged.

A kept file has a name that says what it was made from, and one line before its body that repeats it with the
checksum of the body. Where nothing can be written, nothing is kept.
"""

import contextlib
import json
import os
import tempfile
import time
from collections.abc import Sequence
from hashlib import blake2b
from pathlib import Path

from clampgraph import paths

__all__ = ["SETTING", "Kind", "folders"]

SETTING = "CLAMPGRAPH_SNAPSHOTS"
"""Environment variable: a folder for kept files in place of the usual ones, or `off`."""

_STRAY = 3600.0
"""Age [s] from which a file that was never finished is taken away."""


def folders() -> tuple[Path, ...]:
    """Return where files are looked for and kept: beside the packs, else in the user's cache."""
    setting = os.environ.get(SETTING, "")
    if setting:
        return () if setting == "off" else (Path(setting),)
    cache = os.environ.get("XDG_CACHE_HOME", "")
    home = Path(cache) if Path(cache).is_absolute() else Path("~/.cache").expanduser()
    return (paths.data().parent / ".snapshots", home / "clampgraph")


class Kind:
    """Kept files of one kind.

    Parameters
    ----------
    form
        Names the kind and the form of its body, in each file.
    suffix
        Ends the name of each file.
    most_files, most_bytes
        What a folder holds of them at most; those not used for longest give way.
    """

    def __init__(self, form: str, suffix: str, most_files: int, most_bytes: int) -> None:
        self.form, self.suffix = form, suffix
        self.most_files, self.most_bytes = most_files, most_bytes

    def read(self, places: Sequence[Path], name: str) -> bytes | None:
        """Return the body that is kept under a name in the first of the folders that has it sound; else None."""
        for place in places:
            file = place / f"{name}{self.suffix}"
            with contextlib.suppress(OSError, ValueError, KeyError, TypeError):
                body = self._sound(file, name)
                with contextlib.suppress(OSError):
                    os.utime(file)  # what is used is not the oldest
                return body
        return None

    def _sound(self, file: Path, name: str) -> bytes:
        with file.open("rb") as opened:
            head, body = json.loads(opened.readline(1000)), opened.read(self.most_bytes)
        if (head["form"], head["name"], head["checksum"]) != (self.form, name, _checksum(body)):
            raise ValueError(file)
        return body

    def write(self, places: Sequence[Path], name: str, body: bytes) -> None:
        """Keep a body under a name in the first of the folders that can be written to."""
        head = json.dumps({"form": self.form, "name": name, "checksum": _checksum(body)}).encode()
        for place in places:
            with contextlib.suppress(OSError):
                _write(place / f"{name}{self.suffix}", head + b"\n" + body)
                self._tidy(place)
                break

    def _tidy(self, folder: Path) -> None:
        """Take away what is too much, and what a killed process left unfinished."""
        with contextlib.suppress(FileNotFoundError):  # another process tidies too
            strays = [file for file in folder.glob(".*.new") if file.stat().st_mtime < time.time() - _STRAY]
            by_age = sorted(folder.glob(f"*{self.suffix}"), key=lambda file: file.stat().st_mtime, reverse=True)
            held, old = 0, []
            for number, file in enumerate(by_age):
                held += file.stat().st_size
                if number and (number >= self.most_files or held > self.most_bytes):
                    old.append(file)
            for file in (*old, *strays):
                file.unlink()


def _write(file: Path, content: bytes) -> None:
    """Put a file in place as a whole, so that nobody ever reads half of it."""
    file.parent.mkdir(parents=True, exist_ok=True)
    number, name = tempfile.mkstemp(dir=file.parent, prefix=".", suffix=".new")
    try:
        with os.fdopen(number, "wb") as opened:
            opened.write(content)
        Path(name).replace(file)
    except OSError:
        Path(name).unlink(missing_ok=True)
        raise


def _checksum(body: bytes) -> str:
    return blake2b(body, digest_size=16).hexdigest()
