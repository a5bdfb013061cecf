"""Two doors to the same answers: in this process, or a running service."""

import os
from collections.abc import Mapping
from contextvars import ContextVar
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

if TYPE_CHECKING:
    from clampgraph.answers.library import Library
    from clampgraph.answers.models import Answer
    from clampgraph.client.service import Service

__all__ = ["STORE", "fetch", "fetch_bytes", "open_library", "service"]

A = TypeVar("A", bound="Answer")

STORE: ContextVar[str | None] = ContextVar("store", default=None)
"""Where triples are kept for the command that runs; see `clampgraph.graph.load`."""


def open_library(packs: list[Path]) -> "Library":
    """Load the shipped packs and the given ones, in the store that the command names."""
    from clampgraph.answers.library import Library

    return Library.open(packs, STORE.get())


def service(server: str, language: str | None = None) -> "Service":
    """Return a running service, asked with the token that the environment holds in ``CLAMPGRAPH_TOKEN``."""
    from clampgraph.client.service import Service

    return Service(server, os.environ.get("CLAMPGRAPH_TOKEN"), language=language)


def fetch(
    server: str, call: tuple[str, str], body: Mapping[str, Any], model: type[A], language: str | None = None
) -> A:
    """Ask a running service; `call` is method and path, `body` the JSON body or the query of a GET."""
    with service(server, language) as found:
        return found.ask(*call, model, body)


def fetch_bytes(server: str, path: str, query: Mapping[str, str | list[str]], language: str | None = None) -> bytes:
    """Get a document from a running service; empty parameters are left out."""
    with service(server, language) as found:
        return found.document(path, query)
