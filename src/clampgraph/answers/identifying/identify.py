"""Which unit is it: from features seen to probabilities over assemblies and generations, and what to look at next."""

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray
from pydantic import Field, StrictFloat, field_validator

from clampgraph.answers.cautions import cautions_for
from clampgraph.answers.identifying.identifying_features import Feature, candidates_of, features_of
from clampgraph.answers.library import Library, nearest
from clampgraph.answers.models import Answer, CautionOut, Request
from clampgraph.assembly import Assembly
from clampgraph.diagnosis.identification import information, outcome_chances, posterior
from clampgraph.diagnosis.troubleshooting import LOCKOUT_MINUTES
from clampgraph.errors import DataError, UnknownNameError, WrongCallError

__all__ = ["CandidateOut", "FeatureOut", "IdentifyAnswer", "IdentifyRequest", "ObservedOut", "identify"]

UNDESCRIBED = 0.05
"""Chance that a unit is of a kind that no pack describes, before anything is seen (common practice)."""

SETTLED = 0.01
"""Information [bit] below which a look is not worth its minutes."""


NEARLY = 0.9
"""Share of the best gain from which a look counts as nearly as good; of those, the one that costs least comes next."""


class IdentifyRequest(Request):
    """What was seen at a unit."""

    features: Mapping[str, str] = Field(
        {}, description="Features seen, each with its value.", examples=[{"taper": "BT40", "build-date": "2012"}]
    )
    unreadable: tuple[str, ...] = Field((), description="Features that cannot be seen here; they are not asked for.")
    undescribed: StrictFloat = Field(
        UNDESCRIBED, gt=0, lt=1, description="Chance that the unit is none of the described ones, before any look."
    )

    @field_validator("features", mode="before")
    @classmethod
    def _feature_texts(cls, value: object) -> object:
        """Accept ``KEY=VALUE`` texts as the command line writes them, and bare numbers."""
        if isinstance(value, list | tuple):
            return {key: told for key, _, told in (str(text).partition("=") for text in value)}
        if isinstance(value, Mapping):
            return {key: str(told) if type(told) in (int, float) else told for key, told in value.items()}
        return value


class CandidateOut(Answer):
    """A generation of an assembly, and how probable it is that this is the unit."""

    assembly: str
    generation: str
    iri: str = Field(description="IRI of the generation.")
    label: str
    probability: float
    contradicted_by: tuple[str, ...] = Field(description="Features seen that this unit does not show.")


class ObservedOut(Answer):
    """A feature that was seen, and how it was understood."""

    key: str
    given: str
    read_as: tuple[str, ...]


class FeatureValueOut(Answer):
    """One value that a look may bring."""

    value: str
    label: str
    probability: float


class FeatureOut(Answer):
    """A feature not looked at yet, and what looking is expected to tell."""

    key: str
    iri: str
    label: str
    question: str
    how: str = Field(description="How to see it safely.")
    minutes: float = Field(description="Minutes for the look itself.")
    lockout: bool = Field(description="Whether it needs lock-out, which costs further minutes.")
    misreading: float = Field(description="How often people tell a wrong value.")
    gain: float = Field(description="Expected information about the unit [bit].")
    gain_per_minute: float = Field(description="The same for each minute, lock-out included [bit/min].")
    values: tuple[FeatureValueOut, ...]


class IdentifyAnswer(Answer):
    """Which unit it may be; the candidates and `undescribed` sum to one."""

    candidates: tuple[CandidateOut, ...] = Field(description="The likeliest first.")
    undescribed: float = Field(description="Probability that it is none of the described units.")
    observed: tuple[ObservedOut, ...]
    next_feature: FeatureOut | None = Field(
        description="What separates the candidates best, for the fewest minutes; absent when settled."
    )
    features: tuple[FeatureOut, ...] = Field(description="Everything that can still be looked at, the best first.")
    cautions: tuple[CautionOut, ...] = Field(description="What applies while looking, for the likeliest unit.")


