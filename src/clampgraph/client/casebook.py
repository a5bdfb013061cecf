"""What it really was, as methods: record, look up, what was learned, forget."""

from urllib.parse import quote
from uuid import uuid4

from clampgraph.answers.recording.calibrating import CalibrationAnswer
from clampgraph.answers.recording.cases import NOTHING, CaseOut, CasesAnswer, CasesRequest, RecordRequest
from clampgraph.answers.recording.figures import ExposureOut, ExposureRequest, FiguresAnswer
from clampgraph.answers.recording.listing import ForgottenAnswer
from clampgraph.client.service import Service

__all__ = ["CaseClient"]


class CaseClient(Service):
    """The questions that the case store of a running service answers."""

    def record(self, job: RecordRequest) -> CaseOut:
        """Record a closed job; a key makes sure that it is kept once, even if it has to be sent again."""
        told = job.model_dump(mode="json", exclude_unset=True, exclude_none=True)
        sent = {**told, "found": list(job.found) or [NOTHING], "key": job.key or uuid4().hex}
        return self.ask("POST", "/cases", CaseOut, sent)

    def cases(self, wanted: CasesRequest | None = None) -> CasesAnswer:
        """List past cases; where `after` is not None, more follow behind that one."""
        told = {} if wanted is None else wanted.model_dump(mode="json", exclude_unset=True, exclude_none=True)
        return self.ask("GET", "/cases", CasesAnswer, told)

    def case(self, number: int) -> CaseOut:
        """Tell one case."""
        return self.ask("GET", f"/cases/{number}", CaseOut)

    def figures(self) -> FiguresAnswer:
        """Tell every figure that cases moved, beside the pack's."""
        return self.ask("GET", "/cases/figures", FiguresAnswer)

    def calibration(self, assembly: str | None = None) -> CalibrationAnswer:
        """Hold what was predicted on past cases against what was found."""
        query = {} if assembly is None else {"assembly": assembly}
        return self.ask("GET", "/cases/calibration", CalibrationAnswer, query)

    def state_exposure(self, told: ExposureRequest) -> ExposureOut:
        """State the machine-years behind the cases of an assembly; the last statement counts."""
        return self.ask("POST", "/cases/exposures", ExposureOut, told.model_dump(mode="json"))

    def forget(self, author: str) -> ForgottenAnswer:
        """Erase an author and their free text; sent once, since the second time there is nobody to forget."""
        return self.ask("DELETE", f"/cases/authors/{quote(author, safe='')}", ForgottenAnswer, again=False)
