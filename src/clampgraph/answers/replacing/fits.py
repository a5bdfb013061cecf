"""Does it fit: where an item goes, or what goes to a position, feature by feature."""

from collections.abc import Iterable, Iterator
from datetime import date
from typing import Any, Literal

from pydantic import Field, StrictInt

from clampgraph.answers.library import Library
from clampgraph.answers.models import Answer, Day, Request, Value
from clampgraph.answers.replacing.workshop import Workshop, generations_for, position_in, told, workshop
from clampgraph.errors import WrongCallError
from clampgraph.replacement.change import least_change
from clampgraph.replacement.facts import Item, Site
from clampgraph.replacement.fit import FeatureVerdict, goes_there, judge

__all__ = ["ChangeOut", "FeatureOut", "FitsAnswer", "FitsRequest", "PlaceOut", "fits"]

Verdict = Literal["fits", "fits-with-changes", "does-not-fit", "unknown"]
_RANK = {"fits": 0, "fits-with-changes": 1, "unknown": 2, "does-not-fit": 3}


class FitsRequest(Request):
    """An item, a place, or both; a build date or a serial number settles the generation."""

    mpn: str | None = Field(None, description="Part number of an item or kit.", examples=["BR-4012-2"])
    assembly: str | None = Field(None, examples=["brannoch-40t"])
    position: str | None = Field(None, examples=["rod"])
    generation: str | None = Field(None, description="Every generation if left out.", examples=["gen-1"])
    build_date: Day | None = Field(None, description="When the machine was built.", examples=["2012-05-01"])
    serial: StrictInt | None = Field(None, ge=0, description="Serial number of the machine.", examples=[3120])


class FeatureOut(Answer):
    """One feature: what is asked for, what is offered, and whether that is good."""

    feature: str
    rule: str = Field(description="equal, at-least, at-most, within-tolerance or complementary.")
    required: Value | str | None = Field(description="None if nobody states it.")
    offered: Value | str | None = Field(description="None if the item does not state it.")
    verdict: Literal["fits", "does-not-fit", "unknown"]
    tolerance: Value | str | None = None
    neighbour: str | None = Field(None, description="The position whose item sets the requirement.")
    claim: str = Field(description="IRI of the claim that asks for it.")
    source: str


class ChangeOut(Answer):
    """A neighbour that has to change too."""

    position: str
    item: str
    label: str
    instead_of: str | None
    text: str


class PlaceOut(Answer):
    """One position of one generation, and what an item is there."""

    assembly: str
    generation: str
    position: str
    iri: str
    designation: str
    item: str = Field(description="The item that was judged; a piece of the kit where a kit was asked about.")
    label: str
    price: Value | None
    verdict: Verdict
    as_built: bool = Field(description="Whether the builder fitted this very item there.")
    features: tuple[FeatureOut, ...]
    changes: tuple[ChangeOut, ...]
    missing: tuple[str, ...] = Field(description="Data that would be needed for a verdict.")


class FitsAnswer(Answer):
    """The places, those that fit first."""

    item: str | None
    label: str | None
    replaces: tuple[str, ...] = Field(description="Items that this one supersedes.")
    replaced_by: tuple[str, ...] = Field(description="Items that supersede this one.")
    places: tuple[PlaceOut, ...]


def fits(library: Library, request: FitsRequest) -> FitsAnswer:
    """Answer where an item fits, or which items fit a position.

    Raises
    ------
    UnknownNameError
        If an item, assembly, generation or position is not known; names the nearest.
    WrongCallError
        If neither an item nor a position is named, or no generation has the build date or serial number.
    """
    shop = workshop(library)
    item = None if request.mpn is None else shop.item(request.mpn)
    if item is None and (request.assembly is None or request.position is None):
        raise WrongCallError("Name an item, or an assembly with one of its positions, to be told what fits.")
    if request.assembly is None and (request.position, request.generation, request.serial) != (None, None, None):
        raise WrongCallError("A position, generation or serial number belongs to an assembly; name that too.")
    sites = tuple(_sites(library, shop, request))
    places = [place for site in sites for place in _places(library, shop, site, item, request.position)]
    places.sort(key=lambda p: (_RANK[p.verdict], p.assembly, p.generation, p.position, not p.as_built, p.item))
    return FitsAnswer(
        item=None if item is None else item.mpn,
        label=None if item is None else item.label,
        replaces=() if item is None else tuple(sorted(item.replaces)),
        replaced_by=() if item is None else shop.superseding(item.mpn),
        places=tuple(places),
    )


