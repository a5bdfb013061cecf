"""Load one edition of the data: the packs of a file or folder, with the shipped knowledge where they bring none."""

from pathlib import Path

from pyoxigraph import NamedNode, Store

from clampgraph import paths
from clampgraph.errors import DataError, UnknownNameError
from clampgraph.graph.loading import FORMATS, default_packs, files_of, filled
from clampgraph.graph.store import GraphStore

__all__ = ["SHIPPED", "load_edition"]

SHIPPED = "shipped"
"""The name of the edition that comes with this installation."""

_TYPE = NamedNode("http://www.w3.org/1999/02/22-rdf-syntax-ns#type")
_COMPONENT = NamedNode("https://w3id.org/clampgraph/ns#ComponentType")
_ASSEMBLY = NamedNode("https://w3id.org/clampgraph/ns#Assembly")


def load_edition(name: str, shelf: Path | None = None) -> GraphStore:
    """Load an edition.

    Parameters
    ----------
    name
        A pack, or a folder of packs; or the name of a folder on the shelf; or `SHIPPED`.
        Packs that describe component types stand for the shipped knowledge, packs that describe assemblies for
        the shipped demo; whichever they bring none of is loaded beside them.
    shelf
        A folder that holds one folder for each edition.

    Raises
    ------
    UnknownNameError
        If there is no such file, folder or edition; names the editions on the shelf.
    DataError
        If a file cannot be parsed, or the folder holds no pack.
    """
    if name == SHIPPED:
        return GraphStore(filled(Store(), files_of(default_packs())))
    place = Path(name)
    if shelf is not None and not place.exists():
        place = shelf / name
    if not place.exists():
        kept = sorted(p.name for p in shelf.iterdir() if p.is_dir()) if shelf is not None and shelf.is_dir() else []
        raise UnknownNameError("pack, folder or edition", name, [*kept, SHIPPED])
    files = files_of([place])
    if not files:
        raise DataError(f"{place} holds no pack: put files ending with one of {', '.join(FORMATS)} there.")
    store = filled(Store(), files)
    shipped = {_COMPONENT: paths.data() / "knowledge", _ASSEMBLY: paths.data() / "demo"}
    missing = [folder for kind, folder in shipped.items() if not _describes(store, kind)]
    return GraphStore(filled(store, files_of(missing)))


def _describes(store: Store, kind: NamedNode) -> bool:
    return next(iter(store.quads_for_pattern(None, _TYPE, kind)), None) is not None
