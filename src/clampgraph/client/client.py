"""Every question as a method that returns the same model as in this process."""

from collections.abc import Iterable, Mapping
from typing import Any
from urllib.parse import quote

from clampgraph.answers.assemblies import AssembliesAnswer, ShowAnswer
from clampgraph.answers.batches import BatchAnswer
from clampgraph.answers.calculate import CalculationAnswer, CalculationsAnswer
from clampgraph.answers.changes import ChangesAnswer
from clampgraph.answers.diagnosing.diagnosis import DiagnoseRequest, DiagnosisAnswer
from clampgraph.answers.draw import DisassemblyRequest, DrawRequest, InfluenceRequest
from clampgraph.answers.identifying.identify import IdentifyAnswer, IdentifyRequest
from clampgraph.answers.models import Request
from clampgraph.answers.network import NetworkAnswer
from clampgraph.answers.query import QueriesAnswer
from clampgraph.answers.replacing.fits import FitsAnswer, FitsRequest
from clampgraph.answers.replacing.replacements import SwapAnswer, SwapRequest
from clampgraph.answers.stroke.agreement import AgreementAnswer
from clampgraph.answers.stroke.simulate import SimulateRequest, SimulationAnswer
from clampgraph.answers.symptoms import SymptomsAnswer
from clampgraph.answers.table import TableAnswer, TableRequest, TablesAnswer
from clampgraph.client.batching import ask_each
from clampgraph.client.casebook import CaseClient

__all__ = ["Client"]


def _told(question: Request, *left_out: str) -> dict[str, Any]:
    """Return what a question says, without what it leaves at its default."""
    return question.model_dump(mode="json", exclude_unset=True, exclude_none=True, exclude=set(left_out))


def _query(question: Request, *left_out: str) -> dict[str, str | list[str]]:
    told = _told(question, *left_out)
    return {
        k: v if isinstance(v, list) else str(v).lower() if v is True or v is False else str(v) for k, v in told.items()
    }


def _name(text: str) -> str:
    return quote(text, safe="")


