"""Does an item fit a position: feature by feature, and as a whole."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal, TypeAlias

from clampgraph.errors import DataError
from clampgraph.replacement.facts import Catalogue, Feature, Item, Requirement, Site
from clampgraph.units import Quantity

__all__ = ["FeatureVerdict", "Judgement", "compare", "goes_there", "judge"]

Judgement: TypeAlias = Literal["fits", "does-not-fit", "unknown"]

_RULES = ("equal", "at-least", "at-most", "within-tolerance", "complementary")
_ROUNDING = 1e-9
"""Relative slack for numbers that went through another unit."""


@dataclass(frozen=True, slots=True)
class FeatureVerdict:
    """One feature of an item against what a position, or its neighbour there, asks for."""

    requirement: Requirement
    neighbour: str | None
    required: Feature | None
    offered: Feature | None
    verdict: Judgement
    missing: str | None


def compare(catalogue: Catalogue, rule: Requirement, required: Feature | None, offered: Feature | None) -> bool | None:
    """Compare an offered value with the required one; None if a datum is missing or cannot be compared.

    Raises
    ------
    DataError
        If the rule is not one of equal, at-least, at-most, within-tolerance and complementary.
    """
    if rule.rule not in _RULES:
        raise DataError(f"The rule '{rule.rule}' of {rule.claim} is unknown; write one of {', '.join(_RULES)}.")
    if required is None or offered is None:
        return None
    if rule.rule == "complementary":
        return catalogue.mates(rule.feature, str(required.value), str(offered.value))
    if isinstance(required.value, str) or isinstance(offered.value, str):
        return required == offered if rule.rule == "equal" and type(required.value) is type(offered.value) else None
    return _measured(rule, Quantity(required.value, required.unit), Quantity(offered.value, offered.unit))


def _measured(rule: Requirement, asked: Quantity, given: Quantity) -> bool | None:
    """Compare two numbers by how far the offered one lies above the one asked for."""
    if asked.dimension != given.dimension:
        return None
    excess, slack = given.si - asked.si, _ROUNDING * max(abs(asked.si), abs(given.si))
    if rule.rule == "within-tolerance":
        told = rule.tolerance
        if told is None or isinstance(told.value, str):
            return None
        return abs(excess) <= Quantity(told.value, told.unit).si + slack
    return (rule.rule == "at-most" or excess >= -slack) and (rule.rule == "at-least" or excess <= slack)


def goes_there(lineages: Mapping[str, tuple[str, ...]], item: Item, types: tuple[str, ...]) -> bool:
    """Tell whether an item is of a kind that a position takes: they share a component type or a more general one."""
    return item.type is not None and bool(set(lineages.get(item.type, (item.type,))) & set(types))


def judge(
    site: Site, position: str, item: Item, others: Mapping[str, Item] | None = None
) -> tuple[FeatureVerdict, ...]:
    """Judge an item at a position, feature by feature.

    Parameters
    ----------
    site
        The assembly with its requirements.
    position
        Where the item would go.
    item
        What would go there.
    others
        Items at other positions, where they are not those that the builder fitted.

    Returns
    -------
    tuple of FeatureVerdict
        One for each feature and neighbour, in the order of the requirements.
    """
    around = {**site.fitted, **(others or {}), position: item}
    found: dict[tuple[str, str | None], FeatureVerdict] = {}
    for requirement in site.asked[position]:
        own = requirement.position == position
        neighbour = requirement.neighbour if own else requirement.position
        if (requirement.feature, neighbour) not in found:
            found[requirement.feature, neighbour] = _verdict(site, requirement, around, position, neighbour)
    return tuple(found.values())


def _verdict(
    site: Site, requirement: Requirement, around: Mapping[str, Item], position: str, neighbour: str | None
) -> FeatureVerdict:
    offered = around[position].features.get(requirement.feature)
    if neighbour is None:
        required, whose = requirement.value, position
    else:
        beside = around.get(neighbour)
        required = None if beside is None else beside.features.get(requirement.feature)
        whose = f"{neighbour} ({beside.mpn})" if beside is not None else neighbour
    holds = compare(site.catalogue, requirement, required, offered)
    missing = None
    if offered is None:
        missing = f"{requirement.feature} of {around[position].mpn}"
    elif required is None:
        missing = f"{requirement.feature} that {whose} asks for"
    elif holds is None:
        missing = f"{requirement.feature} in values that can be compared ({required} against {offered})"
    verdict: Judgement = "unknown" if holds is None else "fits" if holds else "does-not-fit"
    return FeatureVerdict(requirement, neighbour, required, offered, verdict, missing)
