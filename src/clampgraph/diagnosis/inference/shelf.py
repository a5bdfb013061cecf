"""Compiled circuits kept for the next question: those used last, as many as a budget of products allows."""

from collections import OrderedDict
from collections.abc import Callable, Hashable
from threading import Lock

from clampgraph.diagnosis.inference.leaves import LeafPlan

__all__ = ["PRODUCTS_KEPT", "SHELF", "Shelf"]

PRODUCTS_KEPT = 4_000_000
"""Products on a shelf; one takes about 50 bytes, so that is 200 MB at most."""


class Shelf:
    """Circuits by key; may be shared between threads, which at worst compile one twice."""

    def __init__(self, products: int = PRODUCTS_KEPT) -> None:
        self.products = products
        self._plans: OrderedDict[Hashable, LeafPlan] = OrderedDict()
        self._held = 0
        self._lock = Lock()

    def __len__(self) -> int:
        return len(self._plans)

    def get(self, key: Hashable, make: Callable[[], LeafPlan]) -> LeafPlan:
        """Return the circuit of a key, made if it is not there; the last one made always stays."""
        with self._lock:
            if key in self._plans:
                self._plans.move_to_end(key)
                return self._plans[key]
        plan = make()
        with self._lock:
            if key not in self._plans:
                self._plans[key] = plan
                self._held += plan.size
            while self._held > self.products and len(self._plans) > 1:
                _, gone = self._plans.popitem(last=False)
                self._held -= gone.size
        return plan


SHELF = Shelf()
"""The shelf of this process: memory is a matter of the process, not of one library."""
