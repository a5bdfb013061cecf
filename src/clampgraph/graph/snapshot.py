"""Answers to named questions, kept on disk between runs, so that a command need not read the packs again.

A snapshot belongs to one edition: a digest of the packs, of the queries and of what turns terms into values.
It is one file: a line that names the edition and the checksum of the rest, then one line for each question.
What is stale, cut short or damaged is not used but made anew; where nothing can be written, nothing is kept.
"""

import atexit
import contextlib
import json
import os
import tempfile
import time
from collections.abc import Mapping, Sequence
from datetime import date
from hashlib import blake2b
from pathlib import Path
from threading import Lock
from typing import Any

from clampgraph import paths
from clampgraph.graph.terms import Plain

__all__ = ["SETTING", "Snapshot", "folders"]

SETTING = "CLAMPGRAPH_SNAPSHOTS"
"""Environment variable: a folder for snapshots in place of the usual ones, or `off`."""

LARGEST = 16_000_000
"""Bytes of answers that a snapshot holds at most."""

KEPT = 8
"""Snapshots that a folder holds at most; the oldest give way."""

_FORM = "clampgraph-snapshot-1"
_SUFFIX = ".snapshot"
_STRAY = 3600.0
"""Age [s] from which a file that was never finished is taken away."""


def folders() -> tuple[Path, ...]:
    """Return where snapshots are looked for and kept: beside the packs, else in the user's cache."""
    setting = os.environ.get(SETTING, "")
    if setting:
        return () if setting == "off" else (Path(setting),)
    cache = os.environ.get("XDG_CACHE_HOME", "")
    home = Path(cache) if Path(cache).is_absolute() else Path("~/.cache").expanduser()
    return (paths.data().parent / ".snapshots", home / "clampgraph")


class Snapshot:
    """The kept answers of one edition; new ones are written when the process ends."""

    def __init__(self, edition: str, places: Sequence[Path]) -> None:
        self._edition, self._places = edition, tuple(places)
        self._files = tuple(place / f"{edition}{_SUFFIX}" for place in places)
        self._lines = self._read()
        self._added: dict[str, str] = {}
        self._lock = Lock()
        self._size = sum(map(len, self._lines.values()))

    def __len__(self) -> int:
        return len(self._lines) + len(self._added)

    def twin(self, name: str) -> "Snapshot":
        """Return the snapshot of an edition that is made from this one in a way that has this name."""
        return Snapshot(f"{self._edition}-{name}", self._places)

    def get(self, name: str, bindings: Mapping[str, Plain]) -> list[dict[str, Plain]] | None:
        """Return the rows of a question; None if it was not kept."""
        key = _key(name, bindings)
        line = self._lines.get(key) or self._added.get(key)
        if line is None:
            return None
        columns, rows = json.loads(line, object_hook=_value)
        return [dict(zip(columns, row, strict=True)) for row in rows]

    def put(self, name: str, bindings: Mapping[str, Plain], rows: Sequence[Mapping[str, Plain]]) -> None:
        """Keep the rows of a question, unless that would make the snapshot too large."""
        columns = list(rows[0]) if rows else []
        key, line = _key(name, bindings), _text([columns, [list(row.values()) for row in rows]])
        with self._lock:
            if not self._files or key in self._added or self._size + len(line) > LARGEST:
                return
            if not self._added:
                atexit.register(self.save)
            self._added[key] = line
            self._size += len(line)

    def save(self) -> None:
        """Write new answers into the first folder that can be written to; whoever writes last has all of both."""
        with self._lock:
            lines = self._read() | self._lines | self._added
            if not self._added:
                return
            self._lines, self._added = lines, {}
        body = "".join(f"{key}\t{line}\n" for key, line in lines.items()).encode()
        head = {"form": _FORM, "edition": self._edition, "checksum": _checksum(body)}
        for file in self._files:
            with contextlib.suppress(OSError):
                _write(file, _text(head).encode() + b"\n" + body)
                break

    def _read(self) -> dict[str, str]:
        for file in self._files:
            with contextlib.suppress(OSError, ValueError, KeyError, TypeError):
                found = _sound(file, self._edition)
                with contextlib.suppress(OSError):
                    os.utime(file)  # what is used is not the oldest
                return found
        return {}


def _sound(file: Path, edition: str) -> dict[str, str]:
    """Read a snapshot; ValueError if it is not that of the edition, or is damaged."""
    with file.open("rb") as opened:
        content = opened.read(3 * LARGEST)
    head, _, body = content.partition(b"\n")
    told = json.loads(head)
    if (told["form"], told["edition"], told["checksum"]) != (_FORM, edition, _checksum(body)):
        raise ValueError(file)
    pairs = (line.partition("\t") for line in body.decode().split("\n") if line)
    return {key: line for key, _, line in pairs}


def _write(file: Path, content: bytes) -> None:
    """Put a file in place as a whole, so that nobody ever reads half of it."""
    file.parent.mkdir(parents=True, exist_ok=True)
    _tidy(file.parent)
    number, name = tempfile.mkstemp(dir=file.parent, prefix=".", suffix=".new")
    try:
        with os.fdopen(number, "wb") as opened:
            opened.write(content)
        Path(name).replace(file)
    except OSError:
        Path(name).unlink(missing_ok=True)
        raise


def _tidy(folder: Path) -> None:
    """Take away the oldest snapshots past those kept, and what a killed process left unfinished."""
    with contextlib.suppress(FileNotFoundError):  # another process tidies too
        by_age = sorted(folder.glob(f"*{_SUFFIX}"), key=lambda file: file.stat().st_mtime, reverse=True)
        strays = [file for file in folder.glob(".*.new") if file.stat().st_mtime < time.time() - _STRAY]
        for file in (*by_age[KEPT - 1 :], *strays):
            file.unlink()


def _checksum(body: bytes) -> str:
    return blake2b(body, digest_size=16).hexdigest()


def _key(name: str, bindings: Mapping[str, Plain]) -> str:
    return _text([name, sorted(bindings.items())])


def _text(value: Any) -> str:
    return json.dumps(value, default=_marked, separators=(",", ":"))


def _marked(value: object) -> dict[str, str]:
    """Mark a date, the one kind of plain value that JSON lacks."""
    if not isinstance(value, date):
        raise TypeError(value)
    return {"date": value.isoformat()}


def _value(marked: Mapping[str, str]) -> date:
    return date.fromisoformat(marked["date"])
