"""The lines of a swap: what must, should and might be renewed, each with its reasons."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from clampgraph.answers.library import Library
from clampgraph.answers.models import Value
from clampgraph.answers.replacing.job import Job, used_up
from clampgraph.answers.replacing.replacements import AccessOut, Level, LineOut, ReasonOut
from clampgraph.assembly.knowledge import FailureMode
from clampgraph.replacement.facts import Item
from clampgraph.replacement.renewal import Renewal
from clampgraph.replacement.work import Work

__all__ = ["Asked", "access_of", "lines_of"]

_BY_DESIGN = "by construction"


def access_of(job: Job, work: Work) -> tuple[AccessOut, ...]:
    """List the joints that are opened, in the order of opening."""
    closing = {s.joint: s.minutes for s in work.steps if s.kind == "close"}
    return tuple(
        AccessOut(
            joint=joint.id,
            label=joint.label,
            kind=joint.kind,
            positions=tuple(sorted(joint.joins)),
            open_time=Value(value=joint.open_minutes, unit="min"),
            close_time=Value(value=closing[joint.id], unit="min"),
            tools=joint.tools,
        )
        for joint in (job.site.joints[s.joint] for s in work.steps if s.kind == "open" and s.joint is not None)
    )


@dataclass(frozen=True, slots=True)
class Asked:
    """What the question named: positions, the position and mode of a cause, and a position that is only treated."""

    positions: tuple[str, ...]
    cause: str | None = None
    mode: FailureMode | None = None
    treated: str | None = None


def lines_of(library: Library, job: Job, asked: Asked) -> tuple[LineOut, ...]:
    """Return every line: must first, then should, then inspect, each by position."""
    must, renewed = job.change.opening.positions, job.base.opening.positions
    joints = job.base.opening.joints
    touched = {p for j in joints for p in job.site.joints[j].joins if p != asked.treated} - renewed
    first = [p for p in asked.positions if p in must]
    lines = [
        _line(job, p, "must", tuple(_must_reasons(library, job, p, asked)))
        for p in (*first, *sorted(must - frozenset(first)))
    ]
    lines += [_consumable(library, job, name, n) for name, n in used_up(job.site, joints).items()]
    lines += [_line(job, p, "should", tuple(_should_reasons(library, job, p))) for p in sorted(renewed - must)]
    if asked.treated is not None and asked.treated not in renewed:
        lines.append(_line(job, asked.treated, "inspect", tuple(_remedies(asked.mode))))
    lines += [_line(job, p, "inspect", tuple(_inspect_reasons(job, p))) for p in sorted(touched)]
    return tuple(lines)


def _line(job: Job, position: str, level: Level, reasons: tuple[ReasonOut, ...]) -> LineOut:
    item = _item_for(job, position)
    at = job.site.assembly.positions[position]
    return LineOut(
        position=position,
        designation=at.designation,
        item=None if item is None else item.mpn,
        label=at.type.label if item is None else item.label,
        quantity=at.number,
        price=None if item is None or item.price is None else Value(value=item.price, unit=item.currency),
        level=level,
        reasons=reasons,
    )


def _item_for(job: Job, position: str) -> Item | None:
    """Return the item that the order provides, or else the one that belongs there."""
    supplied = job.order.supply.get(position)
    if supplied:
        return job.site.catalogue.items[next(iter(supplied))]
    return job.change.items.get(position) or job.site.fitted.get(position)


def _must_reasons(library: Library, job: Job, position: str, asked: Asked) -> Iterator[ReasonOut]:
    site = job.site
    if position in asked.positions:
        yield ReasonOut(kind="asked", text="its renewal was asked for", source="the request")
    if position == asked.cause:
        yield from _remedies(asked.mode)
    if position in job.change.because:
        rule = job.change.because[position]
        other = rule.neighbour if rule.position == position else rule.position
        partner = job.change.items.get(other or "") or site.fitted.get(other or "")
        yield ReasonOut(
            kind="interface",
            text=f"its {rule.feature} has to match that of {other}, which becomes {partner.mpn if partner else 'new'}",
            source=library.sources.get(rule.claim, _BY_DESIGN),
            claim=rule.claim,
        )
    elif position in job.fixed:
        yield ReasonOut(kind="with", text=f"{job.fixed[position].mpn} was asked for", source="the request")
    yield from _spoiled(library, job, position, job.change.opening.joints)


def _spoiled(library: Library, job: Job, position: str, joints: Iterable[str]) -> Iterator[ReasonOut]:
    for name in sorted(joints):
        joint = job.site.joints[name]
        if position in joint.disturbs:
            claim = joint.rule or joint.id
            yield ReasonOut(
                kind="spoiled",
                text=f"single use: opening the {joint.label} spoils it",
                source=library.sources.get(claim, _BY_DESIGN),
                claim=claim,
            )


def _should_reasons(library: Library, job: Job, position: str) -> Iterator[ReasonOut]:
    for renewal in job.renewals:
        if renewal.position == position:
            yield _exposure(library, job, renewal)
    yield from _spoiled(library, job, position, job.base.opening.joints)


def _exposure(library: Library, job: Job, renewal: Renewal) -> ReasonOut:
    e, words = job.economy, library.knowledge.words
    media = ", ".join(words.get(m, m) for m in renewal.shared)
    claim = job.site.catalogue.figures["visit"][1]
    return ReasonOut(
        kind="exposure",
        text=(
            f"shares {media}, {renewal.age:g} years old: {renewal.chance:.0%} chance to fail within "
            f"{e.horizon:g} years; "
            f"waiting costs {renewal.chance:.2f} x ({e.visit:.0f} EUR visit + parts + {renewal.minutes_later:g} min) "
            f"= {renewal.later:.0f} EUR, renewing now {renewal.price:.0f} EUR + {renewal.minutes_now:g} min "
            f"= {renewal.now:.0f} EUR at {e.labour_rate:g} EUR/h"
        ),
        source=library.sources.get(claim, "common practice"),
        claim=claim,
    )


def _remedies(mode: FailureMode | None) -> Iterator[ReasonOut]:
    if mode is not None:
        for remedy in mode.remedies:
            yield ReasonOut(kind="remedy", text=f"{mode.label}: {remedy.label}", source=mode.source, claim=mode.iri)


def _inspect_reasons(job: Job, position: str) -> Iterator[ReasonOut]:
    opened = [job.site.joints[j].label for j in sorted(job.base.opening.joints) if position in job.site.joints[j].joins]
    text = f"laid open with the {opened[0]}" + (f" and {len(opened) - 1} more" if len(opened) > 1 else "")
    yield ReasonOut(kind="opened", text=f"{text}: look at it while it can be seen", source="common practice")


def _consumable(library: Library, job: Job, name: str, packs: int) -> LineOut:
    got = job.order.supply.get(name)
    item = job.site.catalogue.items[next(iter(got))] if got else None
    joints = [j for j in sorted(job.base.opening.joints) if any(u.consumable == name for u in job.site.joints[j].uses)]
    first = job.site.joints[joints[0]]
    label = next(u.label for u in first.uses if u.consumable == name)
    return LineOut(
        position=None,
        designation=None,
        item=None if item is None else item.mpn,
        label=label if item is None else item.label,
        quantity=packs,
        price=None if item is None or item.price is None else Value(value=item.price, unit=item.currency),
        level="must",
        reasons=(
            ReasonOut(
                kind="used-up",
                text=f"{label} is used up when {len(joints)} joint{'s are' if len(joints) > 1 else ' is'} made again",
                source=library.sources.get(first.rule or first.id, _BY_DESIGN),
                claim=first.rule or first.id,
            ),
        ),
    )
