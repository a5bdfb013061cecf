"""One request that works for every route, and what came back; the description of the service shows both.

Answers stand in `examples.json`, one on each line, lists cut short. After a change of what an answer holds, write
them anew: ``python -m clampgraph.api.examples``; the tests tell when.
"""

import asyncio
import json
import tempfile
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any

from fastapi import FastAPI

from clampgraph.api.settings import EMBEDDED
from clampgraph.api.tokens import TokenFile

__all__ = ["EXAMPLES", "FILE", "Example", "answers", "cut", "service", "write"]

FILE = Path(__file__).with_name("examples.json")
"""Where the answers stand."""

UNIT = "brannoch-40t"
_FOUND = {"assembly": UNIT, "seen": ["slow-return"], "unseen": ["bang-at-release"]}
_JOB = {"assembly": UNIT, "positions": ["rod"], "with_mpn": "BR-4012-2", "generation": "gen-2"}
_LOOK = {"features": {"taper": "BT40", "build-date": "2012"}}
_CLOSED = {
    "assembly": UNIT,
    "evidence": {"seen": ["slow-return"], "unseen": ["bang-at-release"]},
    "found": ["quick-exhaust-valve:diaphragm-sticks"],
    "replaced": {"PF-QEV-38": 1},
    "minutes": 25,
    "author": "A. Fitter",
}
_ROD = {"mpn": "BR-4012-2", "assembly": UNIT, "position": "rod"}
_PACK = """@prefix skos: <http://www.w3.org/2004/02/skos/core#> .
<https://w3id.org/clampgraph/knowledge#slow-return> skos:altLabel "comes back like treacle"@en .
"""
_COUNT = "SELECT (COUNT(*) AS ?n) { ?s ?p ?o }"


@dataclass(frozen=True, slots=True)
class Example:
    """A request: the route, what goes into its path and its query, and its body with its type."""

    method: str
    route: str
    path: Mapping[str, str] = field(default_factory=dict)
    query: Mapping[str, str] = field(default_factory=dict)
    body: Any = None
    media: str = "application/json"

    @property
    def name(self) -> str:
        """Method and route."""
        return f"{self.method} {self.route}"

    @property
    def url(self) -> str:
        """The path with its values."""
        return self.route.format_map(self.path)

    def sent(self) -> dict[str, Any]:
        """Return query, body and headers as an HTTP client takes them."""
        given: dict[str, Any] = {"params": dict(self.query)}
        if self.body is None:
            return given
        content = self.body if isinstance(self.body, str) else json.dumps(self.body)
        return {**given, "content": content.encode(), "headers": {"content-type": self.media}}


_OF_UNIT = {"assembly": UNIT}

