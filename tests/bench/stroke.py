"""The simulated stroke against SciPy's integrator on the same equations, formulas over arrays against bare numpy."""

import math
from functools import partial
from unittest import mock

import numpy as np
from scipy.integrate import solve_ivp
from tests.bench.timing import timed

from clampgraph.answers.library import Library
from clampgraph.answers.stroke.parameters import parameters_of
from clampgraph.answers.stroke.stroke_unit import unit_of
from clampgraph.physics import cylinders, disc_springs, stacks, valve_flow
from clampgraph.physics.stroke import books, observe, run
from clampgraph.physics.stroke.integrate import Arc

__all__ = ["report"]

POINTS, RUNS, PEER_RUNS, LIMIT = 1_000_000, 21, 5, 60.0
E, MU = 206e9, 0.3


def report():
    """Yield the lines of the report."""
    library = Library.open()
    for name in library.assemblies:
        if library.graph.ask("simulation/list-parameters", assembly=name):
            yield from _cycle(name, unit_of(parameters_of(library, library.assembly(name))))
    yield from _arrays()


def _cycle(name, unit):
    own = timed([partial(run, unit)] * RUNS)
    with mock.patch("clampgraph.physics.stroke.cycle.integrate", _scipy):
        peer = timed([partial(run, unit)] * PEER_RUNS)
        theirs = observe(run(unit))
    cycle = run(unit)
    ours, worst = observe(cycle), max(book.error for book in books(cycle))
    gap = abs(ours["release-time"] - theirs["release-time"])
    yield f"{name}: one full cycle, {len(cycle.samples)} steps, largest error of its books {worst:.1e}"
    yield f"  own integrator             {own}  (at most {LIMIT:.0f} ms asked: {own.median * 1e3 <= LIMIT})"
    yield f"  SciPy solve_ivp RK23       {peer}  release times differ by {gap * 1e6:.0f} µs"
    yield f"  times faster: {peer.median / own.median:.1f}"


def _scipy(rates, start, span, events, scale):
    """Do the work of `integrate` with SciPy: same pair of formulas, same tolerances, its own event location."""
    found = []
    for event in events:
        wrapped = partial(_at, event)
        wrapped.terminal, wrapped.direction = True, 1.0
        found.append(wrapped)
    done = solve_ivp(lambda _t, y: rates(list(y)), span, start, "RK23", events=found or None, rtol=1e-12, atol=scale)
    ended = next((i for i, times in enumerate(done.t_events or []) if len(times)), None)
    return Arc(done.t[1:].tolist(), done.y.T[1:].tolist(), ended)


def _at(event, _t, y):
    return event(list(y))


def _arrays():
    rng = np.random.default_rng(1)
    s, p, r = rng.uniform(0, 1.1e-3, POINTS), rng.uniform(1e5, 8e5, POINTS), rng.uniform(0.0, 1.0, POINTS)
    disc = {"De": 0.05, "Di": 0.0254, "t": 0.003, "h0": 0.0011}
    pairs = {
        "disc load": (lambda: disc_springs.load(**disc, s=s), lambda: _disc(s, **disc)),
        "stack, pressed": (
            lambda: stacks.loading_force(F=p, n=2, wM=0.02, wR=0.04), lambda: 2 * p / (1.0 - 0.02 - 0.04)),
        "cylinder push": (
            lambda: cylinders.push_force(p=p, D=0.125, eta=0.9), lambda: 0.9 * p * math.pi / 4 * 0.125**2),
        "mass flow": (lambda: valve_flow.mass_flow(C=1e-8, b=0.3, p1=p, p2=r * p), lambda: _flow(p, r * p)),
    }  # fmt: skip
    for name, (own, bare) in pairs.items():
        here, there = timed([own] * 9), timed([bare] * 9)
        gap = np.max(np.abs(own() - bare()) / np.max(np.abs(bare())))
        yield f"{name} over {POINTS} points, largest difference {gap:.0e}"
        yield f"  own {here}"
        yield f"  bare numpy {there}: {there.median / here.median:.2f} of its speed (at least 0.10 asked)"


def _disc(s, De, Di, t, h0):
    d = De / Di
    k1 = ((d - 1) / d) ** 2 / ((d + 1) / (d - 1) - 2 / math.log(d)) / math.pi
    return 4 * E / (1 - MU**2) * t**4 / (k1 * De**2) * (s / t) * ((h0 / t - s / t) * (h0 / t - s / (2 * t)) + 1)


def _flow(p1, p2):
    r = p2 / p1
    z = np.clip((np.minimum(r, 0.999) - 0.3) / 0.7, 0.0, None)
    return 1e-8 * 1.185 * p1 * np.sqrt(1 - z * z) * np.minimum(1.0, (1 - r) / 0.001)
