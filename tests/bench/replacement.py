"""Swaps on the demo, and orders of 500 lines against 2,000 offers.

The named peer is HiGHS itself, given the whole programme in one piece.
"""

import random

from tests.bench.timing import timed

import clampgraph.replacement.order as room
from clampgraph.answers.library import Library
from clampgraph.answers.replacing.replacements import SwapRequest
from clampgraph.answers.replacing.swap import swap
from clampgraph.replacement.order import Demand, Offer, Plan, cheapest_order

__all__ = ["large_case", "report"]

RATE = 80.0 / 60.0


def large_case(seed, units=50, lines=10):
    """Return lines and offers of many units: three makes of every part, and ten overlapping kits for each unit."""
    rng = random.Random(seed)  # noqa: S311 - a bench, not a secret
    demands, offers = [], []
    for unit in range(units):
        price = {}
        for n in range(lines):
            makes = tuple(f"{unit:02}-{n}{make}" for make in "abc")
            price[makes[0]] = rng.uniform(2, 200)
            offers += [Offer(m, round(price[makes[0]] * rng.uniform(0.9, 1.3), 2), {m: 1}) for m in makes]
            demands.append(Demand(f"{unit:02}-{n}", makes, rng.randint(1, 3)))
        for n in range(10):
            held = {i: rng.randint(1, 2) for i in rng.sample(sorted(price), rng.randint(2, 8))}
            full = sum(price[i] * count for i, count in held.items())
            offers.append(Offer(f"{unit:02}-kit-{n}", round(full * rng.uniform(0.67, 1.0), 2), held))
    return demands, offers


def undivided(demands, offers):
    """Solve the same programme in one piece, as HiGHS gets it."""
    batch, room._BATCH = room._BATCH, len(offers) + 1
    try:
        return cheapest_order(demands, offers, [Plan(frozenset(), 0.0)], {}, RATE)
    finally:
        room._BATCH = batch


def report():
    """Tell the time of swaps, and of large orders beside the same programme in one piece."""
    library = Library.open()
    questions = [
        SwapRequest(assembly=assembly, positions=(position,))
        for assembly in sorted(library.assemblies)
        for position in library.assembly(assembly).positions
    ]
    swap(library, questions[0])
    yield f"swap with order, {len(questions)} positions: {timed([lambda q=q: swap(library, q) for q in questions])}"
    plan = Plan(frozenset(), 0.0)
    for seed in range(3):
        demands, offers = large_case(seed)
        best = cheapest_order(demands, offers, [plan], {}, RATE)
        ours = timed([lambda d=demands, o=offers: cheapest_order(d, o, [plan], {}, RATE)] * 3)
        yield (
            f"order of {len(demands)} lines against {len(offers)} offers, seed {seed}: {ours}, "
            f"{'proven cheapest' if best.proven else 'NOT PROVEN'}, {best.total:.2f} EUR"
        )
    demands, offers = large_case(0, units=10)
    alone = timed([lambda: undivided(demands, offers)] * 2)
    ours = timed([lambda: cheapest_order(demands, offers, [plan], {}, RATE)] * 3)
    same = abs(undivided(demands, offers).total - cheapest_order(demands, offers, [plan], {}, RATE).total) < 0.01
    yield (
        f"100 lines in parts {ours} against HiGHS on the whole {alone}: {alone.median / ours.median:.1f} times faster, "
        f"{'same price' if same else 'PRICES DIFFER'}"
    )
