"""The steps in order, outermost first; what a setting leaves out is not there at all."""

from collections.abc import Callable, Iterator
from typing import Any

from starlette.middleware import Middleware
from starlette.middleware.cors import CORSMiddleware
from starlette.middleware.gzip import GZipMiddleware

from clampgraph.api.around.bounding import Bounded
from clampgraph.api.around.guarding import Guarded
from clampgraph.api.around.logs import Log
from clampgraph.api.around.mending import Mended
from clampgraph.api.around.metrics import Metrics
from clampgraph.api.around.naming import Named
from clampgraph.api.around.observing import Observed
from clampgraph.api.around.pacing import Paced
from clampgraph.api.around.pinning import Pinned
from clampgraph.api.around.remembering import Remembered
from clampgraph.api.around.tagging import Tagged
from clampgraph.api.keeping import Keeper
from clampgraph.api.settings import Settings
from clampgraph.api.versions import Versioned

__all__ = ["steps"]

GZIP_LEVEL = 5


def steps(
    settings: Settings, keeper: Keeper, log: Log, metrics: Metrics, figures: Callable[[], str] | None
) -> Iterator[Middleware]:
    """Yield the steps that stand between the server and the routes."""
    yield Middleware(Versioned)
    yield Middleware(GZipMiddleware, minimum_size=1024, compresslevel=GZIP_LEVEL)
    yield Middleware(Named)
    yield Middleware(Observed, log=log, metrics=metrics)
    yield Middleware(Mended)
    if settings.cors:
        yield Middleware(CORSMiddleware, **_shared(settings))
    yield Middleware(Guarded, settings=settings)
    if settings.rate_per_minute:
        yield Middleware(Paced, per_minute=settings.rate_per_minute)
    yield Middleware(Bounded, settings=settings)
    yield Middleware(Tagged)
    yield Middleware(Pinned, keeper=keeper)
    if settings.cache:
        yield Middleware(Remembered, settings=settings, metrics=metrics, figures=figures)


def _shared(settings: Settings) -> dict[str, Any]:
    return {
        "allow_origins": settings.cors,
        "allow_methods": ("GET", "POST", "PUT", "PATCH", "DELETE"),
        "allow_headers": ("Authorization", "Idempotency-Key", "X-Request-Id", "If-None-Match", "If-Match"),
        "expose_headers": ("ETag", "Link", "Location", "Retry-After", "X-Request-Id"),
    }
