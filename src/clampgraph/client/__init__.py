"""Ask a running service from Python: the same questions, answers and errors as in this process.

`Client` has one method for each question; questions are the models named here, answers those of `answers`.
Each name is imported when it is first used, since `clampgraph.client.service` alone is what a command needs.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from clampgraph.answers.diagnosing.diagnosis import DiagnoseRequest
    from clampgraph.answers.draw import DisassemblyRequest, DrawRequest, InfluenceRequest
    from clampgraph.answers.identifying.identify import IdentifyRequest
    from clampgraph.answers.recording.cases import CasesRequest, RecordRequest
    from clampgraph.answers.recording.figures import ExposureRequest
    from clampgraph.answers.replacing.fits import FitsRequest
    from clampgraph.answers.replacing.replacements import SwapRequest
    from clampgraph.answers.stroke.simulate import SimulateRequest
    from clampgraph.answers.table import TableRequest
    from clampgraph.client.client import Client

__all__ = [
    "CasesRequest",
    "Client",
    "DiagnoseRequest",
    "DisassemblyRequest",
    "DrawRequest",
    "ExposureRequest",
    "FitsRequest",
    "IdentifyRequest",
    "InfluenceRequest",
    "RecordRequest",
    "SimulateRequest",
    "SwapRequest",
    "TableRequest",
]

_HOMES = {
    "CasesRequest": "answers.recording.cases",
    "Client": "client.client",
    "DiagnoseRequest": "answers.diagnosing.diagnosis",
    "DisassemblyRequest": "answers.draw",
    "DrawRequest": "answers.draw",
    "ExposureRequest": "answers.recording.figures",
    "FitsRequest": "answers.replacing.fits",
    "IdentifyRequest": "answers.identifying.identify",
    "InfluenceRequest": "answers.draw",
    "RecordRequest": "answers.recording.cases",
    "SimulateRequest": "answers.stroke.simulate",
    "SwapRequest": "answers.replacing.replacements",
    "TableRequest": "answers.table",
}


def __getattr__(name: str) -> Any:
    """Import a name from its home (PEP 562)."""
    if name not in _HOMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f"clampgraph.{_HOMES[name]}"), name)
