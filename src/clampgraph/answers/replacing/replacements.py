"""The question and the answer of a swap, field by field."""

from collections.abc import Mapping
from typing import Literal

from pydantic import Field, StrictFloat, StrictInt, field_validator

from clampgraph.answers.models import Answer, CautionOut, Day, Request, Value

__all__ = [
    "AccessOut",
    "AlternativeOut",
    "LineOut",
    "NoteOut",
    "OrderLineOut",
    "OrderOut",
    "ReasonOut",
    "StepOut",
    "SwapAnswer",
    "SwapRequest",
    "UnmetOut",
    "VerificationOut",
]

Level = Literal["must", "should", "inspect"]


class SwapRequest(Request):
    """What shall be renewed at one assembly, and what the work costs."""

    assembly: str = Field(examples=["brannoch-40t"])
    positions: tuple[str, ...] = Field((), description="Positions to renew.", examples=[["quick-exhaust-valve"]])
    generation: str | None = Field(None, description="The newest one if left out.", examples=["gen-1"])
    build_date: Day | None = Field(None, description="When the machine was built, instead of a generation.")
    serial: StrictInt | None = Field(None, ge=0, description="Serial number of the machine, instead of a generation.")
    with_mpn: str | None = Field(None, description="The item that goes in.", examples=["BR-4012-2"])
    cause: str | None = Field(None, description="Start from a cause: POSITION:MODE.", examples=["piston-seal:worn"])
    ages: Mapping[str, StrictFloat] = Field({}, description="Years since the item at a position was renewed.")
    stock: Mapping[str, StrictInt] = Field({}, description="Pieces in hand, by part number.")
    labour_rate: StrictFloat | None = Field(
        None, gt=0, le=1e6, description="Labour [EUR/h]; common practice if left out."
    )
    visit_cost: StrictFloat | None = Field(None, ge=0, le=1e9, description="What another visit costs [EUR].")
    horizon: StrictFloat | None = Field(None, gt=0, le=1000, description="How far ahead a renewal looks [yr].")

    @field_validator("positions", mode="before")
    @classmethod
    def _one_or_many(cls, value: object) -> object:
        """Accept a single position as plain text."""
        return (value,) if isinstance(value, str) else value


class ReasonOut(Answer):
    """Why a line is there."""

    kind: str = Field(description="asked, remedy, spoiled, interface, used-up, exposure, with or opened.")
    text: str
    source: str
    claim: str | None = Field(default=None, description="IRI of the claim it rests on.")


class AccessOut(Answer):
    """A joint that has to be opened."""

    joint: str = Field(description="IRI of the joint.")
    label: str
    kind: str
    positions: tuple[str, ...]
    open_time: Value
    close_time: Value
    tools: tuple[str, ...]


class LineOut(Answer):
    """One thing to renew or to look at."""

    position: str | None = Field(description="None for what joints use up.")
    designation: str | None
    item: str | None = Field(description="The item that the order provides; None if nobody lists one.")
    label: str
    quantity: int
    price: Value | None = Field(description="Price of one piece.")
    level: Level
    reasons: tuple[ReasonOut, ...]


class OrderLineOut(Answer):
    """One thing to buy."""

    mpn: str
    label: str
    kind: str = Field(description="single, kit, group or exchange-unit.")
    quantity: int
    price: Value = Field(description="Price of one piece.")
    lead_time: Value | None
    serves: tuple[str, ...] = Field(description="Positions and consumables that it serves.")


class UnmetOut(Answer):
    """A line that nothing on sale or in stock serves."""

    position: str
    item: str | None
    quantity: int
    text: str


class AlternativeOut(Answer):
    """Another order, what it costs more, and why."""

    lines: tuple[OrderLineOut, ...]
    labour_minutes: float
    total: Value
    difference: Value
    why: str


class OrderOut(Answer):
    """The cheapest order with labour counted."""

    lines: tuple[OrderLineOut, ...]
    from_stock: Mapping[str, int]
    unmet: tuple[UnmetOut, ...]
    parts: Value
    labour_minutes: float = Field(description="Working time of the whole job with verification [min].")
    labour: Value
    labour_rate: Value
    total: Value
    optimal: bool = Field(description="Whether the solver proved that no cheaper order covers the lines.")
    alternatives: tuple[AlternativeOut, ...] = Field(description="The runner-up, if there is one.")


class StepOut(Answer):
    """One step of the work."""

    step: int
    kind: str = Field(description="before, open, renew, treat, between, close or after.")
    text: str
    joint: str | None
    positions: tuple[str, ...]
    time: Value
    tools: tuple[str, ...]
    cautions: tuple[str, ...] = Field(description="Identifiers of the cautions that belong to the step.")


class VerificationOut(Answer):
    """A reading before the spindle turns, with its acceptance values."""

    id: str
    label: str
    check: str | None
    how: str
    time: Value
    tools: tuple[str, ...]
    minimum: Value | None
    maximum: Value | None
    acceptance: str = Field(description="Where the values come from; a plausibility band says so.")
    from_papers: bool = Field(description="Whether the values are those of this assembly.")
    source: str


class NoteOut(Answer):
    """Something to know beside the lines: a missing datum, a root condition, an error in the data."""

    kind: str
    text: str


class SwapAnswer(Answer):
    """What to renew, what to buy, in which order to work, and what to verify."""

    assembly: str
    generation: str
    label: str
    positions: tuple[str, ...] = Field(description="What was asked to be renewed.")
    cautions: tuple[CautionOut, ...]
    notes: tuple[NoteOut, ...]
    access: tuple[AccessOut, ...]
    lines: tuple[LineOut, ...]
    order: OrderOut
    tools: tuple[str, ...]
    steps: tuple[StepOut, ...]
    verification: tuple[VerificationOut, ...]
