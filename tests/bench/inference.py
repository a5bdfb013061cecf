"""Exact inference against pyAgrum and pgmpy, on the same networks and evidence, in the same run.

The peers are treated well: their network and inference object are made once and reused,
pyAgrum gets noisy-OR nodes of its own and whichever number of threads is faster for it.
pgmpy has no leak in its noisy-OR, so it gets tables; they stay small, as no node has many parents.
"""

import itertools
import random
from functools import partial

import numpy as np
from pgmpy.factors.discrete import TabularCPD
from pgmpy.inference import VariableElimination
from pgmpy.models import DiscreteBayesianNetwork
from tests.bench.figures import Figure, compared, in_turn
from tests.bench.networks import layered_network
from tests.diagnosis.inference.worlds import as_agrum, gate_chances, gum, sampled

from clampgraph.diagnosis.inference import compile_network

__all__ = ["report", "tables_of"]

SEEDS, CASES, BATCH, PGMPY_CASES, FINDINGS, SEEN, REPEATS = (1, 2, 3), 50, 4096, 2, 6, 2, 5
CALLS, MEMORY = "a hundred calls into numpy for each case", "memory bandwidth"


def report():
    """Yield the lines of the report."""
    for seed in SEEDS:
        yield from _compare(layered_network(seed), random.Random(seed))  # noqa: S311 - reproducible, not secret


def _compare(network, rng):
    links = sum(len(node.links) for node in network)
    plan = compile_network(network)
    yield f"{network.place}: {len(network)} nodes, {links} links, width {plan.width}, {plan.size} products"
    (compiling,) = in_turn(partial(compile_network, network), repeats=REPEATS)
    yield Figure.of(
        f"{network.place}, compile once", [1e3 * s for s in compiling], "ms", "the search for an order, which is Python"
    )
    sets = [_findings(network, rng) for _ in range(CASES)]
    rows = [plan.evidence([one]) for one in sets]
    batch = plan.evidence([sets[i % CASES] for i in range(BATCH)])
    answers = plan.evaluate(plan.evidence(sets)).posterior
    lazy, gap = _pyagrum(network, plan.node_ids, sets, answers)
    each, whole, theirs = in_turn(
        lambda: [plan.evaluate(row) for row in rows], partial(plan.evaluate, batch), lazy, repeats=REPEATS
    )
    told = f"against pyAgrum LazyPropagation, largest difference {gap:.0e}"
    yield compared(f"{network.place}, one case {told}", each, theirs, CALLS, None)
    yield compared(
        f"{network.place}, a case of a batch of {BATCH} {told}",
        [s * CASES / BATCH for s in whole],
        theirs,
        MEMORY,
        None,
    )
    few = sets[:PGMPY_CASES]
    slow, far = _pgmpy(network, plan.node_ids, few, answers)
    each, theirs = in_turn(lambda: [plan.evaluate(row) for row in rows[:PGMPY_CASES]], slow, repeats=REPEATS, warm=0)
    yield compared(
        f"{network.place}, one case against pgmpy VariableElimination, largest difference {far:.0e}",
        each,
        theirs,
        CALLS,
        None,
    )


def _findings(network, rng):
    """Return findings among symptoms and checks of one world in which something shows: two on, others any."""
    seen = []
    while len(seen) < SEEN:
        world = sampled(network, rng, len(network))
        shown = [node.id for node in network if node.kind in {"symptom", "check"}]
        seen = [name for name in shown if world[name]]
    found = rng.sample(seen, SEEN)
    rest = rng.sample(sorted({*shown} - {*found}), FINDINGS - SEEN)
    return {name: world[name] for name in (*found, *rest)}


def _pyagrum(network, ids, sets, answers):
    """Return what lets pyAgrum solve every set with its best number of threads, and the largest difference."""
    judge = gum.LazyPropagation(as_agrum(network))

    def ask():
        found = []
        for one in sets:
            judge.setEvidence({name: int(state) for name, state in one.items()})
            judge.makeInference()
            found.append([judge.posterior(name)[1] for name in ids])
        return np.array(found)

    def with_threads(threads):
        judge.setNumberOfThreads(threads)
        return ask()

    one, two = in_turn(partial(with_threads, 1), partial(with_threads, 2), repeats=2)
    judge.setNumberOfThreads(1 if min(one) < min(two) else 2)
    return ask, np.abs(answers - ask()).max()


def _pgmpy(network, ids, sets, answers):
    """Return what lets pgmpy solve every set, one query for each unobserved node, and the largest difference."""
    judge = VariableElimination(tables_of(network))

    def ask():
        found = []
        for one in sets:
            evidence = {name: int(state) for name, state in one.items()}
            free = [name for name in ids if name not in evidence]
            ask_one = partial(judge.query, evidence=evidence, show_progress=False)
            found.append({name: ask_one([name]).values[1] for name in free})
        return found

    gaps = [abs(answers[row][ids.index(n)] - p) for row, values in enumerate(ask()) for n, p in values.items()]
    return ask, max(gaps)


def tables_of(network):
    """Return a network for pgmpy, every gate as a table."""
    model = DiscreteBayesianNetwork([(link.parent, node.id) for node in network for link in node.links])
    for node in network:
        model.add_node(node.id)
        parents = [link.parent for link in node.links]
        worlds = itertools.product((False, True), repeat=len(parents))
        columns = [gate_chances(node, dict(zip(parents, world, strict=True))) for world in worlds]
        table = np.array(columns).T
        model.add_cpds(TabularCPD(node.id, 2, table, parents or None, [2] * len(parents) or None))
    return model