def _sites(library: Library, shop: Workshop, request: FitsRequest) -> Iterator[Site]:
    names = sorted(library.assemblies) if request.assembly is None else [request.assembly]
    for name in names:
        assembly = library.assembly(name)
        if request.assembly is None and request.build_date is not None:
            left: Iterable[str] = _built_then(assembly.id, library, request.build_date)
        else:
            left = generations_for(assembly, request.generation, request.build_date, request.serial)
        for generation in left:
            site = shop.site(library.assembly(name, generation))
            if request.position is not None:
                position_in(site.assembly, request.position)
            yield site


def _built_then(name: str, library: Library, when: date) -> tuple[str, ...]:
    try:
        return generations_for(library.assembly(name), None, when, None)
    except WrongCallError:
        return ()


def _places(
    library: Library, shop: Workshop, site: Site, item: Item | None, position: str | None
) -> Iterator[PlaceOut]:
    positions = [position] if position is not None else list(site.types)
    if item is None:
        for other in shop.catalogue.items.values():
            if position is not None and goes_there(shop.lineages, other, site.types[position]):
                yield place(library, site, position, other)
        return
    pieces = [shop.item(mpn) for mpn in item.contents] if item.contents else [item]
    for piece in pieces:
        there = [p for p in positions if goes_there(shop.lineages, piece, site.types[p])]
        if position is not None and not there and piece is item:
            yield _wrong_kind(site, position, item)
        found = [place(library, site, name, piece) for name in there]
        # A piece of a kit is meant for the places where it does best; elsewhere it says nothing of the kit.
        best = min((_RANK[p.verdict] for p in found), default=0) if item.contents else len(_RANK)
        yield from (p for p in found if _RANK[p.verdict] <= best)


def place(library: Library, site: Site, position: str, item: Item) -> PlaceOut:
    """Judge an item at one position, with the neighbours that would have to change."""
    verdicts = judge(site, position, item)
    missing = tuple(dict.fromkeys(v.missing for v in verdicts if v.missing is not None))
    if not verdicts:
        missing = (f"any feature that {position} asks for",)
    broken = [v for v in verdicts if v.verdict == "does-not-fit"]
    verdict: Verdict = "unknown" if missing else "fits"
    changes: tuple[ChangeOut, ...] = ()
    if any(v.neighbour is None for v in broken):
        verdict = "does-not-fit"
    elif broken:
        verdict, changes = _with_changes(site, position, item)
        if missing and changes:
            verdict = "unknown"
    return PlaceOut(
        **_where(site, position, item),
        verdict=verdict,
        features=tuple(_feature(library, v) for v in verdicts),
        changes=changes,
        missing=missing,
    )


def _with_changes(site: Site, position: str, item: Item) -> tuple[Verdict, tuple[ChangeOut, ...]]:
    rate = site.catalogue.figures["labour-rate"][0] / 60.0
    change = least_change(site, {position: item}, (), rate)
    if change is None:
        return "does-not-fit", ()
    return "fits-with-changes", tuple(
        ChangeOut(
            position=p,
            item=i.mpn,
            label=i.label,
            instead_of=site.fitted[p].mpn if p in site.fitted else None,
            text=f"{p} becomes {i.mpn} ({i.label}), for its {change.because[p].feature} has to match",
        )
        for p, i in sorted(change.items.items())
        if p != position
    )


def _where(site: Site, position: str, item: Item) -> dict[str, Any]:
    at = site.assembly.positions[position]
    return {
        "assembly": site.assembly.id,
        "generation": site.assembly.generation.id,
        "position": position,
        "iri": at.iri,
        "designation": at.designation,
        "item": item.mpn,
        "label": item.label,
        "price": None if item.price is None else Value(value=item.price, unit=item.currency),
        "as_built": position in site.fitted and site.fitted[position].mpn == item.mpn,
    }


def _feature(library: Library, verdict: FeatureVerdict) -> FeatureOut:
    asked = verdict.requirement
    return FeatureOut(
        feature=asked.feature,
        rule=asked.rule,
        required=told(verdict.required),
        offered=told(verdict.offered),
        verdict=verdict.verdict,
        tolerance=told(asked.tolerance),
        neighbour=verdict.neighbour,
        claim=asked.claim,
        source=library.sources.get(asked.claim, "by construction"),
    )


def _wrong_kind(site: Site, position: str, item: Item) -> PlaceOut:
    at = site.assembly.positions[position]
    return PlaceOut(
        **_where(site, position, item),
        verdict="does-not-fit",
        features=(
            FeatureOut(
                feature="component-type", rule="equal", required=at.type.id, offered=item.type,
                verdict="does-not-fit", neighbour=None, claim=at.iri, source="by construction",
            ),
        ),
        changes=(),
        missing=(),
    )  # fmt: skip