def identify(library: Library, request: IdentifyRequest) -> IdentifyAnswer:
    """Answer which described unit shows these features, and which feature to look at next.

    Raises
    ------
    UnknownNameError
        If a feature or a value is not known; names the nearest.
    WrongCallError
        If a value cannot be read, or a feature is both seen and unreadable.
    QuantityError
        If an amount lacks its unit.
    DataError
        If no assembly is described.
    """
    candidates = candidates_of(library)
    if not candidates:
        raise DataError("No assembly is described, so nothing can be identified; load a pack.")
    known = features_of(library, candidates)
    _check_names(request, known)
    readings = {key: tuple(known[key].read(told)) for key, told in request.features.items()}
    names = tuple(candidates)
    prior = np.array([*[(1.0 - request.undescribed) / len(names)] * len(names), request.undescribed])
    belief = posterior({key: feature.trait for key, feature in known.items()}, readings, names, prior)
    closed = {*request.features, *request.unreadable}
    still = [_open(feature, names, belief) for key, feature in known.items() if key not in closed]
    still.sort(key=lambda f: (-round(f.gain, 9), _cost(f), f.key))
    ranked = sorted(zip(names, belief, strict=False), key=lambda pair: (-pair[1], pair[0]))
    return IdentifyAnswer(
        candidates=tuple(_candidate(n, candidates[n], float(p), known, readings) for n, p in ranked),
        undescribed=float(belief[-1]),
        observed=tuple(
            ObservedOut(key=key, given=told, read_as=readings[key]) for key, told in request.features.items()
        ),
        next_feature=_next(still),
        features=tuple(still),
        cautions=cautions_for(library.knowledge, candidates[ranked[0][0]]),
    )


def _check_names(request: IdentifyRequest, known: Mapping[str, Feature]) -> None:
    for key in (*request.features, *request.unreadable):
        if key not in known:
            raise UnknownNameError("feature", key, nearest(key, known))
    both = sorted({*request.features} & {*request.unreadable})
    if both:
        raise WrongCallError(f"The feature '{both[0]}' is given as seen and as unreadable; say one of them.")


def _next(ranked: Sequence[FeatureOut]) -> FeatureOut | None:
    """Choose the most separating look; nobody locks out and unscrews for a hair's breadth of information."""
    if not ranked or ranked[0].gain <= SETTLED:
        return None
    good = [feature for feature in ranked if feature.gain >= NEARLY * ranked[0].gain]
    return min(good, key=lambda f: (_cost(f), -round(f.gain, 9), f.key))


def _cost(feature: FeatureOut) -> float:
    return feature.minutes + (LOCKOUT_MINUTES if feature.lockout else 0.0)


def _open(feature: Feature, names: tuple[str, ...], belief: NDArray[np.float64]) -> FeatureOut:
    row, gain = feature.row, information(feature.trait, names, belief)
    chances = outcome_chances(feature.trait, names, belief)
    return FeatureOut(
        key=row["feature"], iri=row["iri"], label=row["label"], question=row["ask"], how=row["how"],
        minutes=row["minutes"], lockout=row["lockout"], misreading=row["misreading"],
        gain=gain,
        gain_per_minute=gain / (row["minutes"] + (LOCKOUT_MINUTES if row["lockout"] else 0.0)),
        values=tuple(
            FeatureValueOut(value=outcome, label=feature.labels[outcome], probability=float(chance))
            for outcome, chance in zip(feature.trait.outcomes, chances, strict=True)
        ),
    )  # fmt: skip


def _candidate(
    name: str, unit: Assembly, chance: float, known: Mapping[str, Feature], readings: Mapping[str, tuple[str, ...]]
) -> CandidateOut:
    shown = {key: known[key].trait.shown.get(name, frozenset()) for key in readings}
    return CandidateOut(
        assembly=unit.id,
        generation=unit.generation.id,
        iri=unit.generation.iri,
        label=f"{unit.label}, {unit.generation.label}",
        probability=chance,
        contradicted_by=tuple(key for key, told in readings.items() if shown[key] and not shown[key] & set(told)),
    )
