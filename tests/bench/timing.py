"""Times told as a median with its spread."""

import time
from dataclasses import dataclass
from statistics import quantiles

__all__ = ["Timing", "timed"]


@dataclass(frozen=True)
class Timing:
    """Median and quartiles [s] of repeated runs."""

    low: float
    median: float
    high: float

    def __str__(self):
        return f"{self.median * 1e3:10.4f} ms ({self.low * 1e3:.4f} to {self.high * 1e3:.4f})"


def timed(calls):
    """Run each call once and return the timing over all of them; at least two."""
    seconds = []
    for call in calls:
        start = time.perf_counter()
        call()
        seconds.append(time.perf_counter() - start)
    return Timing(*quantiles(seconds, n=4))
