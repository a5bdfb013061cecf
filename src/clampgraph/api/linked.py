"""Linked data on request: `Accept: application/ld+json` gives the same body with an inline `@context` (JSON-LD 1.1).

A context says which fields are terms of the ontology; the others stay plain JSON and mean nothing to a graph.
Nothing is fetched from anywhere to read it. Texts are mapped where they are told in English, the language that every
pack speaks: where a translation is lacking, nobody could tell in which language a text is.
"""

import json
from collections.abc import Callable, Coroutine, Mapping
from typing import Any

from fastapi import Request, Response
from fastapi.routing import APIRoute

from clampgraph.answers.assemblies import AssembliesAnswer, ShowAnswer
from clampgraph.answers.diagnosing.diagnosis import DiagnosisAnswer
from clampgraph.answers.identifying.identify import IdentifyAnswer
from clampgraph.answers.languages import preferred_language
from clampgraph.answers.models import Answer
from clampgraph.answers.replacing.fits import FitsAnswer
from clampgraph.answers.replacing.replacements import SwapAnswer
from clampgraph.answers.symptoms import SymptomsAnswer
from clampgraph.api.accepting import best
from clampgraph.api.around.pinning import held_of
from clampgraph.graph.languages import ENGLISH

__all__ = ["CONTEXTS", "LINKED", "LinkingRoute", "Told"]

LINKED = "application/ld+json"
_PLAIN = "application/json"

_Context = Mapping[str, Any]


def _text(term: str) -> _Context:
    return {"@id": term, "@language": "en"}


def _within(term: str | Mapping[str, str], **fields: Any) -> _Context:
    """Map a field whose value has words of its own; None takes a word of the surroundings away."""
    named = {"@id": term} if isinstance(term, str) else dict(term)
    return {**named, "@context": fields}


_INCLUDED = "@included"
_WORDS: _Context = {
    "@version": 1.1,
    "cg": "https://w3id.org/clampgraph/ns#",
    "dcterms": "http://purl.org/dc/terms/",
    "schema": "https://schema.org/",
    "skos": "http://www.w3.org/2004/02/skos/core#",
    "xsd": "http://www.w3.org/2001/XMLSchema#",
    "iri": "@id",
    "id": "dcterms:identifier",
    "label": _text("skos:prefLabel"),
}
_DATE = {"@type": "xsd:date"}
_ASSEMBLY: _Context = {
    **_WORDS,
    "taper": "cg:taper",
    "actuator": "cg:actuator",
    "drive": "cg:drive",
    "generations": {"@reverse": "cg:generationOf"},
    "built_from": {"@id": "cg:builtFrom", **_DATE},
    "built_until": {"@id": "cg:builtUntil", **_DATE},
    "serial_from": "cg:serialFrom",
    "serial_until": "cg:serialUntil",
}
_FEATURE = {"key": "dcterms:identifier", "question": "cg:question", "lockout": "cg:lockOut"}

CONTEXTS: Mapping[type[Answer], _Context] = {
    AssembliesAnswer: {**_ASSEMBLY, "assemblies": _INCLUDED},
    ShowAnswer: {
        **_ASSEMBLY,
        "positions": _within(
            {"@reverse": "cg:positionOf"},
            label=None,  # of the component type, not of the position
            designation="cg:designation",
            type=_within(
                {"@id": "cg:ofType", "@type": "@vocab"}, **{"@vocab": "https://w3id.org/clampgraph/knowledge#"}
            ),
            actuated_in=_within(
                {"@id": "cg:actuatedIn", "@type": "@vocab"}, **{"@vocab": "https://w3id.org/clampgraph/phase#"}
            ),
            items=_INCLUDED,
            mpn="schema:mpn",
        ),
        "connections": _INCLUDED,
        "from_port": "cg:fromPort",
        "to_port": "cg:toPort",
    },
    SymptomsAnswer: {**_WORDS, "symptoms": _INCLUDED, "alternatives": _text("skos:altLabel")},
    DiagnosisAnswer: {
        **_WORDS,
        "causes": _INCLUDED,
        "failure_mode": "dcterms:identifier",
        "mechanism": "cg:mechanism",
        "severity": "cg:severity",
        "root_conditions": _INCLUDED,
        "advice": _text("cg:advice"),
    },
    IdentifyAnswer: {
        **{k: v for k, v in _WORDS.items() if k != "label"},
        "candidates": _INCLUDED,
        "generation": "dcterms:identifier",
    },
    FitsAnswer: {
        **{k: v for k, v in _WORDS.items() if k != "label"},
        "places": _INCLUDED,
        "position": "dcterms:identifier",
        "designation": "cg:designation",
    },
    SwapAnswer: {
        **{k: v for k, v in _WORDS.items() if k not in ("id", "iri", "label")},
        "access": _INCLUDED,
        "joint": "@id",
    },
}
"""What the fields of an answer mean, by its model."""


class Told(Response):
    """An answer as JSON, which remembers its model."""

    media_type = _PLAIN

    def __init__(self, answer: Answer) -> None:
        super().__init__(answer.model_dump_json())
        self.model = type(answer)


def _linked(told: Told, context: _Context) -> Response:
    text = json.dumps(context, separators=(",", ":"))
    headers = {k: v for k, v in told.headers.items() if k not in ("content-length", "content-type")}
    return Response(b'{"@context":' + text.encode() + b"," + bytes(told.body)[1:], 200, headers, LINKED)


def _wordless(context: _Context) -> _Context:
    """Leave out the words for texts: they say that a text is English."""
    return {word: meaning for word, meaning in context.items() if "@language" not in str(meaning)}


class LinkingRoute(APIRoute):
    """A route that adds the context to its answer for callers who like it better that way."""

    def get_route_handler(self) -> Callable[[Request], Coroutine[Any, Any, Response]]:
        """Return the handler."""
        plain = super().get_route_handler()

        async def handler(request: Request) -> Response:
            response = await plain(request)
            if not isinstance(response, Told) or response.model not in CONTEXTS:
                return response
            response.headers["vary"] = "accept, accept-language"
            wish = request.headers.get("accept", "")
            if "ld+json" not in wish or best(wish, (_PLAIN, LINKED)) != LINKED:
                return response
            languages = request.headers.get("accept-language", "")
            english = preferred_language(languages, held_of(request.scope).languages) == ENGLISH
            context = CONTEXTS[response.model]
            return _linked(response, context if english else _wordless(context))

        return handler
