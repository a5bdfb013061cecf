"""Ask a running service from Python: the same questions, answers and errors as in this process.

`Client` has one method for each question; questions are the models named here, answers those of `answers`.
"""

from clampgraph.answers.diagnosing.diagnosis import DiagnoseRequest
from clampgraph.answers.draw import DrawRequest
from clampgraph.answers.identifying.identify import IdentifyRequest
from clampgraph.answers.replacing.fits import FitsRequest
from clampgraph.answers.replacing.replacements import SwapRequest
from clampgraph.answers.stroke.simulate import SimulateRequest
from clampgraph.answers.table import TableRequest
from clampgraph.client.client import Client

__all__ = [
    "Client",
    "DiagnoseRequest",
    "DrawRequest",
    "FitsRequest",
    "IdentifyRequest",
    "SimulateRequest",
    "SwapRequest",
    "TableRequest",
]
