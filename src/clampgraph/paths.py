"""Where ontology, data and queries lie: the checkout first, the copy inside the wheel second."""

from pathlib import Path

from clampgraph.errors import DataError

__all__ = ["data", "ontology", "queries"]

_PACKAGE = Path(__file__).resolve().parent
_ROOTS = (_PACKAGE.parent.parent, _PACKAGE / "_share")


def _folder(name: str) -> Path:
    for root in _ROOTS:
        # `ontology/terms.ttl` marks our own tree, so that a stray `data/` beside the package is never taken.
        if (root / "ontology" / "terms.ttl").is_file():
            return root / name
    raise DataError(f"The folder '{name}' is missing from this installation of clampgraph; install it again.")


def ontology() -> Path:
    """Return the folder that holds terms, shapes and alignments."""
    return _folder("ontology")


def data() -> Path:
    """Return the folder that holds knowledge, demo assemblies and standards tables."""
    return _folder("data")


def queries() -> Path:
    """Return the folder that holds the named SPARQL queries."""
    return _folder("queries")
