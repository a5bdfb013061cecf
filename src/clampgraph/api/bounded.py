"""Values by key within a budget of bytes: the least recently used go first."""

from collections import OrderedDict
from collections.abc import Callable
from typing import Generic, TypeVar

__all__ = ["Bounded"]

V = TypeVar("V")


class Bounded(Generic[V]):
    """The values kept.

    Parameters
    ----------
    budget
        What all of them may take [byte].
    weigh
        What one takes [byte].
    """

    def __init__(self, budget: int, weigh: Callable[[V], int]) -> None:
        self.budget, self.size = budget, 0
        self._weigh = weigh
        self._kept: OrderedDict[bytes, V] = OrderedDict()

    def __len__(self) -> int:
        return len(self._kept)

    def get(self, key: bytes) -> V | None:
        """Return a value, which is now the last to go."""
        found = self._kept.get(key)
        if found is not None:
            self._kept.move_to_end(key)
        return found

    def put(self, key: bytes, value: V) -> None:
        """Keep a value; let the oldest go where there is no room."""
        before = self._kept.pop(key, None)
        self.size += self._weigh(value) - (self._weigh(before) if before is not None else 0)
        self._kept[key] = value
        while self.size > self.budget:
            self.size -= self._weigh(self._kept.popitem(last=False)[1])

    def clear(self) -> None:
        """Forget every value."""
        self._kept.clear()
        self.size = 0
