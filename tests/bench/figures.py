"""A measured figure beside what was asked of it and what limits it; both sides of a comparison are run in turn."""

import time
from dataclasses import asdict, dataclass
from statistics import median, quantiles

__all__ = ["Figure", "compared", "in_turn"]


@dataclass(frozen=True)
class Figure:
    """One figure: its median with quartiles, its target as `>=` or `<=` with a number, and what limits it."""

    name: str
    median: float
    low: float
    high: float
    unit: str
    limit: str
    target: tuple[str, float] | None = None

    @property
    def reached(self):
        """Whether the target is reached; None where there is none."""
        if self.target is None:
            return None
        sign, asked = self.target
        return self.median >= asked if sign == ">=" else self.median <= asked

    def __str__(self):
        asked = "" if self.target is None else f"; asked {self.target[0]} {self.target[1]:g}"
        verdict = {None: "", True: ": reached", False: ": NOT REACHED"}[self.reached]
        spread = f"{self.low:,.4g} to {self.high:,.4g}"
        return f"{self.name}: {self.median:,.4g} {self.unit} ({spread}){asked}{verdict}; limited by {self.limit}"

    def plain(self):
        """Return the figure as plain data."""
        return asdict(self) | {"reached": self.reached}

    @classmethod
    def of(cls, name, values, unit, limit, target=None):
        """Sum up at least two values."""
        low, _, high = quantiles(values, n=4)
        return cls(name, median(values), low, high, unit, limit, target)


def in_turn(*sides, repeats=7, warm=1):
    """Run the sides one after the other, again and again; return the seconds of each, after a warm-up."""
    took = [[] for _ in sides]
    for turn in range(warm + repeats):
        for side, seconds in zip(sides, took, strict=True):
            start = time.perf_counter()
            side()
            if turn >= warm:
                seconds.append(time.perf_counter() - start)
    return took


def compared(name, ours, theirs, limit, target):
    """Return how many times the peer's seconds go into ours, pair by pair in the order they were run."""
    return Figure.of(name, [their / our for our, their in zip(ours, theirs, strict=True)], "times", limit, target)
