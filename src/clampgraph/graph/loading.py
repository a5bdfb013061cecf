"""Load packs: files and folders of Turtle, N-Triples, N-Quads or TriG, through Oxigraph's parser only."""

from collections.abc import Iterable
from pathlib import Path

from pyoxigraph import RdfFormat, Store

from clampgraph import paths
from clampgraph.errors import DataError, UnknownNameError
from clampgraph.graph.store import GraphStore

__all__ = ["FORMATS", "default_packs", "files_of", "load"]

FORMATS = {
    ".ttl": RdfFormat.TURTLE,
    ".nt": RdfFormat.N_TRIPLES,
    ".nq": RdfFormat.N_QUADS,
    ".trig": RdfFormat.TRIG,
}


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


def load(packs: Iterable[Path] = ()) -> GraphStore:
    """Load the shipped packs and the given ones into one store in memory.

    Raises
    ------
    UnknownNameError
        If a path does not exist.
    DataError
        If a file cannot be parsed; the sentence carries file, line and column.
    """
    store = Store()
    for file in files_of([*default_packs(), *packs]):
        try:
            store.load(path=str(file), format=FORMATS[file.suffix])
        except SyntaxError as error:
            raise DataError(f"{file.name} line {error.lineno}, column {error.offset}: {error.msg}.") from error
        except (OSError, ValueError) as error:
            raise DataError(f"{file.name} cannot be read: {error}.") from error
    return GraphStore(store)
