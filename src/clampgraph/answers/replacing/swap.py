"""What else is swapped: from positions to lines, the cheapest order, the steps and the verification."""

import math
from collections.abc import Mapping
from typing import Any

from clampgraph.answers.cautions import cautions_for
from clampgraph.answers.library import Library, nearest
from clampgraph.answers.replacing.fits import place
from clampgraph.answers.replacing.job import Job
from clampgraph.answers.replacing.replacements import NoteOut, SwapAnswer, SwapRequest
from clampgraph.answers.replacing.swap_lines import Asked, access_of, lines_of
from clampgraph.answers.replacing.swap_order import order_of
from clampgraph.answers.replacing.swap_steps import steps_of, tools_of, verification_of
from clampgraph.answers.replacing.workshop import Workshop, generations_for, position_in, workshop
from clampgraph.assembly import Assembly
from clampgraph.assembly.knowledge import FailureMode
from clampgraph.errors import QuantityError, UnknownNameError, WrongCallError
from clampgraph.replacement.change import Change, least_change
from clampgraph.replacement.facts import Item, Site
from clampgraph.replacement.fit import goes_there
from clampgraph.replacement.renewal import Economy, worth_renewing
from clampgraph.replacement.work import Step

__all__ = ["swap"]


def swap(library: Library, request: SwapRequest) -> SwapAnswer:
    """Answer what is renewed with some positions, what to order, how to do the work and what to verify.

    Raises
    ------
    UnknownNameError
        If an assembly, generation, position, item or failure mode is not known; names the nearest.
    WrongCallError
        If nothing is to be renewed, or the item cannot go there.
    QuantityError
        If a stock or an age is negative.
    """
    shop = workshop(library)
    assembly = _assembly(library, request)
    site = shop.site(assembly)
    _check_amounts(shop, assembly, request)
    mode = _mode(assembly, request.cause)
    asked = tuple(dict.fromkeys([*request.positions, *([request.cause.partition(":")[0]] if request.cause else [])]))
    for position in asked:
        position_in(assembly, position)
    if not asked:
        raise WrongCallError(
            f"Say what shall be renewed in {assembly.id}: name a position, or a cause as POSITION:MODE."
        )
    treated = _treated(request, mode)
    wanted = tuple(p for p in asked if p != treated)
    fixed = _fixed(library, shop, site, wanted, request.with_mpn)
    economy = _economy(site, request)
    change = _change(site, fixed, wanted, economy)
    renewals = tuple(r for r in worth_renewing(site, change.opening, request.ages, economy) if r.worthwhile)
    job = Job(site, change, fixed, renewals, request.stock, economy, _treatment(treated, mode))
    return _answer(
        library, job, Asked(asked, request.cause.partition(":")[0] if request.cause else None, mode, treated)
    )


def _assembly(library: Library, request: SwapRequest) -> Assembly:
    newest = library.assembly(request.assembly)
    left = generations_for(newest, request.generation, request.build_date, request.serial)
    return library.assembly(request.assembly, left[-1])


def _check_amounts(shop: Workshop, assembly: Assembly, request: SwapRequest) -> None:
    for mpn, pieces in request.stock.items():
        shop.item(mpn)
        if pieces < 0:
            raise QuantityError(f"The stock of {mpn} is {pieces}; give a number of pieces from 0 up.")
    for position, years in request.ages.items():
        position_in(assembly, position)
        if not (math.isfinite(years) and years >= 0.0):
            raise QuantityError(f"The age of {position} is {years:g} years; give a number of years from 0 up.")


def _mode(assembly: Assembly, cause: str | None) -> FailureMode | None:
    if cause is None:
        return None
    position, colon, name = cause.partition(":")
    if not (position and colon and name):
        raise WrongCallError(f"The cause '{cause}' is incomplete; write POSITION:MODE, as in piston-seal:worn.")
    modes = assembly.positions[position_in(assembly, position)].type.modes
    if name not in modes:
        raise UnknownNameError("failure mode", name, nearest(name, modes), f"of {position}")
    return modes[name]


def _treated(request: SwapRequest, mode: FailureMode | None) -> str | None:
    """Return the position whose cause no new part ends, unless its renewal was asked for all the same."""
    if mode is None or request.cause is None or any(r.action.startswith(("replace", "rebuild")) for r in mode.remedies):
        return None
    position = request.cause.partition(":")[0]
    return None if position in request.positions else position


def _economy(site: Site, request: SwapRequest) -> Economy:
    figures = site.catalogue.figures
    return Economy(
        figures["labour-rate"][0] if request.labour_rate is None else request.labour_rate,
        figures["visit"][0] if request.visit_cost is None else request.visit_cost,
        figures["horizon"][0] if request.horizon is None else request.horizon,
    )


