"""What replacement reasons about: items with features, what positions ask for, joints, and the work around them."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property

from clampgraph.assembly import Assembly

__all__ = [
    "Acceptance",
    "Catalogue",
    "Consumption",
    "Feature",
    "Interface",
    "Item",
    "Joint",
    "Requirement",
    "Site",
    "Verification",
    "Wear",
    "WorkStep",
]


@dataclass(frozen=True, slots=True)
class Feature:
    """A value that an item offers or a position asks for: a word, or a number with its unit symbol."""

    value: str | float
    unit: str = ""

    def __str__(self) -> str:
        return self.value if isinstance(self.value, str) else f"{self.value:g} {self.unit}".strip()


@dataclass(frozen=True, slots=True)
class Item:
    """What can be ordered under one number; `kind` is single, kit, group or exchange-unit.

    `contents` counts the pieces of other items that it holds; `replaces` names the items it supersedes.
    """

    mpn: str
    iri: str = ""
    label: str = ""
    kind: str = "single"
    type: str | None = None
    maker: str = ""
    price: float | None = None
    currency: str = "EUR"
    lead_days: float | None = None
    consumable: str | None = None
    features: Mapping[str, Feature] = field(default_factory=dict)
    contents: Mapping[str, int] = field(default_factory=dict)
    replaces: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class Interface:
    """A feature that decides whether items fit a component type; at a `port` the neighbour is the measure."""

    claim: str
    type: str
    feature: str
    rule: str
    port: str | None = None
    value: Feature | None = None
    tolerance: Feature | None = None


@dataclass(frozen=True, slots=True)
class Requirement:
    """What one position asks of a feature; with a `neighbour`, that position's item sets the value."""

    claim: str
    position: str
    feature: str
    rule: str
    value: Feature | None = None
    neighbour: str | None = None
    tolerance: Feature | None = None


@dataclass(frozen=True, slots=True)
class Consumption:
    """A share of a pack of a consumable that making a joint uses up."""

    consumable: str
    label: str
    share: float


@dataclass(frozen=True, slots=True)
class Joint:
    """Positions fastened together: what it takes to open and close them [min], and what that spoils.

    `after` must be open first, and so must every joint of at least one of the `routes`, if there are any.
    """

    id: str
    label: str
    kind: str
    joins: frozenset[str]
    open_minutes: float = 0.0
    close_minutes: float = 0.0
    close_minutes_new: float = 0.0
    tools: tuple[str, ...] = ()
    disturbs: frozenset[str] = frozenset()
    after: frozenset[str] = frozenset()
    routes: tuple[frozenset[str], ...] = ()
    uses: tuple[Consumption, ...] = ()
    rule: str = ""

    @property
    def minutes(self) -> float:
        """Minutes to open it and to make it again with the parts that were there."""
        return self.open_minutes + self.close_minutes


@dataclass(frozen=True, slots=True)
class WorkStep:
    """Work before anything is opened or after everything is closed; `rules` name the joints that call for it."""

    id: str
    label: str
    stage: str
    minutes: float
    tools: tuple[str, ...]
    rules: frozenset[str]
    claim: str


@dataclass(frozen=True, slots=True)
class Acceptance:
    """Between which values a verification passes; without an `assembly` it is only a plausibility band."""

    label: str
    minimum: Feature | None
    maximum: Feature | None
    assembly: str | None
    claim: str


@dataclass(frozen=True, slots=True)
class Verification:
    """What must be read and found good before the spindle turns."""

    id: str
    label: str
    minutes: float
    check: str | None
    how: str
    tools: tuple[str, ...]
    types: frozenset[str]
    acceptances: tuple[Acceptance, ...]


@dataclass(frozen=True, slots=True)
class Wear:
    """Weibull shape of a mechanism, and the service life [yr] over which its stated rate is the average."""

    shape: float
    life: float
    claim: str


@dataclass(frozen=True)
class Catalogue:
    """Everything the loaded packs say of items, interfaces and work, whatever the assembly."""

    items: Mapping[str, Item]
    interfaces: Mapping[str, tuple[Interface, ...]]
    matings: frozenset[tuple[str, str, str]]
    steps: tuple[WorkStep, ...]
    verifications: tuple[Verification, ...]
    wear: Mapping[str, Wear]
    figures: Mapping[str, tuple[float, str]]

    def mates(self, feature: str, one: str, other: str) -> bool:
        """Tell whether two values of a feature belong together at a joint."""
        return (feature, one, other) in self.matings or (feature, other, one) in self.matings

    @cached_property
    def packs(self) -> Mapping[str, tuple[Item, ...]]:
        """The items that are packs of a consumable, cheapest first."""
        found: dict[str, list[Item]] = {}
        for item in sorted(self.items.values(), key=lambda i: (i.price is None, i.price or 0.0, i.mpn)):
            if item.consumable:
                found.setdefault(item.consumable, []).append(item)
        return {name: tuple(items) for name, items in found.items()}


@dataclass(frozen=True)
class Site:
    """One generation of one assembly with everything that replacement needs to know of it.

    `fitted` is the builder's own item by position, `types` the component types by position, most special first.
    """

    assembly: Assembly
    catalogue: Catalogue
    fitted: Mapping[str, Item]
    types: Mapping[str, tuple[str, ...]]
    requirements: tuple[Requirement, ...]
    joints: Mapping[str, Joint]

    @cached_property
    def asked(self) -> Mapping[str, tuple[Requirement, ...]]:
        """The requirements that concern a position: its own, and those of neighbours that it sets."""
        found: dict[str, list[Requirement]] = {position: [] for position in self.types}
        for requirement in self.requirements:
            found[requirement.position].append(requirement)
            if requirement.neighbour is not None:
                found[requirement.neighbour].append(requirement)
        return {position: tuple(these) for position, these in found.items()}

    @cached_property
    def holding(self) -> Mapping[str, tuple[str, ...]]:
        """The joints that hold a position, in order of their names."""
        found: dict[str, list[str]] = {position: [] for position in self.types}
        for joint in sorted(self.joints):
            for position in self.joints[joint].joins:
                found[position].append(joint)
        return {position: tuple(joints) for position, joints in found.items()}

    def number(self, position: str) -> int:
        """Return how many pieces sit at a position."""
        return self.assembly.positions[position].number
