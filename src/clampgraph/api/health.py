"""Routes for who watches the service: alive, ready, how much is loaded, and the metrics."""

from fastapi import APIRouter, Request, Response

from clampgraph.api.around.metrics import CONTENT_TYPE
from clampgraph.api.keeping import Keeper
from clampgraph.api.problems import problem
from clampgraph.errors import StoreError

__all__ = ["router"]

router = APIRouter()


def _refusal(keeper: Keeper) -> Response | None:
    reason = keeper.why_not_ready()
    return problem(503, reason, {"retry-after": "1"}) if reason else None


@router.get("/health", summary="Is the service ready, and how much is loaded?", response_model=dict[str, str | int])
def get_health(request: Request) -> Response | dict[str, str | int]:
    """Report readiness, and the number of triples; in a thread, since a store elsewhere takes its time."""
    keeper: Keeper = request.app.state.keeper
    refusal = _refusal(keeper)
    if refusal is not None or keeper.held is None:
        return refusal or Response(status_code=503)
    return {"status": "ready", "triples": len(keeper.held.library.graph)}


@router.get("/health/alive", summary="Does the process answer at all?")
async def get_alive() -> dict[str, str]:
    """Say so; whoever gets no answer starts the process again."""
    return {"status": "alive"}


@router.get("/health/ready", summary="May questions be sent here?", response_model=dict[str, str])
def get_ready(request: Request) -> Response | dict[str, str]:
    """Say yes and name the edition, or say why not: still loading, going down, or a store that does not answer.

    A case store that answered once may go: questions are answered without it, and `cases` says so.
    """
    keeper: Keeper = request.app.state.keeper
    refusal = _refusal(keeper)
    if refusal is not None or keeper.held is None:
        return refusal or Response(status_code=503)
    # A store that is down raises, which becomes a 503 with its sentence.
    if keeper.elsewhere:
        len(keeper.held.library.graph)
    cases = {"cases": _cases(request)} if request.app.state.settings.cases is not None else {}
    return {"status": "ready", "edition": keeper.held.edition, **cases}


def _cases(request: Request) -> str:
    store = request.app.state.casebook.store
    try:
        store.version()
    except StoreError:
        if not store.opened:  # since the start: more likely a wrong place than one that comes back
            raise
        return "down"
    return "up"


@router.get("/metrics", summary="What has been counted, for Prometheus?", response_class=Response)
async def get_metrics(request: Request) -> Response:
    """Write counts and times by route, what is loaded, and what is kept."""
    return Response(request.app.state.metrics.text(), media_type=CONTENT_TYPE)