class Client(CaseClient):
    """A running service, with one method for each question; see `Service` for how it is asked.

    ::

        with Client("http://localhost:8350") as service:
            answer = service.diagnose(DiagnoseRequest(assembly="brannoch-40t", seen=("slow-return",)))
            print(answer.causes[0].label)
    """

    def assemblies(self) -> AssembliesAnswer:
        """Answer what is there."""
        return self.ask("GET", "/assemblies", AssembliesAnswer)

    def show(self, assembly: str, generation: str | None = None) -> ShowAnswer:
        """Answer what one assembly consists of."""
        return self.ask("GET", f"/assemblies/{_name(assembly)}", ShowAnswer, _given(generation=generation))

    def network(self, assembly: str, generation: str | None = None) -> NetworkAnswer:
        """Answer which network follows from an assembly."""
        return self.ask("GET", f"/assemblies/{_name(assembly)}/network", NetworkAnswer, _given(generation=generation))

    def agreement(self, assembly: str, generation: str | None = None) -> AgreementAnswer:
        """Answer whether physics agrees with what the graph claims of an assembly."""
        path = f"/assemblies/{_name(assembly)}/agreement"
        return self.ask("GET", path, AgreementAnswer, _given(generation=generation))

    def drawing(self, question: DrawRequest) -> bytes:
        """Draw the circuit of an assembly, as SVG."""
        return self.document(f"/assemblies/{_name(question.assembly)}/drawing.svg", _query(question, "assembly"))

    def influence(self, question: InfluenceRequest) -> bytes:
        """Draw where a cause leads, as SVG."""
        return self.document(f"/assemblies/{_name(question.assembly)}/influence.svg", _query(question, "assembly"))

    def disassembly(self, question: DisassemblyRequest) -> bytes:
        """Draw what must come off before what, as SVG."""
        return self.document(f"/assemblies/{_name(question.assembly)}/disassembly.svg", _query(question, "assembly"))

    def symptoms(self, text: str = "") -> SymptomsAnswer:
        """Answer how a symptom is called."""
        return self.ask("GET", "/symptoms", SymptomsAnswer, {"q": text})

    def identify(self, question: IdentifyRequest) -> IdentifyAnswer:
        """Answer which unit is fitted."""
        return self.ask("POST", "/identifications", IdentifyAnswer, _told(question))

    def diagnose(self, question: DiagnoseRequest) -> DiagnosisAnswer:
        """Answer what explains the findings."""
        return self.ask("POST", "/diagnoses", DiagnosisAnswer, _told(question))

    def fits(self, question: FitsRequest) -> FitsAnswer:
        """Answer where an item fits, or what fits a position."""
        path = "/fits" if question.mpn is None else f"/items/{_name(question.mpn)}/fits"
        return self.ask("GET", path, FitsAnswer, _query(question, "mpn"))

    def swap(self, question: SwapRequest) -> SwapAnswer:
        """Answer what else is swapped."""
        return self.ask("POST", "/replacements", SwapAnswer, _told(question))

    def identify_each(self, questions: Iterable[IdentifyRequest]) -> BatchAnswer[IdentifyAnswer]:
        """Answer up to a thousand questions of this kind, each with its answer or its problem."""
        return ask_each(self, "/identifications/batch", BatchAnswer[IdentifyAnswer], questions)

    def diagnose_each(self, questions: Iterable[DiagnoseRequest]) -> BatchAnswer[DiagnosisAnswer]:
        """Answer up to a thousand questions of this kind, each with its answer or its problem."""
        return ask_each(self, "/diagnoses/batch", BatchAnswer[DiagnosisAnswer], questions)

    def fits_each(self, questions: Iterable[FitsRequest]) -> BatchAnswer[FitsAnswer]:
        """Answer up to a thousand questions of this kind, each with its answer or its problem."""
        return ask_each(self, "/fits/batch", BatchAnswer[FitsAnswer], questions)

    def swap_each(self, questions: Iterable[SwapRequest]) -> BatchAnswer[SwapAnswer]:
        """Answer up to a thousand questions of this kind, each with its answer or its problem."""
        return ask_each(self, "/replacements/batch", BatchAnswer[SwapAnswer], questions)

    def calculations(self) -> CalculationsAnswer:
        """Answer which figures can be computed."""
        return self.ask("GET", "/calculations", CalculationsAnswer)

    def calculate(self, name: str, inputs: Mapping[str, str]) -> CalculationAnswer:
        """Compute a figure from texts with units, such as ``6bar``."""
        return self.ask("POST", f"/calculations/{_name(name)}", CalculationAnswer, inputs)

    def simulate(self, question: SimulateRequest) -> SimulationAnswer:
        """Answer what one tool change looks like in numbers."""
        return self.ask("POST", "/simulations", SimulationAnswer, _told(question))

    def tables(self) -> TablesAnswer:
        """Answer which tables there are."""
        return self.ask("GET", "/tables", TablesAnswer)

    def table(self, question: TableRequest) -> TableAnswer:
        """Answer a table of the service manual as data."""
        return self.ask("GET", f"/tables/{_name(question.name)}", TableAnswer, _query(question, "name"))

    def table_as(self, question: TableRequest, form: str) -> bytes:
        """Write a table down as json, md, html, csv, tex, xlsx or dita."""
        return self.document(f"/tables/{_name(question.name)}", {**_query(question, "name"), "format": form})

    def changes(self, table: str, since: str) -> ChangesAnswer:
        """Answer what changed in a table since an edition that the service keeps."""
        return self.ask("GET", f"/tables/{_name(table)}/changes", ChangesAnswer, {"since": since})

    def queries(self) -> QueriesAnswer:
        """Answer which questions are kept ready."""
        return self.ask("GET", "/queries", QueriesAnswer)

    def query(self, name: str, bindings: Mapping[str, str] | None = None, form: str = "json") -> bytes:
        """Answer a named query as json, xml, csv or tsv."""
        return self.document(f"/queries/{quote(name)}", {**(bindings or {}), "format": form})

    def sparql(self, text: str, form: str = "") -> bytes:
        """Answer a SELECT, ASK, CONSTRUCT or DESCRIBE; JSON for tables and Turtle for graphs unless asked otherwise."""
        return self.document("/sparql", {"format": form}, text)


def _given(**fields: str | None) -> dict[str, str]:
    return {key: value for key, value in fields.items() if value is not None}
