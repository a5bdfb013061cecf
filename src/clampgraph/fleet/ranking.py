"""Rank the causes of a block of tickets; what several tickets ask is worked out once."""

from collections.abc import Iterable, Sequence
from typing import Any

import numpy as np

from clampgraph.answers.diagnosing.diagnose import rank_many
from clampgraph.answers.diagnosing.diagnosis import DiagnoseRequest
from clampgraph.answers.library import Library
from clampgraph.answers.models import parse
from clampgraph.errors import ClampgraphError, WrongCallError
from clampgraph.fleet.tickets import COLUMNS, arrow

__all__ = ["Ranker", "schema"]

KEPT = 200_000
"""Different questions whose answers are kept; beyond, all of them are forgotten between two blocks."""

Asked = tuple[str, ...]
"""What a ticket asks: assembly, generation, seen, unseen, readings, as texts."""


def schema(pa: Any) -> Any:
    """Return the columns of ranked tickets."""
    return pa.schema(
        [
            ("ticket", pa.string()), ("rank", pa.int32()), ("position", pa.string()), ("failure_mode", pa.string()),
            ("probability", pa.float64()), ("problem", pa.string()),
        ]
    )  # fmt: skip


class Ranker:
    """Ranks blocks of tickets.

    Parameters
    ----------
    library
        What is loaded.
    top
        How many causes of each ticket are told.
    """

    def __init__(self, library: Library, top: int) -> None:
        self._library, self._top = library, top
        self._forget()

    def rank(self, block: Any) -> Any:
        """Return a table with a row for each cause of each ticket, likeliest first, in the order of the tickets.

        A ticket that cannot be answered has one row, with its problem in one sentence.
        A ticket that no cause explains has one row with neither.
        """
        pa = arrow()
        if len(self._number) > KEPT:
            self._forget()
        tickets, asked = _columns(block)
        new = dict.fromkeys(a for a in asked if a not in self._number)
        self._learn(list(new))
        numbers = np.fromiter(map(self._number.__getitem__, asked), np.intp, len(asked))
        starts, counts = np.array(self._starts)[numbers], np.array(self._counts)[numbers]
        owner = np.repeat(np.arange(len(asked)), counts)
        within = np.arange(len(owner)) - np.repeat(np.cumsum(counts) - counts, counts)
        rows = pa.array(np.repeat(starts, counts) + within)
        told = pa.Table.from_pydict(self._told, schema=schema(pa).remove(0)).take(rows)
        return told.add_column(0, "ticket", pa.array(tickets, pa.string()).take(pa.array(owner)))

    def _forget(self) -> None:
        self._number: dict[Asked, int] = {}
        self._starts: list[int] = []
        self._counts: list[int] = []
        self._told: dict[str, list[Any]] = {
            "rank": [], "position": [], "failure_mode": [], "probability": [], "problem": [],
        }  # fmt: skip

    def _learn(self, asked: Sequence[Asked]) -> None:
        """Work out what was not asked before."""
        understood: list[tuple[Asked, DiagnoseRequest]] = []
        for one in asked:
            try:
                understood.append((one, _request(one)))
            except ClampgraphError as error:
                self._tell(one, [(None, None, None, None, str(error))])
        answers = rank_many(self._library, [request for _, request in understood], self._top)
        for (one, _), answer in zip(understood, answers, strict=True):
            if isinstance(answer, ClampgraphError):
                self._tell(one, [(None, None, None, None, str(answer))])
            else:
                ranked = [(n, s.position, s.failure_mode, s.probability, None) for n, s in enumerate(answer, 1)]
                self._tell(one, ranked or [(None,) * 5])

    def _tell(self, asked: Asked, rows: Sequence[tuple[Any, ...]]) -> None:
        self._number[asked] = len(self._starts)
        self._starts.append(len(self._told["rank"]))
        self._counts.append(len(rows))
        for row in rows:
            for column, value in zip(self._told.values(), row, strict=True):
                column.append(value)


def _columns(block: Any) -> tuple[list[str], list[Asked]]:
    """Return the names of the tickets, and what they ask."""
    told = {name: _texts(block.column(name)) for name in COLUMNS if name in block.column_names}
    nothing = [""] * block.num_rows
    return told["ticket"], list(zip(*(told.get(name, nothing) for name in COLUMNS[1:]), strict=True))


def _texts(column: Any) -> list[str]:
    return [
        value if isinstance(value, str) else "" if value is None
        else ";".join(map(str, value)) if isinstance(value, list) else str(value)
        for value in column.to_pylist()
    ]  # fmt: skip


def _request(asked: Asked) -> DiagnoseRequest:
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


def _parts(text: str) -> Iterable[str]:
    return (part.strip() for part in text.split(";") if part.strip())
