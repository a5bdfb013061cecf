"""Integrate one smooth arc until something happens: an embedded Runge-Kutta pair with event location.

The pair of Bogacki and Shampine (third order, error by the second) needs three evaluations a step. It is written
for plain floats: with eight states an array library would spend most of its time on being called.
An event is a function of the state that rises through zero; it is located on the cubic that fits both ends of the step.

References
----------
P. Bogacki, L. F. Shampine, A 3(2) pair of Runge-Kutta formulas, Applied Mathematics Letters 2(4), 1989 (from memory).
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

from clampgraph.errors import DataError

__all__ = ["Arc", "Event", "Rates", "State", "integrate"]

State = list[float]
Rates = Callable[[State], State]
Event = Callable[[State], float]

_FIRST_STEP: Final = 1e-5
_MOST_STEPS: Final = 60_000
_LOCATED: Final = 1e-13


@dataclass(frozen=True, slots=True)
class Arc:
    """Times [s] and states of the accepted steps after the start, and which event ended the arc, if any."""

    times: list[float]
    states: list[State]
    event: int | None


def integrate(
    rates: Rates, start: State, span: tuple[float, float], events: Sequence[Event], scale: Sequence[float]
) -> Arc:
    """Integrate from the first time of a span to an event, or to its end.

    Parameters
    ----------
    rates
        Derivative of a state; time does not enter.
    start
        State at the first time.
    span
        First and last time [s].
    events
        Functions that end the arc when they rise through zero.
    scale
        Error that is allowed a step, for each state in its own unit.

    Raises
    ------
    DataError
        If the step shrinks until the arc would take tens of thousands of steps.
    """
    time, end = span
    state, before = start, [event(start) for event in events]
    slope, step = rates(state), _FIRST_STEP
    times: list[float] = []
    states: list[State] = []
    for _ in range(_MOST_STEPS):
        if time >= end:
            return Arc(times, states, None)
        step = min(step, end - time)
        new, new_slope, error = _try(rates, state, slope, step, scale)
        if error <= 1.0:
            after = [event(new) for event in events]
            if any(a < 0.0 <= b for a, b in zip(before, after, strict=True)):
                share, which = _first(events, before, after, (state, slope, new, new_slope, step))
                times.append(time + share * step)
                states.append(_between((state, slope, new, new_slope, step), share))
                return Arc(times, states, which)
            time, state, slope, before = (end if step == end - time else time + step), new, new_slope, after
            times.append(time)
            states.append(state)
        step *= min(4.0, max(0.2, 0.9 * error ** (-1 / 3))) if error > 0.0 else 4.0
    raise DataError(f"The stroke cannot be integrated beyond {time:.4g} s: a volume or a mass is far too small.")


def _try(rates: Rates, y: State, k1: State, h: float, scale: Sequence[float]) -> tuple[State, State, float]:
    half, most = 0.5 * h, 0.75 * h
    k2 = rates([a + half * p for a, p in zip(y, k1, strict=True)])
    k3 = rates([a + most * q for a, q in zip(y, k2, strict=True)])
    c1, c2, c3 = h * 2 / 9, h / 3, h * 4 / 9
    new = [a + c1 * p + c2 * q + c3 * r for a, p, q, r in zip(y, k1, k2, k3, strict=True)]
    k4 = rates(new)
    e1, e2, e3, e4 = -h * 5 / 72, h / 12, h / 9, -h / 8
    error = max(
        abs(e1 * p + e2 * q + e3 * r + e4 * s) / unit for p, q, r, s, unit in zip(k1, k2, k3, k4, scale, strict=True)
    )
    return new, k4, error


def _between(step: tuple[State, State, State, State, float], s: float) -> State:
    """Evaluate the cubic through both ends of a step at the share s of it."""
    a, p, b, q, h = step
    r = 1.0 - s
    wa, wb = r * r * (1.0 + 2.0 * s), s * s * (3.0 - 2.0 * s)
    wp, wq = h * s * r * r, -h * s * s * r
    return [wa * y + wb * z + wp * k + wq * m for y, z, k, m in zip(a, b, p, q, strict=True)]


def _first(
    events: Sequence[Event], before: Sequence[float], after: Sequence[float],
    step: tuple[State, State, State, State, float],
) -> tuple[float, int]:  # fmt: skip
    """Return the share of the step at which the first event happens, and which it is."""
    found = [
        (_root(event, step, low, high), number)
        for number, (event, low, high) in enumerate(zip(events, before, after, strict=True))
        if low < 0.0 <= high
    ]
    return min(found)


def _root(event: Event, step: tuple[State, State, State, State, float], low: float, high: float) -> float:
    """Close in on a zero by false position with halved ends (Illinois); stay on its far side."""
    a, b, fa, fb = 0.0, 1.0, low, high
    while b - a > _LOCATED and fb > 0.0:
        c = (a * fb - b * fa) / (fb - fa)
        if not a < c < b:
            break
        fc = event(_between(step, c))
        if fc < 0.0:
            a, fa, fb = c, fc, (fb * 0.5 if fb > _LOCATED else fb)
        else:
            b, fb, fa = c, fc, fa * 0.5
        if b - a < 1e-9 or abs(fc) < _LOCATED:
            break
    return b
