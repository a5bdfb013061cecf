"""The steps of a swap with the caution of each, and the verification that ends them."""

from collections.abc import Iterable

from clampgraph.answers.cautions import cautions_at
from clampgraph.answers.library import Library
from clampgraph.answers.models import Value
from clampgraph.answers.replacing.job import Job
from clampgraph.answers.replacing.replacements import StepOut, VerificationOut
from clampgraph.answers.replacing.workshop import told
from clampgraph.replacement.facts import Feature, Verification
from clampgraph.replacement.work import Step, Work

__all__ = ["steps_of", "tools_of", "verification_of"]


def steps_of(library: Library, job: Job, work: Work) -> tuple[StepOut, ...]:
    """Return the steps in order, each with the cautions that belong to it."""
    return tuple(
        StepOut(
            step=number,
            kind=step.kind,
            text=_text(job, step),
            joint=step.joint,
            positions=step.positions,
            time=Value(value=step.minutes, unit="min"),
            tools=step.tools,
            cautions=_cautions(library, job, step),
        )
        for number, step in enumerate(work.steps, 1)
    )


def _text(job: Job, step: Step) -> str:
    if step.kind != "renew" or len(step.positions) != 1:
        return step.label
    supplied = job.order.supply.get(step.positions[0])
    items = job.site.catalogue.items
    if not supplied:
        return f"{step.label}: the new part is still to be found"
    return f"{step.label} with {', '.join(f'{m} ({items[m].label})' for m in supplied)}"


def _cautions(library: Library, job: Job, step: Step) -> tuple[str, ...]:
    """Name the cautions of a step: those of all work before it begins, then those of what is touched or beside it."""
    if step.kind == "before":
        return tuple(c.id for c in library.knowledge.cautions if c.always)
    if step.kind != "open":
        return ()
    return cautions_at(library.knowledge, job.site.assembly, step.positions)


def tools_of(steps: Iterable[StepOut], verification: Iterable[VerificationOut]) -> tuple[str, ...]:
    """List every tool once."""
    return tuple(sorted({t for s in steps for t in s.tools} | {t for v in verification for t in v.tools}))


def verification_of(library: Library, job: Job) -> tuple[VerificationOut, ...]:
    """Return what must be found good, with the values of this assembly, or a band that says it is one."""
    present = {kind for lineage in job.site.types.values() for kind in lineage}
    return tuple(
        _verification(library, job, v) for v in job.site.catalogue.verifications if not v.types or v.types & present
    )


def _verification(library: Library, job: Job, asked: Verification) -> VerificationOut:
    own = [a for a in asked.acceptances if a.assembly == job.site.assembly.id]
    common = [a for a in asked.acceptances if a.assembly is None]
    chosen = next(iter([*own, *common]), None)
    return VerificationOut(
        id=asked.id,
        label=asked.label,
        check=asked.check,
        how=asked.how,
        time=Value(value=asked.minutes, unit="min"),
        tools=asked.tools,
        minimum=_value(chosen.minimum) if chosen else None,
        maximum=_value(chosen.maximum) if chosen else None,
        acceptance=chosen.label if chosen else "the machine papers decide",
        from_papers=bool(own),
        source=library.sources.get(chosen.claim, "by construction") if chosen else "common practice",
    )


def _value(feature: Feature | None) -> Value | None:
    found = told(feature)
    return found if isinstance(found, Value) else None