EXAMPLES: tuple[Example, ...] = (
    Example("GET", "/health"),
    Example("GET", "/health/alive"),
    Example("GET", "/health/ready"),
    Example("GET", "/metrics"),
    Example("POST", "/reload"),
    Example("POST", "/packs", query={"name": "our-words"}, body=_PACK, media="text/turtle"),
    Example("GET", "/assemblies", query={"limit": "2"}),
    Example("GET", "/assemblies/{assembly}", _OF_UNIT, {"generation": "gen-2"}),
    Example("GET", "/assemblies/{assembly}/network", _OF_UNIT),
    Example("GET", "/assemblies/{assembly}/agreement", {"assembly": "brannoch-30s"}),
    Example("GET", "/assemblies/{assembly}/drawing.svg", _OF_UNIT, {"phase": "release"}),
    Example(
        "GET",
        "/assemblies/{assembly}/influence.svg",
        _OF_UNIT,
        {"cause": "quick-exhaust-valve:diaphragm-sticks", "symptom": "slow-return"},
    ),
    Example("GET", "/assemblies/{assembly}/disassembly.svg", _OF_UNIT, {"positions": "rod"}),
    Example("GET", "/symptoms", query={"q": "won't let go"}),
    Example("POST", "/identifications", body=_LOOK),
    Example("POST", "/identifications/batch", body={"questions": [_LOOK, {"features": {"tapr": "BT40"}}]}),
    Example("POST", "/diagnoses", body=_FOUND),
    Example("POST", "/diagnoses/batch", body={"questions": [_FOUND, {"assembly": "branoch-40t"}]}),
    Example("GET", "/items/{mpn}/fits", {"mpn": "BR-4012-2"}, {"assembly": UNIT, "position": "rod"}),
    Example("GET", "/fits", query={"assembly": UNIT, "position": "push-bolt"}),
    Example("POST", "/fits/batch", body={"questions": [_ROD, {**_ROD, "mpn": "BR-9999"}]}),
    Example("POST", "/replacements", body=_JOB),
    Example("POST", "/replacements/batch", body={"questions": [_JOB, {**_JOB, "positions": ["rodd"]}]}),
    Example("GET", "/calculations"),
    Example("POST", "/calculations/{name}", {"name": "cylinder-force"}, body={"pressure": "6bar", "bore": "100mm"}),
    Example("POST", "/simulations", body={"assembly": UNIT, "faults": ["quick-exhaust-valve:diaphragm-sticks"]}),
    Example("GET", "/tables"),
    Example("GET", "/tables/{name}", {"name": "checks-with-limits"}, {"assembly": UNIT}),
    Example("GET", "/tables/{name}/changes", {"name": "cautions"}, {"since": "shipped"}),
    Example("POST", "/cases", body=_CLOSED),
    Example("GET", "/cases", query={"assembly": UNIT, "limit": "2"}),
    Example("GET", "/cases/{number}", {"number": "1"}),
    Example("POST", "/cases/exposures", body={"assembly": UNIT, "years": 36}),
    Example("GET", "/cases/figures"),
    Example("GET", "/cases/calibration", query={"assembly": UNIT}),
    Example("DELETE", "/cases/authors/{name}", {"name": "A. Fitter"}),
    Example("GET", "/queries"),
    Example("GET", "/queries/{name}", {"name": "assembly/list-generations"}, {"assembly": UNIT}),
    Example("GET", "/sparql", query={"query": _COUNT}),
    Example("POST", "/sparql", body=_COUNT, media="application/sparql-query"),
)
"""The requests."""


@cache
def answers() -> Mapping[str, Any]:
    """Return what came back, by method and route."""
    found: dict[str, Any] = json.loads(FILE.read_text("utf-8"))
    return found


def cut(value: Any) -> Any:
    """Cut a list of objects to its first, a batch and any other list to the first two, and a text to 400 letters."""
    if isinstance(value, list):
        alike = all(isinstance(entry, dict) and "problem" not in entry for entry in value)
        return [cut(entry) for entry in value[: 1 if alike else 2]]
    if isinstance(value, dict):
        return {key: cut(entry) for key, entry in value.items()}
    return value[:400] if isinstance(value, str) else value


def service(folder: Path) -> tuple[FastAPI, str]:
    """Return a service that takes every example, keeping what it must in a folder; and a token that may do all."""
    from clampgraph.api.app import create_app  # noqa: PLC0415  # which reads this module

    tokens = folder / "tokens.json"
    token = TokenFile(tokens).issue("examples", "admin", 1)
    settings = {"tokens": tokens, "uploads": folder / "packs", "cases": str(folder / "cases.sqlite")}
    return create_app(settings=EMBEDDED.model_copy(update=settings)), token


def write() -> None:
    """Ask every example of the shipped packs, and write the answers down."""
    with tempfile.TemporaryDirectory(prefix="clampgraph-") as folder:
        found = asyncio.run(_asked(*service(Path(folder))))
    lines = (f"{json.dumps(name)}: {json.dumps(answer, ensure_ascii=False)}" for name, answer in found.items())
    FILE.write_text("{\n" + ",\n".join(lines) + "\n}\n", "utf-8")


async def _asked(app: FastAPI, token: str) -> dict[str, Any]:
    from httpx import ASGITransport, AsyncClient  # noqa: PLC0415  # only needed to write

    found, way = {}, ASGITransport(app)
    bearer = {"authorization": f"Bearer {token}"}
    async with AsyncClient(transport=way, base_url="http://localhost", headers=bearer) as client:
        for example in EXAMPLES:
            reply = await client.request(example.method, example.url, **example.sent())
            reply.raise_for_status()
            kind = reply.headers.get("content-type", "")
            found[example.name] = cut(reply.json() if "json" in kind else reply.text)
    return found


if __name__ == "__main__":
    write()
