"""Tell an influence path port by port, in words and as data."""

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from pydantic import Field

from clampgraph.answers.library import Library
from clampgraph.answers.models import Answer
from clampgraph.assembly import Assembly
from clampgraph.diagnosis.explanation import PathStep

__all__ = ["StepOut", "tell_path"]


class StepOut(Answer):
    """One step of a path."""

    node: str
    text: str
    phase: str | None = None
    position: str | None = None
    port: str | None = None
    quantity: str | None = None
    guideword: str | None = None
    strength: float = Field(description="Strength of the link that leads to this step; 1 for the first.")
    claim: str | None = Field(None, description="IRI of the claim that the link rests on.")
    source: str | None = Field(None, description="Where the claim comes from.")


def tell_path(library: Library, assembly: Assembly, steps: Sequence[PathStep]) -> tuple[StepOut, ...]:
    """Return the steps of a path; a node that only gathers others is left out, its strength goes to the next step."""
    told, strength = [], 1.0
    for step in steps:
        strength *= step.strength
        if _is_told(library, assembly, step):
            told.append(_tell(library, assembly, replace(step, strength=strength)))
            strength = 1.0
    return tuple(told)


def _is_told(library: Library, assembly: Assembly, step: PathStep) -> bool:
    node = step.node
    return node.kind != "deviation" or library.influence(assembly).nodes[node.id].deviation is not None


def _tell(library: Library, assembly: Assembly, step: PathStep) -> StepOut:
    knowledge, node = library.knowledge, step.node
    deviation = library.influence(assembly).nodes[node.id].deviation
    common: dict[str, Any] = {
        "node": node.id,
        "strength": step.strength,
        "claim": step.claim or None,
        "source": _source(library, step.claim) if step.claim else None,
    }
    if deviation is not None:
        words = knowledge.words
        return StepOut(
            text=(
                f"{words.get(deviation.phase, deviation.phase)}: {deviation.position} port {deviation.port}, "
                f"{words.get(deviation.quantity, deviation.quantity)} "
                f"{words.get(deviation.guideword, deviation.guideword)}"
            ),
            phase=deviation.phase,
            position=deviation.position,
            port=deviation.port,
            quantity=deviation.quantity,
            guideword=deviation.guideword,
            **common,
        )
    return StepOut(text=_text(library, assembly, step), position=node.position, **common)


def _source(library: Library, claim: str) -> str:
    """Say where a strength comes from: the pack, or closed cases."""
    learned = library.learned.strengths.get(claim)
    if learned is not None:
        return f"closed cases: seen in {learned.seen} of {len(learned.trials)}"
    return library.sources.get(claim, "by construction")


def _text(library: Library, assembly: Assembly, step: PathStep) -> str:
    knowledge, node = library.knowledge, step.node
    if node.failure_mode is not None and node.position is not None:
        mode = assembly.positions[node.position].type.modes[node.failure_mode]
        return f"{node.position} {mode.label}"
    if node.symptom is not None:
        return knowledge.symptoms[node.symptom].label
    if node.check is not None:
        check, outcome = knowledge.checks[node.check.partition("@")[0]], node.outcome
        return f"{check.label}: {next(o.label for o in check.outcomes if o.id == outcome)}"
    return knowledge.conditions[node.id.partition("/")[2]].label
