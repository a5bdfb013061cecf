"""What a cell may refer to: the names of things that are described already, and of those that the tables describe."""

import re
from collections import defaultdict
from collections.abc import Iterable, Mapping

from clampgraph.answers.library import nearest
from clampgraph.graph.statements import PREFIXES, TYPE, Iri, Statement, Text

__all__ = ["CellError", "Names", "local_name", "slug"]

_CLASSES = {
    "Assembly": ("assembly",),
    "Builder": ("builder", "maker"),
    "ComponentType": ("type",),
    "ExchangeUnit": ("part",),
    "Generation": ("generation",),
    "Group": ("part",),
    "IdentifyingFeature": ("feature",),
    "Item": ("part",),
    "Joint": ("joint",),
    "Kit": ("part",),
    "Medium": ("medium",),
    "Phase": ("phase",),
    "Position": ("position",),
    "Source": ("source",),
    "Supplier": ("maker",),
}
_BY_LABEL = {"builder", "maker", "source"}
_BY_LOCAL_NAME = {"joint", "medium", "phase"}
_SCOPED = {"generation": "generationOf", "joint": "jointOf", "position": "positionOf"}


class CellError(Exception):
    """A cell that cannot be taken; the text says why and what would be right."""


def local_name(iri: str) -> str:
    """Return what stands behind the last stroke or hash of an IRI."""
    return re.split(r"[/#]", iri)[-1]


def slug(text: str) -> str:
    """Turn a name into an identifier: lower case, words joined by hyphens; letters of any script stay."""
    return re.sub(r"[\W_]+", "-", text.casefold()).strip("-") or "unnamed"


class Names:
    """Names by kind; positions, generations and joints by assembly too."""

    def __init__(self) -> None:
        self._iris: dict[tuple[str, str], dict[str, str]] = defaultdict(dict)
        self._texts: dict[tuple[str, str, str], str] = {}

    @classmethod
    def of(cls, described: Iterable[Statement]) -> "Names":
        """Collect the names of everything that is described."""
        about: dict[str, list[Statement]] = defaultdict(list)
        for statement in described:
            about[statement.subject].append(statement)
        names = cls()
        identifiers = {s: _told(said, PREFIXES["dcterms"] + "identifier") for s, said in about.items()}
        for subject, said in sorted(about.items()):
            classes = (local_name(s.value.text) for s in said if s.predicate == TYPE and isinstance(s.value, Iri))
            for kind in {kind for name in classes for kind in _CLASSES.get(name, ())}:
                owner = _told(said, PREFIXES["cg"] + _SCOPED[kind]) if kind in _SCOPED else ""
                names.add(kind, _name(kind, subject, said), subject, identifiers.get(owner, ""))
        return names

    def add(self, kind: str, text: str, iri: str, scope: str = "") -> None:
        """Make a name known; a name that is known already keeps its first meaning for reading."""
        if text:
            self._iris[kind, scope].setdefault(text, iri)
            self._texts.setdefault((kind, scope, iri), text)

    def replace(self, kind: str, text: str, iri: str, scope: str = "") -> None:
        """Make a name mean something that a table describes, whatever it meant before."""
        self._iris[kind, scope][text] = iri

    def copy(self) -> "Names":
        """Return names that can grow without changing these."""
        twin = Names()
        twin._iris = defaultdict(dict, {key: dict(known) for key, known in self._iris.items()})
        twin._texts = dict(self._texts)
        return twin

    def known(self, kind: str, scope: str = "") -> Mapping[str, str]:
        """Return the IRIs of one kind by name."""
        return self._iris.get((kind, _scope(kind, scope)), {})

    def find(self, kind: str, text: str, scope: str = "") -> str:
        """Return what a name means.

        Raises
        ------
        CellError
            If there is no such thing; names the nearest.
        """
        known = self.known(kind, scope)
        if text not in known:
            near = ", ".join(nearest(text, known))
            place = f" in {scope}" if kind in _SCOPED and scope else ""
            raise CellError(f"there is no {kind} '{text}'{place}" + (f"; nearest: {near}" if near else ""))
        return known[text]

    def spell(self, kind: str, iri: str, scope: str = "") -> str | None:
        """Return the name of a thing; None if it has none, or shares it with another."""
        text = self._texts.get((kind, _scope(kind, scope), iri))
        return text if text is not None and self.known(kind, scope).get(text) == iri else None


def _scope(kind: str, scope: str) -> str:
    return scope if kind in _SCOPED else ""


def _told(said: Iterable[Statement], predicate: str, language: str = "") -> str:
    for s in said:
        if (
            s.predicate == predicate
            and isinstance(s.value, Iri | Text)
            and getattr(s.value, "language", "") == language
        ):
            return s.value.text
    return ""


def _name(kind: str, subject: str, said: Iterable[Statement]) -> str:
    if kind in _BY_LOCAL_NAME:
        return local_name(subject)
    if kind in _BY_LABEL:
        return _told(said, PREFIXES["skos"] + "prefLabel", "en")
    return _told(said, PREFIXES["schema"] + "mpn" if kind == "part" else PREFIXES["dcterms"] + "identifier")
