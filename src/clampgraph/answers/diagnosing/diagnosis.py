"""The question and the answer of a diagnosis, field by field."""

from collections.abc import Mapping
from typing import Literal

from pydantic import AliasChoices, ConfigDict, Field, StrictBool, StrictFloat, field_validator

from clampgraph.answers.diagnosing.telling import StepOut
from clampgraph.answers.models import Answer, CautionOut, Request, Value

__all__ = [
    "CauseOut",
    "ConditionOut",
    "DiagnoseRequest",
    "DiagnosisAnswer",
    "ExplanationOut",
    "FigureOut",
    "MeasurementOut",
    "NextCheckOut",
    "OutcomeOut",
    "PathOut",
    "PlanStepOut",
    "PromoterOut",
    "RemedyOut",
    "UnexplainedOut",
]

LABOUR_RATE = 80.0
"""Labour [EUR/h] that turns the price of a part into minutes; the user's own rate replaces it (common practice)."""


class DiagnoseRequest(Request):
    """What was seen, not seen, read and known at one assembly."""

    assembly: str = Field(examples=["brannoch-40t"])
    generation: str | None = Field(None, description="The newest one if left out.", examples=["gen-1"])
    seen: tuple[str, ...] = Field((), description="Symptoms that were seen.", examples=[["bang-at-release"]])
    unseen: tuple[str, ...] = Field((), description="Symptoms that were looked for and are absent.")
    readings: Mapping[str, str] = Field(
        {},
        description="Checks made, each with its outcome or a measured value such as 4.1bar.",
        examples=[{"read-supply-pressure": "normal"}],
    )
    ages: Mapping[str, StrictFloat] = Field({}, description="Years since the item at a position was renewed.")
    conditions: Mapping[str, StrictBool] = Field({}, description="Conditions known to hold (true) or not to (false).")
    labour_rate: StrictFloat = Field(LABOUR_RATE, gt=0, le=1e6, allow_inf_nan=False, description="Labour rate [EUR/h].")
    all: StrictBool = Field(default=False, description="List every cause, not the likeliest dozen.")

    @field_validator("readings", mode="before")
    @classmethod
    def _reading_texts(cls, value: object) -> object:
        """Accept ``CHECK=OUTCOME`` texts as the command line writes them."""
        if not isinstance(value, list | tuple):
            return value
        found: dict[str, str] = {}
        for check, _, outcome in (str(text).partition("=") for text in value):
            if found.setdefault(check, outcome) != outcome:
                raise ValueError(f"the check '{check}' is given two outcomes; say one of them")
        return found

    @field_validator("conditions", mode="before")
    @classmethod
    def _condition_names(cls, value: object) -> object:
        """Accept a list of conditions that hold."""
        return {str(name): True for name in value} if isinstance(value, list | tuple) else value


class PathOut(Answer):
    """How a cause leads to one finding, step by step, upstream first."""

    symptom: str = Field(description="The symptom, or check=outcome, at the end of the path.")
    strength: float = Field(description="Probability that influence runs along this path alone.")
    summary: str = Field(description="The path in one line.")
    steps: tuple[StepOut, ...]


class RemedyOut(Answer):
    """What ends a failure mode."""

    action: str
    label: str
    time: Value
    item: str | None = Field(None, description="The fitted item's number, where the remedy needs one.")
    price: Value | None = None


class PromoterOut(Answer):
    """A condition that makes a failure mode more frequent."""

    condition: str
    label: str
    probability: float


class FigureOut(Answer):
    """The failure rate behind a cause, and whether it is the pack's or was learned from closed cases."""

    model_config = ConfigDict(serialize_by_alias=True)

    origin: Literal["pack", "cases"] = Field(
        validation_alias=AliasChoices("from", "origin"), serialization_alias="from"
    )
    cases: int = Field(description="Cases in which this failure mode was found on this component type.")
    rate: Value = Field(description="The rate to which the age is applied [1/yr].")


class CauseOut(Answer):
    """A failure mode at a position, with its probability given the findings."""

    node: str = Field(description="Its node in the exported network.")
    position: str
    position_iri: str
    designation: str
    failure_mode: str
    iri: str = Field(description="IRI of the failure mode.")
    label: str
    kind: str = Field(description="What the position is: valve, seal, spring, sensor and so on.")
    mechanism: str
    severity: int = Field(description="1 (no effect) to 10 (hazardous without warning), IEC 60812.")
    probability: float
    prior: float
    figure: FigureOut
    explains: bool = Field(description="Whether it lies upstream of something that was found.")
    promoted_by: tuple[PromoterOut, ...]
    paths: tuple[PathOut, ...]
    remedies: tuple[RemedyOut, ...]


class ExplanationOut(Answer):
    """Faults present together, every other fault that could explain a finding absent."""

    faults: tuple[str, ...]
    probability: float


class MeasurementOut(Answer):
    """A measured value, and how well it fits each outcome of its check."""

    check: str
    value: Value
    healthy: Value = Field(description="What this unit shows when nothing has failed, by simulation.")
    likelihood: dict[str, float]
    likeliest: str


class UnexplainedOut(Answer):
    """The probability that a finding has no cause in the model."""

    finding: str
    probability: float


class ConditionOut(Answer):
    """A condition of plant or surroundings behind the faults."""

    id: str
    iri: str
    label: str
    probability: float
    prior: float
    raised: bool = Field(description="Whether the findings made it more probable.")
    advice: str


class OutcomeOut(Answer):
    """One outcome of a check: how probable, and which cause it would put first."""

    outcome: str
    label: str
    probability: float
    leading_cause: str | None
    leading_probability: float | None


class NextCheckOut(Answer):
    """A check not made yet that can tell something about the findings, and what it is expected to bring."""

    check: str
    iri: str
    label: str
    how: str
    tools: tuple[str, ...]
    minutes: float = Field(description="Minutes for the check itself.")
    lockout: bool = Field(description="Whether it needs lock-out, which costs further minutes.")
    gain: float = Field(description="Expected information about the causes [bit].")
    gain_per_minute: float = Field(description="The same for each minute, lock-out included [bit/min].")
    saving: Value = Field(description="Expected drop of the expected cost of repair, before the check's own cost.")
    worthwhile: bool = Field(description="Whether it saves more minutes than it takes.")
    outcomes: tuple[OutcomeOut, ...]


class PlanStepOut(Answer):
    """One step of the plan."""

    step: int
    action: str = Field(description="observe, repair or verify.")
    target: str
    text: str
    time: Value
    probability: float | None = None


class DiagnosisAnswer(Answer):
    """What explains the findings."""

    assembly: str
    generation: str
    seen: tuple[str, ...]
    unseen: tuple[str, ...]
    readings: dict[str, str]
    measurements: tuple[MeasurementOut, ...] = Field((), description="The readings that were numbers.")
    causes: tuple[CauseOut, ...]
    explanations: tuple[ExplanationOut, ...]
    unexplained: float = Field(description="Probability that nothing in the model explains the findings.")
    unexplained_findings: tuple[UnexplainedOut, ...]
    root_conditions: tuple[ConditionOut, ...]
    next_checks: tuple[NextCheckOut, ...]
    plan: tuple[PlanStepOut, ...]
    cautions: tuple[CautionOut, ...]
    warnings: tuple[str, ...]
