"""The case store of one application, and what it teaches, also while it is down."""

from typing import NamedTuple

from clampgraph.answers.diagnosing.diagnosis import DiagnosisAnswer
from clampgraph.answers.library import Library
from clampgraph.answers.recording.lessons import Teacher
from clampgraph.api.around.logs import Log, log_to
from clampgraph.api.around.remembering import DOWN
from clampgraph.cases.learning import Learned
from clampgraph.cases.store import CaseStore
from clampgraph.errors import StoreError

__all__ = ["CaseBook", "Lesson"]

_BEFORE = "The case store cannot be reached: these are the figures that it taught last, newer cases do not count yet."
_NEVER = "The case store cannot be reached: these are the figures of the packs, without what your cases taught."


class Lesson(NamedTuple):
    """A library with the figures to reckon with, what to say of them, and a text that changes with them.

    The text is empty where answers must not outlive the moment.
    """

    library: Library
    warnings: tuple[str, ...] = ()
    state: str = ""

    def told(self, answer: DiagnosisAnswer) -> DiagnosisAnswer:
        """Return an answer of the library with the warnings added."""
        if not self.warnings:
            return answer
        return answer.model_copy(update={"warnings": (*answer.warnings, *self.warnings)})


class CaseBook:
    """The case store of one application, and what it teaches.

    Cases are kept in the default file if no place is named, but only a store that is named teaches.
    While it is down, what it taught last goes on counting.
    """

    def __init__(self, place: str | None, log: Log | None = None) -> None:
        self.store = CaseStore(place or "")
        self.teacher = Teacher(self.store)
        self._teaches, self._log = place is not None, log or log_to("off")
        self._down = False

    def taught(self, library: Library, pack: Library) -> Lesson:
        """Return a library with the figures learned; `pack` is the same in the language of the packs."""
        if not self._teaches:
            return Lesson(library, state="packs")
        state = self.state()  # looked at first: what is learned after that is at least as new
        learned = self._learned(pack)
        if learned is not None:
            return Lesson(library.taught(learned), state=state if state != DOWN else "")
        learned = self.teacher.learned_before(pack)
        return Lesson(library, (_NEVER,)) if learned is None else Lesson(library.taught(learned), (_BEFORE,))

    def state(self) -> str:
        """Return a text that changes whenever something was learned."""
        if not self._teaches:
            return ""
        try:
            return "{}-{}".format(*self.store.lately.now())
        except StoreError:
            return DOWN

    def state_at_hand(self) -> str | None:
        """Return what `state` does, if that can be told without asking the store."""
        found = self.store.lately.at_hand() if self._teaches else None
        return None if found is None else "{}-{}".format(*found)

    def _learned(self, pack: Library) -> Learned | None:
        """Return what the store teaches now; None while it is down."""
        try:
            learned = self.teacher.learned(pack)
        except StoreError as error:
            self.store.lately.fail(error)
            if not self._down:
                self._log.warning("case store down", detail=str(error))
            self._down = True
            return None
        if self._down:
            self._log.info("case store back")
        self._down = False
        return learned
