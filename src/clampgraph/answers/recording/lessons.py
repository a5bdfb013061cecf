"""Turn cases into figures: what is counted for which figure. How a count becomes a figure: `cases.learning`."""

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from threading import Lock

from clampgraph.answers.library import Library
from clampgraph.answers.recording.last_links import LastLink, last_links
from clampgraph.assembly import Assembly
from clampgraph.cases.learning import Learned, Rate, Strength, Trial
from clampgraph.cases.records import Case, Exposure, NewCase
from clampgraph.cases.store import CaseStore
from clampgraph.errors import UnknownNameError

__all__ = ["Classroom", "Teacher", "standing", "years_stated"]


def standing(cases: Iterable[Case]) -> list[Case]:
    """Return the cases that no other one among them corrects."""
    told = list(cases)
    corrected = {case.told.corrects for case in told}
    return [case for case in told if case.id not in corrected]


def years_stated(exposures: Iterable[Exposure]) -> dict[str, float]:
    """Return the machine-years behind the cases of each assembly [yr]: the newest statement counts, 0 takes it back."""
    newest = {exposure.assembly: exposure.years for exposure in exposures}
    return {assembly: years for assembly, years in newest.items() if years > 0.0}


@dataclass(frozen=True)
class _Tally:
    """What was counted: faults by assembly, by type and mode, and trials by claim."""

    faults: Counter[str] = field(default_factory=Counter)
    modes: Counter[tuple[str, str]] = field(default_factory=Counter)
    trials: dict[str, list[Trial]] = field(default_factory=lambda: defaultdict(list))
    packs: dict[str, float] = field(default_factory=dict)


class Classroom:
    """Works out figures from cases with the pack's own figures as a start; remembers what each kind of case tells of.

    Parameters
    ----------
    library
        With the pack's own figures.
    """

    def __init__(self, library: Library) -> None:
        self.library = library
        self._links: dict[tuple[object, ...], Mapping[str, LastLink]] = {}

    def learn(self, cases: Iterable[Case], exposures: Iterable[Exposure]) -> Learned:
        """Return what standing cases and statements of machine-years tell; see `cases.learning`."""
        tally, passed_over = _Tally(), 0
        for case in cases:
            passed_over += not self._count(case.told, tally)
        strengths = {claim: Strength(tally.packs[claim], tuple(trials)) for claim, trials in tally.trials.items()}
        return Learned(self._rates(tally, years_stated(exposures)), strengths, passed_over)

    def _count(self, told: NewCase, tally: _Tally) -> bool:
        """Count one case; say whether its names are still in the packs."""
        assembly = self._assembly(told.assembly, told.generation)
        causes = [cause.partition(":")[::2] for cause in told.found]
        if assembly is None or not all(_has(assembly, position, mode) for position, mode in causes):
            return False
        tally.faults[assembly.id] += len(causes)
        tally.modes.update((assembly.positions[position].type.id, mode) for position, mode in causes)
        if causes:
            links = self._links_of(assembly, told)
            findings = told.findings
            looks = [*((s, True) for s in findings.seen), *((s, False) for s in findings.unseen)]
            for link, seen in ((links[symptom], seen) for symptom, seen in looks if symptom in links):
                tally.trials[link.claim].append(Trial(link.low, link.high, seen))
                tally.packs[link.claim] = link.pack
        return True

    def _links_of(self, assembly: Assembly, told: NewCase) -> Mapping[str, LastLink]:
        conditions = told.findings.conditions
        key = assembly.generation.iri, frozenset(told.found), frozenset(conditions.items())
        if key not in self._links:
            self._links[key] = last_links(self.library, assembly, told.found, conditions)
        return self._links[key]

    def _rates(self, tally: _Tally, stated: Mapping[str, float]) -> dict[tuple[str, str], Rate]:
        """Spread the machine-years of each assembly over its positions; assume them where nobody stated them."""
        years: dict[tuple[str, str], float] = defaultdict(float)
        assumed: set[tuple[str, str]] = set()
        packs: dict[tuple[str, str], float] = {}
        for name in sorted({*tally.faults, *stated}):
            assembly = self._assembly(name)
            if assembly is None:
                continue
            modes = [(p.type.id, m.id, m.rate) for p in assembly.positions.values() for m in p.type.modes.values()]
            machine_years = stated.get(name)
            if machine_years is None:
                machine_years = tally.faults[name] / (sum(rate for _, _, rate in modes) or 1.0)
                assumed |= {(type_, mode) for type_, mode, _ in modes if machine_years}
            for type_, mode, rate in modes:
                years[type_, mode] += machine_years
                packs[type_, mode] = rate
        return {
            key: Rate(packs[key], tally.modes[key], total, key not in assumed)
            for key, total in years.items()
            if total > 0.0
        }

    def _assembly(self, name: str, generation: str | None = None) -> Assembly | None:
        try:
            return self.library.assembly(name, generation)
        except UnknownNameError:
            return None


def _has(assembly: Assembly, position: str, mode: str) -> bool:
    return position in assembly.positions and mode in assembly.positions[position].type.modes


class Teacher:
    """Teaches a library what a case store tells, anew whenever a case was added."""

    def __init__(self, store: CaseStore) -> None:
        self.store = store
        self._lock = Lock()
        self._classroom: Classroom | None = None
        self._version: tuple[int, int] | None = None
        self._learned = Learned()

    def learned(self, library: Library) -> Learned:
        """Return the figures that the store tells now, starting from those of a library.

        Raises
        ------
        StoreError
            If the case store is down.
        """
        version = self.store.lately.now()
        with self._lock:
            if self._classroom is None or self._classroom.library.graph is not library.graph:
                self._classroom, self._version = Classroom(library), None
            if self._version != version:
                told = standing(self.store.cases()), self.store.exposures()
                self._learned, self._version = self._classroom.learn(*told), version
            return self._learned

    def learned_before(self, library: Library) -> Learned | None:
        """Return the figures told last without asking the store; None if none were, or not from those of a library."""
        room = self._classroom
        begun = self._version is not None and room is not None and room.library.graph is library.graph
        return self._learned if begun else None

    def taught(self, library: Library) -> Library:
        """Return the library with those figures; itself if nothing was learned.

        Raises
        ------
        StoreError
            If the case store is down.
        """
        return library.taught(self.learned(library))
