"""Every error that clampgraph raises on purpose, as one tree.

::

    ClampgraphError            exit  HTTP
    ├── WrongCallError            2   422   the question itself is wrong
    │   └── QuantityError         2   422   a number without its unit, or outside its range
    ├── UnknownNameError          3   404   no such thing; names the nearest ids
    ├── ImpossibleEvidenceError   2   422   no world of the model allows these findings together
    ├── TooWideError              4   500   exact inference would not fit into memory
    ├── NotReachedError           4   503   a question of a batch whose turn did not come in time
    └── DataError                 4   500   a pack or store that cannot be used
        ├── CycleError            4   500   an influence graph that feeds itself
        └── StoreError            4   503   a graph or case store that is down, full or not ours; it may come back

Each carries one sentence that says what is wrong, where, and what would be right.
"""

from collections.abc import Iterable, Sequence
from typing import ClassVar

__all__ = [
    "ClampgraphError",
    "CycleError",
    "DataError",
    "ImpossibleEvidenceError",
    "NotReachedError",
    "QuantityError",
    "StoreError",
    "TooWideError",
    "UnknownNameError",
    "WrongCallError",
]


class ClampgraphError(Exception):
    """Base of all errors raised on purpose; `str(error)` is the sentence for the user."""

    exit_code: ClassVar[int] = 4
    http_status: ClassVar[int] = 500
    slug: ClassVar[str] = "error"
    title: ClassVar[str] = "clampgraph error"


class WrongCallError(ClampgraphError):
    """The question cannot be answered as asked."""

    exit_code = 2
    http_status = 422
    slug = "wrong-call"
    title = "The question cannot be answered as asked"


class QuantityError(WrongCallError):
    """A quantity lacks its unit, has the wrong dimension, or lies outside its range."""

    slug = "wrong-quantity"
    title = "A quantity is missing its unit or out of range"


class UnknownNameError(ClampgraphError):
    """No thing of that kind has that name.

    Parameters
    ----------
    kind
        What was looked for, in the user's words, for example ``assembly``.
    name
        What the user wrote.
    nearest
        The nearest existing names, best first; at most three are told.
    place
        Where it was looked for, for example ``in brannoch-40t``; may be empty.
    """

    exit_code = 3
    http_status = 404
    slug = "unknown-name"
    title = "No such thing"

    def __init__(self, kind: str, name: str, nearest: Sequence[str] = (), place: str = "") -> None:
        self.kind, self.name, self.nearest = kind, name, tuple(nearest[:3])
        where = f" {place}" if place else ""
        hint = f"; nearest: {', '.join(self.nearest)}" if self.nearest else ""
        super().__init__(f"There is no {kind} '{name}'{where}{hint}.")


class ImpossibleEvidenceError(WrongCallError):
    """The findings contradict the model: their joint probability is zero."""

    slug = "impossible-evidence"
    title = "These findings cannot occur together"

    def __init__(self, findings: Iterable[str]) -> None:
        self.findings = tuple(findings)
        super().__init__(
            f"The findings {', '.join(self.findings)} cannot occur together in this model: "
            "look at them again, or leave out the one you trust least."
        )


class TooWideError(ClampgraphError):
    """Exact inference would need more memory than allowed; names the loop that makes it so."""

    slug = "too-wide"
    title = "The network is too wide for exact inference"


class NotReachedError(ClampgraphError):
    """A question of a batch was not reached before the batch had to end; asked again, it is answered."""

    http_status = 503
    slug = "not-reached"
    title = "The question was not reached"


class DataError(ClampgraphError):
    """A knowledge pack or a store cannot be used."""

    slug = "data-fault"
    title = "The data cannot be used"


class CycleError(DataError):
    """An influence graph contains a cycle; carries its members in order."""

    slug = "influence-cycle"
    title = "The influence graph feeds itself"

    def __init__(self, members: Sequence[str], place: str) -> None:
        self.members = tuple(members)
        ring = " → ".join([*self.members, self.members[0]])
        super().__init__(f"Influence runs in a circle in {place}: {ring}; break one of these links.")


class StoreError(DataError):
    """A store of triples or of cases does not answer, is full, or holds something else; nothing was stored."""

    http_status = 503
    slug = "store-fault"
    title = "The store cannot be used"
