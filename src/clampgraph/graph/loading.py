"""Load packs: files and folders of Turtle, N-Triples, N-Quads or TriG, through Oxigraph's parser only."""

import hashlib
from collections.abc import Iterable
from importlib import metadata
from pathlib import Path

import pyoxigraph
from pyoxigraph import RdfFormat, Store

from clampgraph import paths
from clampgraph.errors import DataError, UnknownNameError
from clampgraph.graph import named_queries

__all__ = ["FORMATS", "Packs", "default_packs", "files_of", "filled"]

FORMATS = {
    ".ttl": RdfFormat.TURTLE,
    ".nt": RdfFormat.N_TRIPLES,
    ".nq": RdfFormat.N_QUADS,
    ".trig": RdfFormat.TRIG,
}

LARGE = 4_000_000
"""Bytes from which a file is loaded in bulk, which small files are too small for."""


def default_packs() -> tuple[Path, ...]:
    """Return the folders loaded when the user names none: the shipped knowledge and the demo."""
    return (paths.data() / "knowledge", paths.data() / "demo")


def files_of(packs: Iterable[Path]) -> tuple[Path, ...]:
    """List the RDF files of packs, folders walked, in a stable order.

    Raises
    ------
    UnknownNameError
        If a path does not exist.
    DataError
        If a file has another suffix than those of `FORMATS`.
    """
    found: dict[Path, None] = {}
    for pack in packs:
        if pack.is_dir():
            found.update(dict.fromkeys(sorted(p for p in pack.rglob("*") if p.suffix in FORMATS)))
        elif not pack.exists():
            raise UnknownNameError("file or folder", str(pack))
        elif pack.suffix not in FORMATS:
            raise DataError(f"{pack} is no pack: its name must end with one of {', '.join(FORMATS)}.")
        else:
            found[pack] = None
    return tuple(found)


def filled(store: Store, files: Iterable[Path]) -> Store:
    """Load files into a store that is thrown away if one of them cannot be loaded.

    Raises
    ------
    DataError
        If a file cannot be parsed; the sentence carries file, line and column.
    """
    for file in files:
        try:
            into = store.bulk_load if file.stat().st_size > LARGE else store.load
            into(path=str(file), format=FORMATS[file.suffix])
        except SyntaxError as error:
            told = _one_line(error.msg)
            raise DataError(f"{file.name} line {error.lineno}, column {error.offset}: {told}.") from error
        except (OSError, ValueError) as error:
            raise DataError(f"{file.name} cannot be read: {_one_line(error)}.") from error
    return store


def _one_line(told: object) -> str:
    """Write what a parser quotes, which may be a line break, on one line."""
    return " ".join(str(told).split()).rstrip(".")


class Packs:
    """The files of one edition, told apart from every other edition by a digest.

    Raises
    ------
    DataError
        If a file cannot be read.
    """

    def __init__(self, files: Iterable[Path]) -> None:
        self.files = tuple(files)
        self._stamps = self._look()
        self.edition = self._digest()

    def fill(self, store: Store) -> Store:
        """Load the files into a store.

        Raises
        ------
        DataError
            If a file cannot be parsed, or is no longer the file that the digest was taken of.
        """
        filled(store, self.files)
        if self._look() != self._stamps:
            raise DataError("The packs were changed after this process began to read them: start it again.")
        return store

    def _look(self) -> list[tuple[int, int, int]]:
        try:
            return [(s.st_ino, s.st_size, s.st_mtime_ns) for s in (file.stat() for file in self.files)]
        except OSError as error:
            raise DataError(f"{Path(str(error.filename)).name} cannot be read: {error.strerror}.") from error

    def _digest(self) -> str:
        """Digest the packs, the queries, and the room that makes rows of them: what changes an answer changes it."""
        version = f"{metadata.version('clampgraph')} on {pyoxigraph.__version__}"
        parts = [version.encode(), *(file.read_bytes() for file in sorted(Path(__file__).parent.glob("*.py")))]
        parts += [f"{name}\0{query.text}".encode() for name, query in named_queries.catalogue().items()]
        digest = hashlib.blake2b(digest_size=16)
        for part in parts:
            digest.update(b"%d:" % len(part) + part)
        for file, (_, size, _) in zip(self.files, self._stamps, strict=True):
            digest.update(f"{file.suffix}:{size}:".encode())
            try:
                with file.open("rb") as opened:
                    while block := opened.read(1 << 20):
                        digest.update(block)
            except OSError as error:
                raise DataError(f"{file.name} cannot be read: {error.strerror}.") from error
        return digest.hexdigest()
