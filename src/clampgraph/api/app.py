"""The application: one library, the routes, and the steps around them."""

from collections.abc import Iterable
from pathlib import Path

from fastapi import FastAPI

from clampgraph.answers.library import Library
from clampgraph.api import batches, cases, describing, health, packs, problems, routes, sparql, work, writing
from clampgraph.api.around.logs import log_to
from clampgraph.api.around.metrics import Metrics
from clampgraph.api.around.ordering import recognition, steps
from clampgraph.api.around.recognising import Figures
from clampgraph.api.keeping import Keeper
from clampgraph.api.living import lifespan
from clampgraph.api.settings import EMBEDDED, Settings

__all__ = ["PARTS", "create_app"]

PARTS = (health, routes, work, batches, sparql, writing, cases, packs)
"""The modules that bring routes."""


def create_app(library: Library | None = None, packs: Iterable[Path] = (), settings: Settings = EMBEDDED) -> FastAPI:
    """Return the application that answers from a library; the shipped packs and the given ones if none is given."""
    app = FastAPI(
        title="clampgraph",
        version="1",
        summary="Diagnosis and replacement for tool-clamp assemblies of machining-centre spindles.",
        lifespan=lifespan,
    )
    keeper = Keeper((*packs, *settings.data), settings.uploads, settings.store)
    metrics, log = Metrics(), log_to(settings.log)
    keeper.changed.append(lambda held: metrics.loaded(held.edition, held.triples))
    if library is None:
        keeper.open_or_wait()
    else:
        keeper.adopt(library)
    book = app.state.casebook = cases.CaseBook(settings.cases, log)
    app.state.desk = batches.Desk(settings.cache // 4)
    app.state.keeper, app.state.settings, app.state.metrics, app.state.log = keeper, settings, metrics, log
    for part in PARTS:
        app.include_router(part.router)
    problems.install(app)
    describing.install(app)
    figures = Figures(book.state, book.state_at_hand) if settings.cases else None
    known = app.state.known = recognition(settings, keeper, log, metrics, figures)
    app.user_middleware.extend(steps(settings, known))
    return app
