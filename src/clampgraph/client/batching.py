"""Batches from Python: what a service that went down in between did not reach is asked again."""

import time
from collections.abc import Iterable
from typing import Any, TypeVar

from clampgraph.answers.batches import Answered, BatchAnswer, Refused
from clampgraph.answers.models import Answer, Request
from clampgraph.client.service import Service
from clampgraph.errors import NotReachedError

__all__ = ["ask_each"]

A = TypeVar("A", bound=Answer)


def ask_each(service: Service, path: str, model: type[BatchAnswer[A]], questions: Iterable[Request]) -> BatchAnswer[A]:
    """Put up to a thousand questions, and those that were not reached again, after the pause that is asked for.

    What is not reached however often it is asked keeps its problem.
    """
    asked = [question.model_dump(mode="json", exclude_unset=True, exclude_none=True) for question in questions]
    entries: list[Answered[A] | Refused] = []
    places, pause = list(range(len(asked))), 0
    for _ in range(service.attempts):
        time.sleep(pause)
        told = service.ask("POST", path, model, {"questions": [asked[place] for place in places]}).answers
        moved: list[Any] = [entry.model_copy(update={"index": places[entry.index]}) for entry in told]
        entries = sorted([*(e for e in entries if e.index not in set(places)), *moved], key=lambda e: e.index)
        missed = [entry for entry in entries if isinstance(entry, Refused) and _not_reached(entry)]
        if not missed:
            break
        places, pause = [entry.index for entry in missed], max(entry.problem.retry_after or 0 for entry in missed)
    return model.model_construct(answers=tuple(entries))


def _not_reached(entry: Refused) -> bool:
    return entry.problem.type.endswith(f"#{NotReachedError.slug}")