def _fixed(library: Library, shop: Workshop, site: Site, wanted: tuple[str, ...], mpn: str | None) -> dict[str, Item]:
    """Find where the given item goes; the pieces of a kit or group go to positions of their own."""
    if mpn is None:
        return {}
    item = shop.item(mpn)
    pieces = [shop.item(m) for m in item.contents] if item.contents else [item]
    everywhere = [*wanted, *(p for p in site.types if p not in wanted)] if item.contents else list(wanted)
    found: dict[str, Item] = {}
    for piece in pieces:
        for position in everywhere:
            there = position not in found and goes_there(shop.lineages, piece, site.types[position])
            if there and place(library, site, position, piece).verdict != "does-not-fit":
                found[position] = piece
                if item.contents:
                    break
    if not set(found) & set(wanted):
        raise WrongCallError(_refusal(library, shop, site, wanted, item))
    return found


def _refusal(library: Library, shop: Workshop, site: Site, wanted: tuple[str, ...], item: Item) -> str:
    where = f"{' or '.join(wanted) or 'any position'} of {site.assembly.id} {site.assembly.generation.id}"
    for position in wanted:
        if goes_there(shop.lineages, item, site.types[position]):
            judged = place(library, site, position, item)
            faults = [f for f in judged.features if f.verdict == "does-not-fit"]
            if faults:
                first = faults[0]
                return (
                    f"{item.mpn} cannot go to {where}: it offers {first.feature} {_words(first.offered)} "
                    f"where {_words(first.required)} is asked for."
                )
    kind = item.type or ("kit of other parts" if item.contents else "consumable or fitting")
    return f"{item.mpn} cannot go to {where}: it is a {kind}."


def _words(value: Any) -> str:
    return str(value) if isinstance(value, str) else f"{value.value:g} {value.unit}"


def _change(site: Site, fixed: Mapping[str, Item], wanted: tuple[str, ...], economy: Economy) -> Change:
    change = least_change(site, fixed, wanted, economy.per_minute)
    if change is None:
        names = ", ".join(f"{i.mpn} at {p}" for p, i in fixed.items())
        raise WrongCallError(
            f"{names} leaves no consistent choice of neighbours on sale in {site.assembly.id} "
            f"{site.assembly.generation.id}; ask 'fits' what else goes there."
        )
    return change


def _treatment(treated: str | None, mode: FailureMode | None) -> tuple[Step, ...]:
    if treated is None or mode is None:
        return ()
    return tuple(Step("treat", f"{treated}: {r.label}", r.minutes, (), None, (treated,)) for r in mode.remedies)


def _answer(library: Library, job: Job, asked: Asked) -> SwapAnswer:
    assembly, work = job.site.assembly, job.work(job.order.plan)
    steps = steps_of(library, job, work)
    verification = verification_of(library, job)
    return SwapAnswer(
        assembly=assembly.id,
        generation=assembly.generation.id,
        label=assembly.label,
        positions=asked.positions,
        cautions=cautions_for(library.knowledge, assembly),
        notes=(*_notes(library, job), *_causes(library, assembly, asked.mode, asked.treated)),
        access=access_of(job, work),
        lines=lines_of(library, job, asked),
        order=order_of(job),
        tools=tools_of(steps, verification),
        steps=steps,
        verification=verification,
    )


def _notes(library: Library, job: Job) -> list[NoteOut]:
    found: list[NoteOut] = []
    for position, item in sorted(job.fixed.items()):
        found.extend(
            NoteOut(kind="missing", text=f"The {datum} is not known: find it out before {item.mpn} goes to {position}.")
            for datum in place(library, job.site, position, item).missing
        )
    if job.base.opening.stuck:
        names = ", ".join(job.site.joints[j].label for j in sorted(job.base.opening.stuck))
        found.append(NoteOut(kind="data", text=f"By the data these joints wait for one another: {names}."))
    return found


def _causes(library: Library, assembly: Assembly, mode: FailureMode | None, treated: str | None) -> list[NoteOut]:
    """Tell remedies that need no new part, and the conditions that promote the failure mode."""
    if mode is None:
        return []
    found: list[NoteOut] = []
    if treated is not None:
        found.extend(
            NoteOut(
                kind="remedy", text=f"{treated}, {mode.label}: {r.label} ({r.minutes:g} min); no new part is needed."
            )
            for r in mode.remedies
        )
    spread = {p.pattern.quantity for p in mode.promotions if p.pattern is not None}
    named = {p.condition for p in mode.promotions if p.condition is not None}
    types = {kind for position in assembly.positions.values() for kind in position.type.lineage}
    for condition in library.knowledge.conditions.values():
        reaches = any(e.pattern.quantity in spread and (e.type is None or e.type in types) for e in condition.effects)
        if condition.id in named or reaches:
            text = f"{condition.label} makes it come back: {condition.advice}" if condition.advice else condition.label
            found.append(NoteOut(kind="root-condition", text=text))
    return found
