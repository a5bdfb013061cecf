"""Rank the causes of tickets, many blocks at a time; what several tickets ask is worked out once."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from clampgraph.answers.diagnosing.diagnosis import DiagnoseRequest
from clampgraph.answers.diagnosing.ranking import NOBODY, Rankings
from clampgraph.answers.library import Library
from clampgraph.errors import ClampgraphError
from clampgraph.fleet.asking import Asked, questions_of, request_of
from clampgraph.fleet.thrift import thrift
from clampgraph.fleet.tickets import arrow

__all__ = ["Ranker", "schema"]

HELD_TICKETS = 1_000_000
"""Tickets whose questions are gathered before these are answered; one takes its name and 8 bytes."""

HELD_QUESTIONS = 100_000
"""Different questions that are gathered at most, but for those of one block; one takes about 300 bytes, and
1 kB while its unit is being solved."""


def schema(pa: Any) -> Any:
    """Return the columns of ranked tickets."""
    return pa.schema(
        [
            ("ticket", pa.string()), ("rank", pa.int32()), ("position", pa.string()), ("failure_mode", pa.string()),
            ("probability", pa.float64()), ("problem", pa.string()), ("unexplained", pa.float64()),
        ]
    )  # fmt: skip


@dataclass(frozen=True)
class _Waiting:
    """A block whose questions are not answered yet: its number, its tickets, and the question of each."""

    number: int
    tickets: Any
    question: NDArray[np.int32]


@dataclass(frozen=True)
class _Answers:
    """What is told of each question: a row of `Rankings`, or what is wrong with it."""

    rows: NDArray[np.void]
    problems: dict[int, str]
    causes: Sequence[tuple[str, str]]


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
        self._rankings = Rankings(library, top)

    def rank(self, block: Any) -> Any:
        """Return a table with a row for each cause of each ticket, likeliest first, in the order of the tickets.

        A ticket that cannot be answered has one row, with its problem in one sentence.
        A ticket that no cause explains has one row without cause or problem.
        """
        ((_, table),) = self.rank_all([(0, block)])
        return table

    def rank_all(self, blocks: Iterable[tuple[int, Any]]) -> Iterator[tuple[int, Any]]:
        """Rank numbered blocks, as `rank` does; yields them in their order, once the questions of many are gathered.

        The more questions are answered together, the fewer circuits are compiled twice.
        """
        waiting: list[_Waiting] = []
        asked: dict[Asked, int] = {}
        for number, block in blocks:
            found = questions_of(block)
            own = np.array([asked.setdefault(one, len(asked)) for one in found.different], np.int32)
            waiting.append(_Waiting(number, found.tickets, own[found.which]))
            if len(asked) >= HELD_QUESTIONS or sum(len(one.question) for one in waiting) >= HELD_TICKETS:
                gathered, asked = list(asked), {}
                yield from self._told(waiting, gathered)
                waiting = []
        yield from self._told(waiting, list(asked))

    def _told(self, waiting: Iterable[_Waiting], asked: Sequence[Asked]) -> Iterator[tuple[int, Any]]:
        arrow().default_memory_pool().release_unused()
        with thrift():
            answers = self._answered(asked)
        for one in waiting:
            yield one.number, _table(one, answers)

    def _answered(self, asked: Sequence[Asked]) -> _Answers:
        """Work out questions, unit by unit."""
        problems: dict[int, str] = {}
        sound: list[int] = []

        def requests() -> Iterator[DiagnoseRequest]:
            for number in sorted(range(len(asked)), key=lambda number: asked[number][:2]):
                try:
                    request = request_of(asked[number])
                except ClampgraphError as error:
                    problems[number] = str(error)
                else:
                    sound.append(number)
                    yield request

        found, wrong = self._rankings.rank(requests())
        problems |= {sound[number]: str(error) for number, error in wrong.items()}
        rows = np.zeros(len(asked), found.dtype)
        rows["cause"] = NOBODY
        rows[sound] = found
        return _Answers(rows, problems, list(self._rankings.causes))


def _table(block: _Waiting, answers: _Answers) -> Any:
    """Tell the answers of a block, a row for each cause."""
    pa = arrow()
    rows = answers.rows[block.question]
    told = rows["cause"] != NOBODY
    known = told.copy()
    told[:, 0] = True
    owner, rank = np.nonzero(told)
    cause, nobody = rows["cause"][told], ~known[told]
    said, sentences = np.full(len(answers.rows), NOBODY, np.int32), list(answers.problems.values())
    said[list(answers.problems)] = np.arange(len(sentences))
    problem = said[block.question][owner]
    who = pa.array(cause, mask=nobody)
    position, mode = (pa.array([cause[side] for cause in answers.causes], pa.string()).take(who) for side in (0, 1))
    return pa.Table.from_arrays(
        [
            block.tickets.take(pa.array(owner)), pa.array(rank.astype(np.int32) + 1, mask=nobody), position, mode,
            pa.array(rows["probability"][told], mask=nobody),
            pa.array(sentences, pa.string()).take(pa.array(problem, mask=problem == NOBODY)),
            pa.array(rows["unexplained"][owner], mask=problem != NOBODY),
        ],
        schema=schema(pa),
    )  # fmt: skip
