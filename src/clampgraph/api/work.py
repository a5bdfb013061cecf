"""Routes of the work itself: identify, swap, compute, simulate."""

from fastapi import APIRouter, Response

from clampgraph.answers.calculate import CalculationAnswer, CalculationsAnswer, calculate, calculations
from clampgraph.answers.identifying.identify import IdentifyAnswer, IdentifyRequest, identify
from clampgraph.answers.replacing.replacements import SwapAnswer, SwapRequest
from clampgraph.answers.replacing.swap import swap
from clampgraph.answers.stroke.agreement import AgreementAnswer, agreement
from clampgraph.answers.stroke.simulate import SimulateRequest, SimulationAnswer, simulate
from clampgraph.api.linked import LinkingRoute
from clampgraph.api.routes import Generation, Loaded, send

__all__ = ["router"]

router = APIRouter(route_class=LinkingRoute)


@router.post("/identifications", response_model=IdentifyAnswer, summary="Which unit is fitted?")
def post_identification(library: Loaded, question: IdentifyRequest) -> Response:
    """Rank the described units by what was seen, and say what to look at next."""
    return send(identify(library, question))


@router.post("/replacements", response_model=SwapAnswer, summary="What else is swapped with it?")
def post_replacement(library: Loaded, question: SwapRequest) -> Response:
    """Say what has to come off, what is renewed and why, the order, the steps and the verification."""
    return send(swap(library, question))


@router.get("/calculations", response_model=CalculationsAnswer, summary="Which figures can be computed?")
def get_calculations() -> Response:
    """List the calculations with their inputs and results."""
    return send(calculations())


@router.post("/calculations/{name}", response_model=CalculationAnswer, summary="Compute a figure")
def post_calculation(name: str, inputs: dict[str, str]) -> Response:
    """Compute one figure; inputs are texts with units, such as `6bar`."""
    return send(calculate(name, inputs))


@router.post("/simulations", response_model=SimulationAnswer, summary="What does one tool change look like?")
def post_simulation(library: Loaded, question: SimulateRequest) -> Response:
    """Simulate one cycle, healthy or with injected failure modes."""
    return send(simulate(library, question))


@router.get("/assemblies/{assembly}/agreement", response_model=AgreementAnswer, summary="Does physics agree?")
def get_agreement(library: Loaded, assembly: str, generation: Generation = None) -> Response:
    """Hold what the graph claims of an assembly against its simulated stroke."""
    return send(agreement(library, assembly, generation))
