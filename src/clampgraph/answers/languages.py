"""In which language an answer speaks: what is told in it, what falls back to English, and what a reader asks for.

A library `in_language` gives every answer its labels in that language; identifiers, IRIs and figures stay the same.
"""

import re
from collections.abc import Iterable
from dataclasses import dataclass

from clampgraph.answers.library import Library
from clampgraph.answers.models import Answer
from clampgraph.errors import UnknownNameError, WrongCallError
from clampgraph.graph.languages import ENGLISH, TRANSLATED, told_languages

__all__ = ["Label", "MissingTranslationOut", "label", "languages", "missing_translations", "preferred_language"]

_RANGE = re.compile(
    r"\s*(\*|[A-Za-z]{1,8}(?:-[A-Za-z0-9]{1,8})*)\s*(?:;\s*[qQ]\s*=\s*([01](?:\.\d{0,3})?)\s*)?", re.ASCII
)


@dataclass(frozen=True, slots=True)
class Label:
    """What something is called, in which language, and whether that is not the one asked for."""

    text: str
    language: str
    fell_back: bool


class MissingTranslationOut(Answer):
    """Something that a language has no label for."""

    iri: str
    kind: str
    label: str


def languages(library: Library) -> tuple[str, ...]:
    """Answer in which languages labels are told; English first."""
    return told_languages(library.graph)


def label(library: Library, iri: str, language: str) -> Label:
    """Answer what something is called in a language, or in English where that language has no label for it.

    Raises
    ------
    UnknownNameError
        If nothing with that IRI has a label.
    """
    rows = library.graph.ask("languages/list-labels", iri=iri)
    told = {str(row["language"]): str(row["label"]) for row in rows}
    for found in (language, ENGLISH):
        if found in told:
            return Label(told[found], found, found != language)
    raise UnknownNameError("labelled thing", iri)


def missing_translations(library: Library, language: str) -> tuple[MissingTranslationOut, ...]:
    """Answer which symptoms, failure modes, component types, checks, cautions and words have no label in a language."""
    rows = [row for row in library.graph.ask("languages/list-labels") if row["class"] in TRANSLATED]
    told = {row["iri"] for row in rows if row["language"] == language}
    return tuple(
        MissingTranslationOut(iri=str(row["iri"]), kind=str(row["class"]), label=str(row["label"]))
        for row in rows
        if row["language"] == ENGLISH and row["iri"] not in told
    )


def preferred_language(header: str, told: Iterable[str]) -> str:
    """Choose a language by an ``Accept-Language`` header: the best weight that is told; English for any or none.

    Parameters
    ----------
    header
        Language ranges with weights (RFC 9110, 12.5.4), for example ``de-CH, de;q=0.9, en;q=0.8``.
    told
        Languages in which labels are told.

    Raises
    ------
    WrongCallError
        If the header is none.

    Examples
    --------
    >>> preferred_language("de-CH, fr;q=0.9", ["en", "de"])
    'de'
    """
    known = {language.lower(): language for language in told}
    best, weight = ENGLISH, 0.0
    for part in filter(str.strip, header.split(",")):
        match = _RANGE.fullmatch(part)
        if match is None:
            raise WrongCallError(f"'{part.strip()}' is no language range; write for example de, en;q=0.8.")
        tag, q = match[1].lower(), float(match[2] or 1.0)
        found = ENGLISH if tag == "*" else known.get(tag) or known.get(tag.partition("-")[0])
        if found and weight < q <= 1.0:
            best, weight = found, q
    return best
