"""Forces on the rod, as plain functions of travel: return spring, disc-spring stack on both branches, taper.

The travel of the rod is counted from home; the drawbar has moved by what exceeds the gap.
"""

from collections.abc import Callable

from clampgraph.physics import disc_springs
from clampgraph.physics.stroke.unit import Mechanism, Stack

__all__ = ["clamping_force", "needed_force", "resistance", "seated_force", "stored_energy"]

Force = Callable[[float], float]


def _disc(stack: Stack) -> tuple[float, float, float]:
    """Return the coefficients of the cubic that gives the load of one disc over its deflection."""
    flat = disc_springs.flat_load(De=stack.De, Di=stack.Di, t=stack.t, h0=stack.h0)
    q = float(flat) / (stack.h0 * stack.t**3)
    return q * stack.t * (stack.h0**2 + stack.t**2), -1.5 * q * stack.t * stack.h0, 0.5 * q * stack.t


def _branch(stack: Stack, motion: int) -> float:
    """Return by what friction multiplies the load: pressed, relaxing, or neither."""
    if motion > 0:
        return stack.n / (1.0 - stack.w)
    return stack.n / (1.0 + stack.w) if motion < 0 else float(stack.n)


def resistance(unit: Mechanism, motion: int, *, joined: bool) -> Force:
    """Return what pushes the rod back [N] as a function of its travel [m], without its own friction.

    Parameters
    ----------
    unit
        The mechanism.
    motion
        1 while it presses the stack, -1 while the stack relaxes, 0 for the stack without friction.
    joined
        Whether the drawbar moves with the rod.
    """
    preload, rate, gap = unit.spring_preload, unit.spring_rate, unit.gap
    if not joined:
        return lambda x: preload + rate * x
    a1, a2, a3 = _disc(unit.stack)
    share, s1, each = _branch(unit.stack, motion), unit.stack.s1, 1.0 / unit.stack.i
    grip, fade, stick = unit.opening, unit.taper_travel, unit.taper_force

    def force(x: float) -> float:
        y = x - gap
        s = s1 + y * each
        found = preload + rate * x + share * s * (a1 + s * (a2 + s * a3))
        if motion > 0 and grip < y < grip + fade:
            found += stick * (1.0 - (y - grip) / fade)
        return found

    return force


def seated_force(unit: Mechanism, motion: int) -> float:
    """Return the force of the stack at its clamped deflection [N], on a branch."""
    a1, a2, a3 = _disc(unit.stack)
    s = unit.stack.s1
    return _branch(unit.stack, motion) * s * (a1 + s * (a2 + s * a3))


def clamping_force(unit: Mechanism) -> float:
    """Return the pull on the tool [N]: the relaxing branch less what a sticking drawbar holds back."""
    return max(0.0, seated_force(unit, -1) - unit.drawbar_friction) * unit.force_ratio


def needed_force(unit: Mechanism) -> float:
    """Return the greatest force [N] that the drive must bring anywhere on its way to full opening."""
    force = resistance(unit, 1, joined=True)
    end = max(unit.stroke, unit.gap)
    places = {unit.gap, end, *(x for x in (unit.gap + unit.opening * (1.0 + 1e-9),) if x < end)}
    return max(force(x) for x in places) + unit.friction + unit.drawbar_friction


def stored_energy(unit: Mechanism) -> Force:
    """Return the energy of return spring and stack [J] over the travel, zero at home with the tool clamped."""
    preload, rate, gap, stack = unit.spring_preload, unit.spring_rate, unit.gap, unit.stack
    a1, a2, a3 = _disc(stack)

    def work(s: float) -> float:
        return s * s * (a1 / 2 + s * (a2 / 3 + s * a3 / 4))

    def energy(x: float) -> float:
        y = max(0.0, x - gap)
        pressed = stack.n * stack.i * (work(stack.s1 + y / stack.i) - work(stack.s1))
        return x * (preload + 0.5 * rate * x) + pressed

    return energy
