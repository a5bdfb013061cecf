"""A closed job, field by field: as it is told, and as it is kept."""

from collections.abc import Mapping
from typing import Annotated, Any

from pydantic import AfterValidator, Field, StrictBool, StrictFloat, StrictInt, field_validator, model_validator

from clampgraph.answers.models import Answer, Request
from clampgraph.cases.records import Case

__all__ = [
    "CaseOut",
    "CasesAnswer",
    "CasesRequest",
    "EvidenceIn",
    "EvidenceOut",
    "FoundOut",
    "RecordRequest",
    "ReplacedOut",
    "case_out",
]

NOTHING = "nothing"
"""What is told instead of a cause when nothing was found."""

LARGEST = 2**63 - 1
"""The largest number of a case that a database can hold."""

USUAL, LONGEST = 500, 1000
"""Cases in one answer unless asked otherwise, and at most."""


def _plain(text: str) -> str:
    """Refuse what a database cannot keep, and leave out white space around it."""
    if "\0" in text:
        raise ValueError("it holds a null character; leave that out")
    if any("\ud800" <= character <= "\udfff" for character in text):
        raise ValueError("it is no Unicode text; write it in UTF-8")
    return text.strip()


def _once(names: tuple[str, ...]) -> tuple[str, ...]:
    """Take what is said twice once, so that it counts once."""
    return tuple(dict.fromkeys(names))


Text = Annotated[str, AfterValidator(_plain)]
Short = Annotated[str, Field(max_length=200), AfterValidator(_plain)]
Long = Annotated[str, Field(max_length=10_000), AfterValidator(_plain)]
Names = Annotated[tuple[str, ...], AfterValidator(_once)]
Number = Annotated[StrictInt, Field(ge=1, le=LARGEST)]


class EvidenceIn(Request):
    """What was seen, not seen, read and known, as in a diagnosis."""

    seen: Names = Field((), description="Symptoms that were seen.", examples=[["bang-at-release"]])
    unseen: Names = Field((), description="Symptoms that were looked for and are absent.")
    readings: Mapping[str, str] = Field({}, description="Checks made, each with its outcome or measured value.")
    ages: Mapping[str, StrictFloat] = Field({}, description="Years since the item at a position was renewed.")
    conditions: Mapping[str, StrictBool] = Field({}, description="Conditions known to hold (true) or not to (false).")


class RecordRequest(Request):
    """A closed job: what was found at the machine, what it really was, what was replaced."""

    assembly: str = Field(examples=["brannoch-40t"])
    generation: str | None = Field(None, description="The newest one if left out.", examples=["gen-1"])
    evidence: EvidenceIn = Field(
        EvidenceIn.model_validate({}),
        description="The findings; its fields may also stand beside `assembly`, as in a diagnosis.",
    )
    found: Names = Field(
        description="Each cause as POSITION:MODE; the word `nothing`, or an empty list, if none was found.",
        examples=[["approach-valve:sticks-closed"], ["nothing"]],
    )
    replaced: Mapping[str, Annotated[StrictInt, Field(ge=1, le=1_000_000)]] = Field(
        {}, description="How many of which item were put in, by its number."
    )
    minutes: StrictFloat | None = Field(
        None, ge=0, le=100_000, allow_inf_nan=False, description="Time the job took [min]."
    )
    note: Long | None = Field(None, description="Free text.")
    author: Short | None = Field(None, description="Who tells it; their name can be forgotten later.")
    corrects: Number | None = Field(None, description="The earlier case that this one puts right.")
    key: Short | None = Field(
        None,
        min_length=1,
        description="Chosen by the client: a case sent again under its key is kept once. "
        "Over HTTP the header Idempotency-Key says the same.",
    )

    @model_validator(mode="before")
    @classmethod
    def _gather_evidence(cls, told: Any) -> Any:
        """Accept findings beside the assembly, as a diagnosis has them."""
        if not isinstance(told, Mapping) or "evidence" in told:
            return told
        names = EvidenceIn.model_fields
        rest = {name: value for name, value in told.items() if name not in names}
        return rest | {"evidence": {name: told[name] for name in names if name in told}}

    @field_validator("found", mode="before")
    @classmethod
    def _one_or_more(cls, found: object) -> object:
        """Accept a single cause that is no list."""
        return (found,) if isinstance(found, str) else found

    @field_validator("found")
    @classmethod
    def _nothing_alone(cls, found: tuple[str, ...]) -> tuple[str, ...]:
        if NOTHING in found:
            if len(found) > 1:
                raise ValueError("a cause and 'nothing' cannot both be found; say one of them")
            return ()
        return found

    @field_validator("note", "author")
    @classmethod
    def _empty_is_none(cls, text: str | None) -> str | None:
        return text or None


class EvidenceOut(Answer):
    """What was seen, not seen, read and known."""

    seen: tuple[str, ...]
    unseen: tuple[str, ...]
    readings: dict[str, str]
    ages: dict[str, float]
    conditions: dict[str, bool]


class FoundOut(Answer):
    """A cause that was found."""

    position: str
    failure_mode: str


class ReplacedOut(Answer):
    """Items that were put in."""

    mpn: str
    quantity: int


class CaseOut(Answer):
    """A case that is kept."""

    id: int = Field(description="Grows from case to case.")
    assembly: str
    generation: str
    evidence: EvidenceOut
    found: tuple[FoundOut, ...] = Field(description="Empty if nothing was found.")
    replaced: tuple[ReplacedOut, ...]
    minutes: float | None = Field(description="Time the job took [min].")
    note: str | None
    author: str | None
    recorded: str = Field(description="When it was recorded, UTC.")
    corrects: int | None = Field(description="The case that this one puts right.")
    corrected_by: int | None = Field(description="The case that puts this one right; nothing is learned from this one.")


class CasesRequest(Request):
    """Which cases are asked for."""

    assembly: Text | None = Field(None, description="Those of one assembly.")
    author: Text | None = Field(None, description="Those of one author.")
    after: int = Field(0, ge=0, le=LARGEST, description="Those recorded behind this one.")
    limit: int = Field(USUAL, ge=1, le=LONGEST, description="How many at most.")


class CasesAnswer(Answer):
    """Cases in the order in which they were recorded."""

    cases: tuple[CaseOut, ...]
    after: int | None = Field(description="What to ask `after` for the rest; null if this is all.")


def case_out(case: Case) -> CaseOut:
    """Return a kept case as it is told."""
    told, findings = case.told, case.told.findings
    return CaseOut(
        id=case.id,
        assembly=told.assembly,
        generation=told.generation,
        evidence=EvidenceOut(
            seen=findings.seen,
            unseen=findings.unseen,
            readings=dict(findings.readings),
            ages=dict(findings.ages),
            conditions=dict(findings.conditions),
        ),
        found=tuple(FoundOut(position=p, failure_mode=m) for p, _, m in (f.partition(":") for f in told.found)),
        replaced=tuple(ReplacedOut(mpn=mpn, quantity=n) for mpn, n in sorted(told.replaced.items())),
        minutes=told.minutes,
        note=told.note,
        author=told.author,
        recorded=case.recorded,
        corrects=told.corrects,
        corrected_by=case.corrected_by,
    )
