"""What the tickets of a block ask, column by column: equal questions are found without a look at each row."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from clampgraph.answers.diagnosing.diagnosis import DiagnoseRequest
from clampgraph.answers.models import parse
from clampgraph.errors import WrongCallError
from clampgraph.fleet.tickets import COLUMNS, arrow

__all__ = ["Asked", "Questions", "questions_of", "request_of"]

Asked = tuple[str, ...]
"""What a ticket asks: assembly, generation, seen, unseen, readings, as texts."""


@dataclass(frozen=True)
class Questions:
    """The tickets of a block by name, the different questions among theirs, and which of these each ticket asks."""

    tickets: Any
    different: list[Asked]
    which: NDArray[np.intp]


def questions_of(block: Any) -> Questions:
    """Sort the tickets of a block by what they ask."""
    pa = arrow()
    number, texts = np.zeros(block.num_rows, np.intp), []
    for name in COLUMNS[1:]:
        words, which = _words(pa, block.column(name)) if name in block.column_names else ([""], np.zeros_like(number))
        texts.append((words, which))
        # Numbered anew after each column, so that the product stays small.
        _, number = np.unique(number * len(words) + which, return_inverse=True)
    _, first = np.unique(number, return_index=True)
    columns = [[words[at] for at in which[first].tolist()] for words, which in texts]
    return Questions(_names(pa, block.column(COLUMNS[0])), list(zip(*columns, strict=True)), number)


def request_of(asked: Asked) -> DiagnoseRequest:
    """Read what a ticket asks.

    Raises
    ------
    WrongCallError
        If a reading is no CHECK=OUTCOME, or stands twice.
    """
    assembly, generation, seen, unseen, readings = asked
    found: dict[str, str] = {}
    for part in _parts(readings):
        check, equals, outcome = (p.strip() for p in part.partition("="))
        if not (check and equals and outcome) or check in found:
            raise WrongCallError(f"The reading '{part}' must be written once, as CHECK=OUTCOME or CHECK=4.1bar.")
        found[check] = outcome
    return parse(
        DiagnoseRequest,
        {
            "assembly": assembly.strip(), "generation": generation.strip() or None, "seen": list(_parts(seen)),
            "unseen": list(_parts(unseen)), "readings": found,
        },
    )  # fmt: skip


def _names(pa: Any, column: Any) -> Any:
    values = column.combine_chunks()
    if pa.types.is_string(values.type) or pa.types.is_large_string(values.type):
        return values.cast(pa.string()).fill_null("")
    return pa.array(map(_text, values.to_pylist()), pa.string())


def _words(pa: Any, column: Any) -> tuple[list[str], NDArray[np.intp]]:
    """Return the different values of a column as texts, and which of them stands in each row."""
    values = column.combine_chunks()
    if pa.types.is_nested(values.type):
        values = pa.array(map(_text, values.to_pylist()), pa.string())
    if not pa.types.is_dictionary(values.type):
        values = values.dictionary_encode()
    words = [*map(_text, values.dictionary.to_pylist()), ""]
    return words, values.indices.fill_null(len(words) - 1).to_numpy(zero_copy_only=False).astype(np.intp)


def _text(value: object) -> str:
    if isinstance(value, list):
        return ";".join(_text(part) for part in value)
    return "" if value is None else str(value)


def _parts(text: str) -> Iterable[str]:
    return (part.strip() for part in text.split(";") if part.strip())
