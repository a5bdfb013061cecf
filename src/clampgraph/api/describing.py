"""The description of the service (OpenAPI): what each route is for, an example of it, every form, every problem."""

from collections.abc import Iterator, Mapping
from http import HTTPStatus
from typing import Any

from fastapi import FastAPI

from clampgraph.answers.problems import PROBLEM_TYPES
from clampgraph.api.examples import EXAMPLES, Example, answers
from clampgraph.api.linked import CONTEXTS, LINKED
from clampgraph.api.problems import MEDIA
from clampgraph.api.sparql import GRAPHS, ROWS
from clampgraph.api.versions import CURRENT
from clampgraph.errors import ClampgraphError, DataError, StoreError, UnknownNameError, WrongCallError
from clampgraph.tables import FORMATS

__all__ = ["TAGS", "install"]

TAGS = {
    "Look up": "What is described, and how it is called.",
    "Find the cause": "From what is seen at the machine to its causes, the next check and a plan.",
    "Choose parts": "What fits, and what else is swapped with it.",
    "Compute": "Figures with units and sources, and the simulated tool change.",
    "Write the manual": "Tables, drawings, and what changed in them.",
    "Learn from cases": "What it really was, and what follows from it.",
    "Ask the graph": "Named queries, and SPARQL that only reads.",
    "Run the service": "Whether it is well, what it counts, and what it has loaded.",
}
"""Tasks of the trade, with what belongs to them."""

_TASK = {
    "identifications": "Find the cause",
    "diagnoses": "Find the cause",
    "items": "Choose parts",
    "fits": "Choose parts",
    "replacements": "Choose parts",
    "calculations": "Compute",
    "simulations": "Compute",
    "agreement": "Compute",
    "tables": "Write the manual",
    "books": "Write the manual",
    "drawing": "Write the manual",
    "cases": "Learn from cases",
    "learning": "Learn from cases",
    "queries": "Ask the graph",
    "sparql": "Ask the graph",
    "health": "Run the service",
    "metrics": "Run the service",
    "reload": "Run the service",
    "packs": "Run the service",
}
"""The task of a route, by a word of its path; the last word that is known counts."""

_TEXT = {"type": "string"}
_SVG = {"image/svg+xml": _TEXT}
_RESULT = {media: {} if "json" in media else _TEXT for media in ROWS}

_ONLY: Mapping[str, Mapping[str, Any]] = {
    "/metrics": {"text/plain": _TEXT},
    "/queries/{name}": _RESULT,
    "/sparql": {**_RESULT, **{media: {} if media == LINKED else _TEXT for media in GRAPHS}},
}
"""Forms of routes that give no JSON model."""

_WRITTEN = sorted({form.media_type.partition(";")[0] for form in FORMATS.values()} - {"application/json"})
_ALSO: Mapping[str, Mapping[str, Any]] = {
    "/assemblies/{assembly}/network": {"text/plain": _TEXT},
    "/tables/{name}": {media: {} if "json" in media else _TEXT for media in _WRITTEN},
}
"""Forms that a route gives beside its JSON model."""

_PROBLEMS: Mapping[int, type[ClampgraphError]] = {
    404: UnknownNameError,
    422: WrongCallError,
    500: DataError,
    503: StoreError,
}
_SAID = {
    400: "There is no query in the request; send exactly one as 'query'.",
    404: "There is no assembly 'branoch-40t'; nearest: brannoch-40t.",
    406: "Nothing here is of the type 'image/png'; accept one of application/json, text/csv.",
    415: "The body is of the type 'text/plain'; send application/json.",
    422: "The symptom 'slow-return' is given as seen and as unseen; say one of them.",
    500: "A pack or a store cannot be used; the sentence names it.",
    503: "The service is busy or still loading; ask again after the seconds in Retry-After.",
}


def install(app: FastAPI) -> None:
    """Let the application describe itself in full; the description is put together once, when first asked for."""
    plain = app.openapi

    def described() -> dict[str, Any]:
        if app.openapi_schema is None:
            app.openapi_schema = _described(plain())
        return app.openapi_schema

    app.openapi = described  # type: ignore[method-assign]  # the way that FastAPI documents


