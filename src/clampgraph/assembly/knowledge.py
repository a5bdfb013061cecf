"""What is known of component types, whatever assembly they sit in."""

from collections.abc import Mapping
from dataclasses import dataclass, field

__all__ = [
    "ALWAYS",
    "Caution",
    "Check",
    "ComponentType",
    "Condition",
    "Effect",
    "FailureMode",
    "Indication",
    "Knowledge",
    "Outcome",
    "Pass",
    "Pattern",
    "Port",
    "Promotion",
    "Quantity",
    "Remedy",
    "Sign",
    "Symptom",
    "Transform",
]

ALWAYS = "always"
"""The phase of lasting states, such as the quality of the air."""


@dataclass(frozen=True, slots=True)
class Quantity:
    """A quantity that can deviate.

    A redundant quantity fails at a port only when every feed of the port fails;
    while one feed fails, the port is short of `shortfall`.
    A quantity that is free when open is available at a port that nothing is joined to (venting to the atmosphere).
    """

    id: str
    label: str
    redundant: bool = False
    lasting: bool = False
    shortfall: str | None = None
    free_when_open: bool = False


@dataclass(frozen=True, slots=True)
class Port:
    """A port of a component type: its medium and what it gives to and takes from its neighbour."""

    name: str
    medium: str
    gives: frozenset[str]
    takes: frozenset[str]
    origin: frozenset[str]


@dataclass(frozen=True, slots=True)
class Pattern:
    """A deviation at a port of a component type: quantity, guideword, phase (or a set of phases)."""

    port: str
    quantity: str
    guideword: str
    phase: str


@dataclass(frozen=True, slots=True)
class Pass:
    """A deviation goes unchanged from one port to another, perhaps only when a failure mode is present."""

    claim: str
    cause: Pattern
    to_port: str
    strength: float
    when_failed: str | None
    source: str


@dataclass(frozen=True, slots=True)
class Transform:
    """A deviation at one port becomes another one, in the same phase or handed over to a later one."""

    claim: str
    cause: Pattern
    effect: Pattern
    strength: float
    source: str


@dataclass(frozen=True, slots=True)
class Effect:
    """A deviation that a failure mode or a condition produces; `type` is set only for conditions."""

    claim: str
    pattern: Pattern
    strength: float
    source: str
    type: str | None = None


@dataclass(frozen=True, slots=True)
class Promotion:
    """What multiplies the rate of a failure mode by `factor`: a deviation at an own port, or a condition."""

    claim: str
    factor: float
    source: str
    pattern: Pattern | None = None
    condition: str | None = None
    feature: str | None = None
    value: str | None = None


@dataclass(frozen=True, slots=True)
class Remedy:
    """What ends a failure mode, and the minutes it takes."""

    action: str
    label: str
    minutes: float


@dataclass(frozen=True, slots=True)
class FailureMode:
    """How a component type fails; `rate` in failures a year [1/yr], `severity` from 1 to 10 (IEC 60812)."""

    iri: str
    id: str
    label: str
    mechanism: str
    rate: float
    severity: int
    source: str
    effects: tuple[Effect, ...] = ()
    promotions: tuple[Promotion, ...] = ()
    remedies: tuple[Remedy, ...] = ()


@dataclass(frozen=True, slots=True)
class ComponentType:
    """A component type with everything it inherits; `lineage` names it and its more general types."""

    iri: str
    id: str
    label: str
    kind: str
    letter: str
    function: str
    lineage: tuple[str, ...]
    ports: Mapping[str, Port] = field(default_factory=dict)
    passes: tuple[Pass, ...] = ()
    transforms: tuple[Transform, ...] = ()
    modes: Mapping[str, FailureMode] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Condition:
    """A state of plant or surroundings, present with probability `prior`."""

    iri: str
    id: str
    label: str
    prior: float
    advice: str
    source: str
    effects: tuple[Effect, ...] = ()


@dataclass(frozen=True, slots=True)
class Sign:
    """A deviation at a port of a type that shows as a symptom with probability `strength`."""

    claim: str
    type: str
    pattern: Pattern
    strength: float
    source: str


@dataclass(frozen=True, slots=True)
class Symptom:
    """What is seen at the machine; reported with probability `leak` for reasons outside the model."""

    iri: str
    id: str
    label: str
    leak: float
    signs: tuple[Sign, ...] = ()


@dataclass(frozen=True, slots=True)
class Indication:
    """What an outcome tells of: a deviation at a port of a type, or a failure mode (of a type, if given)."""

    claim: str
    strength: float
    source: str
    type: str | None = None
    pattern: Pattern | None = None
    mode: str | None = None


@dataclass(frozen=True, slots=True)
class Outcome:
    """One abnormal outcome of a check."""

    id: str
    label: str
    false_alarm: float
    indications: tuple[Indication, ...] = ()


@dataclass(frozen=True, slots=True)
class Check:
    """A reading that separates causes; when no abnormal outcome shows, it is normal.

    A check made `per_position` is a check of its own at every position it applies to.
    """

    iri: str
    id: str
    label: str
    minutes: float
    lockout: bool
    how: str
    per_position: bool = False
    tools: tuple[str, ...] = ()
    outcomes: tuple[Outcome, ...] = ()


@dataclass(frozen=True, slots=True)
class Caution:
    """A warning, and when it applies: always, or to a medium, or to a component type."""

    id: str
    text: str
    source: str
    always: bool
    medium: str | None
    type: str | None


@dataclass(frozen=True)
class Knowledge:
    """Everything the loaded packs say of component types, by identifier.

    An optional phase exists only in assemblies that drive some position in it, such as the approach.
    """

    phases: tuple[str, ...]
    optional_phases: frozenset[str]
    quantities: Mapping[str, Quantity]
    types: Mapping[str, ComponentType]
    conditions: Mapping[str, Condition]
    symptoms: Mapping[str, Symptom]
    checks: Mapping[str, Check]
    cautions: tuple[Caution, ...]
    words: Mapping[str, str]
