"""The application: routes and error shape around one library."""

from collections.abc import Iterable
from pathlib import Path

from fastapi import FastAPI

from clampgraph.answers.languages import languages
from clampgraph.answers.library import Library
from clampgraph.api import batches, problems, routes, sparql, versions, work, writing

__all__ = ["create_app"]


def create_app(library: Library | None = None, packs: Iterable[Path] = ()) -> FastAPI:
    """Return the application that answers from a library; the shipped packs and the given ones if none is given."""
    app = FastAPI(
        title="clampgraph",
        version="1",
        summary="Diagnosis and replacement for tool-clamp assemblies of machining-centre spindles.",
    )
    app.state.library = library if library is not None else Library.open(packs)
    app.state.languages = languages(app.state.library)
    app.include_router(routes.router)
    for part in (work, batches, sparql, writing):
        app.include_router(part.router)
    problems.install(app)
    app.add_middleware(versions.Versioned)
    return app
