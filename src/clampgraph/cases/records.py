"""A closed job as it is kept, and the years for which a site has kept them."""

from collections.abc import Mapping
from dataclasses import dataclass, field

__all__ = ["Case", "Exposure", "Findings", "NewCase"]


@dataclass(frozen=True, slots=True)
class Findings:
    """What was seen, read and known before the cause was found; names as in a diagnosis, ages in years [yr]."""

    seen: tuple[str, ...] = ()
    unseen: tuple[str, ...] = ()
    readings: Mapping[str, str] = field(default_factory=dict)
    ages: Mapping[str, float] = field(default_factory=dict)
    conditions: Mapping[str, bool] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class NewCase:
    """A closed job that is about to be kept.

    `found` holds each cause as ``POSITION:MODE`` and is empty if nothing was found; `replaced` tells how many of
    which item; `minutes` is the time the job took [min]; `corrects` names an earlier case that this one puts right.
    """

    assembly: str
    generation: str
    findings: Findings = field(default_factory=Findings)
    found: tuple[str, ...] = ()
    replaced: Mapping[str, int] = field(default_factory=dict)
    minutes: float | None = None
    note: str | None = None
    author: str | None = None
    corrects: int | None = None


@dataclass(frozen=True, slots=True)
class Case:
    """A case that is kept: its number, which only grows; when it was recorded (UTC); which case corrects it."""

    id: int
    recorded: str
    told: NewCase
    corrected_by: int | None = None


@dataclass(frozen=True, slots=True)
class Exposure:
    """Years in service of all machines with one assembly, summed, in which every closed job was recorded [yr].

    `after` is the number of the last case that was recorded before this was stated.
    """

    assembly: str
    years: float
    recorded: str
    after: int = 0
