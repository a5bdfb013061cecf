"""How is this symptom called: from what people say at the machine to the symptom's identifier."""

from collections import defaultdict
from collections.abc import Mapping

from pydantic import Field

from clampgraph.answers.library import Library
from clampgraph.answers.models import Answer

__all__ = ["SymptomOut", "SymptomsAnswer", "search", "symptoms"]

GOOD_ENOUGH = 55.0
"""Score from 0 to 100 below which a symptom is not offered; tried on the labels of the shipped pack."""


class SymptomOut(Answer):
    """A symptom, what else it is called, and how well it matches the text."""

    id: str
    iri: str
    label: str
    alternatives: tuple[str, ...]
    score: float | None = Field(None, description="0 to 100; absent when no text was given.")


class SymptomsAnswer(Answer):
    """Symptoms, the best match first; in alphabetical order when no text was given."""

    symptoms: tuple[SymptomOut, ...]


def symptoms(library: Library, text: str = "") -> SymptomsAnswer:
    """Answer which symptoms a text may mean; all of them when it is empty."""
    return SymptomsAnswer(symptoms=tuple(search(library, text)))


def search(library: Library, text: str) -> list[SymptomOut]:
    """Match a text against preferred, alternative and hidden labels, tolerant of typing errors."""
    labels: dict[str, dict[str, list[str]]] = defaultdict(lambda: defaultdict(list))
    for row in library.graph.ask("knowledge/list-symptom-labels"):
        kind = str(row["kind"]) if row["language"] == "en" else "foreign"
        labels[str(row["symptom"])][kind].append(str(row["label"]))
    wanted = " ".join(text.replace("-", " ").split()).lower()
    found = []
    for name, symptom in library.knowledge.symptoms.items():
        score = _score(wanted, labels[name], name) if wanted else None
        if score is None or score >= GOOD_ENOUGH:
            found.append(
                SymptomOut(
                    id=name,
                    iri=symptom.iri,
                    label=symptom.label,
                    alternatives=tuple(labels[name]["alternative"]),
                    score=None if score is None else round(score, 1),
                )
            )
    return sorted(found, key=lambda s: (-(s.score or 0.0), s.id))


def _score(wanted: str, labels: Mapping[str, list[str]], name: str) -> float:
    from rapidfuzz import fuzz  # noqa: PLC0415  # only needed for a search

    texts = {name.replace("-", " "), *(t.lower() for kind in labels.values() for t in kind)}
    return max(0.7 * fuzz.WRatio(wanted, t) + 0.3 * fuzz.ratio(wanted, t) for t in texts)