def _described(plain: dict[str, Any]) -> dict[str, Any]:
    by_name = {example.name: example for example in EXAMPLES}
    for route, operations in plain["paths"].items():
        for method, operation in operations.items():
            operation["tags"] = [_task(route)]
            _forms(route, operation)
            if (example := by_name.get(f"{method.upper()} {route}")) is not None:
                _show(operation, example)
            _problems(operation, route)
    plain["security"] = [{}, {"token": []}]
    plain["components"]["securitySchemes"] = {
        "token": {"type": "http", "scheme": "bearer", "description": "Where the service has tokens."}
    }
    schemas = plain["components"]["schemas"]
    for unused in ("HTTPValidationError", "ValidationError"):
        schemas.pop(unused, None)
    plain["servers"] = [{"url": f"/{CURRENT}"}]
    plain["tags"] = [{"name": name, "description": text} for name, text in TAGS.items()]
    return plain


def _task(route: str) -> str:
    words = route.replace(".", "/").split("/")
    return next((_TASK[word] for word in reversed(words) if word in _TASK), "Look up")


def _fine(operation: Mapping[str, Any]) -> dict[str, Any]:
    """Return the response of a request that succeeds."""
    found: dict[str, Any] = next(told for status, told in operation["responses"].items() if status.startswith("2"))
    return found


def _forms(route: str, operation: dict[str, Any]) -> None:
    """Name every form of an answer."""
    fine = _fine(operation)
    content = fine.setdefault("content", {})
    only = _ONLY.get(route, _SVG if route.endswith(".svg") else None)
    if only is not None:
        content.clear()
    for media, schema in {**(only or {}), **_ALSO.get(route, {})}.items():
        content[media] = {"schema": schema}
    schema = content.get("application/json", {}).get("schema", {})
    if schema.get("$ref", "").rpartition("/")[2] in {model.__name__ for model in CONTEXTS}:
        content[LINKED] = {"schema": schema}
    if any(parameter["name"] == "after" for parameter in operation.get("parameters", ())):
        told = 'The next page, if there is one: `<?…>; rel="next"`, relative to this one (RFC 8288).'
        fine["headers"] = {"Link": {"description": told, "schema": _TEXT}}


def _problems(operation: dict[str, Any], route: str) -> None:
    """Name the problems that a route may have; `default` stands for those of the way there, such as 401 or 429."""
    responses = operation["responses"]
    for status in _statuses(operation, route):
        responses[str(status)] = {
            "description": HTTPStatus(status).phrase,
            "content": {MEDIA: {"schema": _PROBLEM, "example": _example_of(status)}},
        }
    responses["default"] = {"description": "Any other problem", "content": {MEDIA: {"schema": _PROBLEM}}}


_PROBLEM = {"$ref": "#/components/schemas/ProblemOut"}


def _statuses(operation: Mapping[str, Any], route: str) -> Iterator[int]:
    if route == "/sparql":
        yield 400
    yield 404
    if len(_fine(operation)["content"]) > 1:
        yield 406
    if "requestBody" in operation:
        yield 415
    yield from (422, 500, 503)


def _example_of(status: int) -> dict[str, Any]:
    kind = _PROBLEMS.get(status, WrongCallError if status == 400 else None)
    phrase = HTTPStatus(status).phrase
    slug = phrase.lower().replace(" ", "-") if kind is None else kind.slug
    title = "The request cannot be served" if kind is None else kind.title
    told = {"type": PROBLEM_TYPES + slug, "title": title, "status": status, "detail": _SAID[status]}
    return {**told, "nearest": ["brannoch-40t"]} if status == 404 else told


def _show(operation: dict[str, Any], example: Example) -> None:
    """Put a request that works and its answer into the description."""
    given = {**example.path, **example.query}
    for parameter in operation.get("parameters", ()):
        if parameter["name"] in given:
            parameter["example"] = _typed(given[parameter["name"]], parameter["schema"])
    if example.body is not None:
        content = operation.setdefault("requestBody", {"required": True}).setdefault("content", {})
        content.setdefault(example.media, {"schema": _TEXT})["example"] = example.body
    answer = answers().get(example.name)
    if answer is not None:
        content = _fine(operation)["content"]
        media = next(iter(content), "application/json")
        content.setdefault(media, {})["example"] = answer


def _typed(text: str, schema: Mapping[str, Any]) -> Any:
    return int(text) if schema.get("type") == "integer" else text
