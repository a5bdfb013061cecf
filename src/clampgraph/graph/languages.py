"""The same graph in another language: its texts take the place of the English ones, and nothing else changes.

Named queries ask for English labels.
In a graph `in_language`, every text that is told in that language answers in their place; a label that is not
told stays English and is marked, so that nobody takes a gap for a translation.
The English names remain as hidden labels, so that a search finds them too.
"""

from collections.abc import Collection, Iterator

from pyoxigraph import Literal, NamedNode, Quad, Store

from clampgraph.graph.store import GraphStore

__all__ = ["ENGLISH", "MARK", "TRANSLATED", "in_language", "told_languages"]

ENGLISH = "en"
MARK = " [en]"
"""Behind a label that fell back to English."""

TRANSLATED = (
    "Caution", "Check", "ComponentType", "Condition", "FailureMode", "Guideword", "Medium", "Outcome", "Phase",
    "PhaseSet", "Quantity", "Symptom",
)  # fmt: skip
"""Classes whose labels people read in an answer, and which every language should therefore tell."""

_CG = "https://w3id.org/clampgraph/ns#"
_SKOS = "http://www.w3.org/2004/02/skos/core#"
_TYPE = NamedNode("http://www.w3.org/1999/02/22-rdf-syntax-ns#type")
_PREFERRED, _HIDDEN = NamedNode(f"{_SKOS}prefLabel"), NamedNode(f"{_SKOS}hiddenLabel")
_NAMES = {_PREFERRED, NamedNode(f"{_SKOS}altLabel")}


def in_language(graph: GraphStore, language: str) -> GraphStore:
    """Return a graph whose texts in a language stand where its English ones stood.

    Parameters
    ----------
    graph
        Left as it is.
    language
        Language tag of the texts, for example ``de``.
    """
    return graph.twin(language, lambda store: _told_in(store, language))


def _told_in(store: Store, language: str) -> Store:
    quads = list(store)
    told = {(q.subject, q.predicate) for q in quads if _language(q) == language}
    marked = {q.subject for name in TRANSLATED for q in store.quads_for_pattern(None, _TYPE, NamedNode(_CG + name))}
    changed = Store()
    changed.extend(new for quad in quads for new in _instead(quad, language, told, marked))
    return changed


def _language(quad: Quad) -> str | None:
    return quad.object.language if isinstance(quad.object, Literal) else None


def _instead(
    quad: Quad, language: str, told: Collection[tuple[object, object]], marked: Collection[object]
) -> Iterator[Quad]:
    found, text = _language(quad), quad.object.value if isinstance(quad.object, Literal) else ""
    if found == language:
        yield Quad(quad.subject, quad.predicate, Literal(text, language=ENGLISH), quad.graph_name)
    elif found != ENGLISH:
        yield quad
    elif (quad.subject, quad.predicate) in told:
        if quad.predicate in _NAMES:
            yield Quad(quad.subject, _HIDDEN, quad.object, quad.graph_name)
    elif quad.predicate == _PREFERRED and quad.subject in marked:
        yield Quad(quad.subject, quad.predicate, Literal(text + MARK, language=ENGLISH), quad.graph_name)
        yield Quad(quad.subject, _HIDDEN, quad.object, quad.graph_name)
    else:
        yield quad


def told_languages(graph: GraphStore) -> tuple[str, ...]:
    """Return the languages in which labels are told; English first."""
    rows = graph.ask("languages/list-labels")
    told = {str(row["language"]) for row in rows if row["class"] in TRANSLATED}
    return (ENGLISH, *sorted(told - {ENGLISH, ""}))
