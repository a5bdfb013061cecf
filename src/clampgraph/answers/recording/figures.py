"""What was learned: every figure that cases moved, beside the pack's; and the machine-years that a site states."""

from collections.abc import Iterator, Mapping

from pydantic import Field

from clampgraph.answers.library import Library, nearest
from clampgraph.answers.models import Answer, Request, Value
from clampgraph.answers.recording.lessons import Teacher
from clampgraph.cases.learning import LEVEL, Learned
from clampgraph.cases.records import Exposure
from clampgraph.cases.store import CaseStore
from clampgraph.errors import UnknownNameError

__all__ = [
    "ExposureOut",
    "ExposureRequest",
    "FiguresAnswer",
    "RateOut",
    "StrengthOut",
    "figures",
    "state_exposure",
]


class ExposureRequest(Request):
    """For how long a site has recorded every closed job of an assembly."""

    assembly: str = Field(examples=["brannoch-40t"])
    years: float = Field(
        ge=0,
        le=1e9,
        allow_inf_nan=False,
        strict=True,
        description="Years in service of all machines with this assembly, summed, since recording began [yr]; "
        "0 takes the last statement back.",
        examples=[36],
    )


class ExposureOut(Answer):
    """The machine-years behind the cases of an assembly; a later statement takes the place of an earlier one."""

    assembly: str
    years: Value
    recorded: str = Field(description="When it was stated, UTC.")


class RateOut(Answer):
    """A failure rate that cases moved."""

    component_type: str
    failure_mode: str
    label: str
    cases: int = Field(description="Cases in which it was found.")
    exposure: Value = Field(description="Unit-years of this component type in which it was [yr].")
    stated: bool = Field(description="Whether all of these years were stated; if not, only ratios were learned.")
    pack: Value
    learned: Value
    interval: tuple[float, float] | None = Field(
        description="Holds the true rate with nine chances in ten [1/yr]; null if years had to be assumed."
    )


class StrengthOut(Answer):
    """How reliably a deviation shows as its symptom, where cases moved it."""

    claim: str = Field(description="IRI of the claim.")
    symptom: str
    looked: int = Field(description="Cases that tell of it.")
    seen: int = Field(description="Those in which the symptom was seen.")
    pack: float
    learned: float
    interval: tuple[float, float] = Field(description="Holds the true strength with nine chances in ten.")


class FiguresAnswer(Answer):
    """Every figure that differs from the pack's, and what it rests on."""

    cases: int = Field(description="Cases learned from: those that no other case corrects.")
    passed_over: int = Field(description="Those whose assembly, position or failure mode is in no pack any more.")
    level: float = LEVEL
    exposures: tuple[ExposureOut, ...]
    rates: tuple[RateOut, ...]
    strengths: tuple[StrengthOut, ...]


def figures(library: Library, teacher: Teacher) -> FiguresAnswer:
    """Tell what the cases of a store teach.

    Raises
    ------
    StoreError
        If the case store is down.
    """
    teacher.store.lately.forget()  # what another process recorded a moment ago counts here
    learned = teacher.learned(library)
    kept = teacher.store.cases()
    newest = {stated.assembly: stated for stated in teacher.store.exposures()}
    return FiguresAnswer(
        cases=len(kept) - sum(case.corrected_by is not None for case in kept),
        passed_over=learned.passed_over,
        exposures=tuple(_exposure(stated) for _, stated in sorted(newest.items()) if stated.years > 0.0),
        rates=tuple(_rates(library, learned)),
        strengths=tuple(_strengths(library, learned)),
    )


def state_exposure(library: Library, store: CaseStore, request: ExposureRequest) -> ExposureOut:
    """Keep a statement of machine-years.

    Raises
    ------
    UnknownNameError
        If there is no such assembly; names the nearest.
    StoreError
        If the case store is down or full.
    """
    if request.assembly not in library.assemblies:
        raise UnknownNameError("assembly", request.assembly, nearest(request.assembly, library.assemblies))
    return _exposure(store.state_exposure(request.assembly, request.years))


def _exposure(kept: Exposure) -> ExposureOut:
    return ExposureOut(assembly=kept.assembly, years=Value(value=kept.years, unit="yr"), recorded=kept.recorded)


def _rates(library: Library, learned: Learned) -> Iterator[RateOut]:
    for (type_, mode), rate in sorted(learned.rates.items()):
        yield RateOut(
            component_type=type_,
            failure_mode=mode,
            label=library.knowledge.types[type_].modes[mode].label,
            cases=rate.cases,
            exposure=Value(value=rate.years, unit="yr"),
            stated=rate.stated,
            pack=Value(value=rate.pack, unit="1/yr"),
            learned=Value(value=rate.mean, unit="1/yr"),
            interval=rate.interval(),
        )


def _strengths(library: Library, learned: Learned) -> Iterator[StrengthOut]:
    symptoms: Mapping[str, str] = {
        sign.claim: symptom.id for symptom in library.knowledge.symptoms.values() for sign in symptom.signs
    }
    for claim, strength in sorted(learned.strengths.items()):
        yield StrengthOut(
            claim=claim,
            symptom=symptoms[claim],
            looked=len(strength.trials),
            seen=strength.seen,
            pack=strength.pack,
            learned=strength.mean,
            interval=strength.interval(),
        )
