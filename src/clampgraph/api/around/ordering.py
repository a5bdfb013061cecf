"""The steps in order, outermost first; what a setting leaves out is not there at all."""

from collections.abc import Iterator
from typing import Any

from starlette.middleware import Middleware
from starlette.middleware.cors import CORSMiddleware
from starlette.middleware.gzip import GZipMiddleware

from clampgraph.api.around.bounding import Bounded
from clampgraph.api.around.finished import Finished
from clampgraph.api.around.guarding import Guarded
from clampgraph.api.around.heading import Headed
from clampgraph.api.around.logs import Log
from clampgraph.api.around.mending import Mended
from clampgraph.api.around.metrics import Metrics
from clampgraph.api.around.naming import Named, Names
from clampgraph.api.around.observing import Journal, Observed
from clampgraph.api.around.pacing import Buckets, Paced
from clampgraph.api.around.pinning import Pinned
from clampgraph.api.around.recognising import Figures, Recognised, Recognition
from clampgraph.api.around.remembering import Remembered
from clampgraph.api.around.tagging import Tagged
from clampgraph.api.around.warding import Warded
from clampgraph.api.keeping import Keeper
from clampgraph.api.settings import Settings
from clampgraph.api.tokens import TokenFile
from clampgraph.api.versions import Versioned

__all__ = ["recognition", "steps"]

GZIP_LEVEL = 5


def recognition(settings: Settings, keeper: Keeper, log: Log, metrics: Metrics, figures: Figures | None) -> Recognition:
    """Return what is shared by the steps and by the server, which asks it first."""
    tokens = TokenFile(settings.tokens) if settings.tokens else None
    buckets = Buckets(settings.rate_per_minute) if settings.rate_per_minute else None
    return Recognition(keeper, Finished(settings.cache), Journal(log, metrics), Names(), tokens, buckets, figures)


def steps(settings: Settings, known: Recognition) -> Iterator[Middleware]:
    """Yield the steps that stand between the server and the routes."""
    yield Middleware(Headed)
    yield Middleware(Recognised, recognition=known)
    yield Middleware(Versioned)
    yield Middleware(GZipMiddleware, minimum_size=1024, compresslevel=GZIP_LEVEL)
    yield Middleware(Named, names=known.names)
    yield Middleware(Observed, journal=known.journal)
    yield Middleware(Mended)
    if settings.cors:
        yield Middleware(CORSMiddleware, **_shared(settings))
    if settings.tokens and settings.guesses:
        yield Middleware(Warded, per_minute=settings.guesses)
    yield Middleware(Guarded, settings=settings, tokens=known.tokens)
    if known.buckets is not None:
        yield Middleware(Paced, buckets=known.buckets)
    yield Middleware(Bounded, settings=settings)
    yield Middleware(Tagged)
    yield Middleware(Pinned, keeper=known.keeper)
    if settings.cache:
        yield Middleware(Remembered, settings=settings, shared=known)


def _shared(settings: Settings) -> dict[str, Any]:
    return {
        "allow_origins": settings.cors,
        "allow_methods": ("GET", "POST", "PUT", "PATCH", "DELETE"),
        "allow_headers": ("Authorization", "Idempotency-Key", "X-Request-Id", "If-None-Match", "If-Match"),
        "expose_headers": ("ETag", "Link", "Location", "Retry-After", "X-Request-Id"),
    }
