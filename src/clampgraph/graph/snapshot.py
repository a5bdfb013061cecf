"""Answers to named questions, kept on disk between runs, so that a command need not read the packs again.

A snapshot belongs to one edition: a digest of the packs, of the queries and of what turns terms into values.
It is one kept file, with one line for each question.
"""

import atexit
import json
from collections.abc import Mapping, Sequence
from datetime import date
from pathlib import Path
from threading import Lock
from typing import Any

from clampgraph.graph.terms import Plain
from clampgraph.kept import Kind

__all__ = ["KIND", "Snapshot"]

LARGEST = 16_000_000
"""Bytes of answers that a snapshot holds at most."""

KIND = Kind("clampgraph-snapshot-2", ".snapshot", most_files=8, most_bytes=8 * LARGEST)


class Snapshot:
    """The kept answers of one edition; new ones are written when the process ends."""

    def __init__(self, edition: str, places: Sequence[Path]) -> None:
        self._edition, self._places = edition, tuple(places)
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
            if not self._places or key in self._added or self._size + len(line) > LARGEST:
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
        KIND.write(self._places, self._edition, body)

    def _read(self) -> dict[str, str]:
        body = KIND.read(self._places, self._edition) or b""
        pairs = (line.partition("\t") for line in body.decode().split("\n") if line)
        return {key: line for key, _, line in pairs}


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
