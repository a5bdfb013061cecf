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
from tests.bench.networks import layered_network
from tests.bench.timing import timed
from tests.diagnosis.inference.worlds import as_agrum, gate_chances, gum, sampled

from clampgraph.diagnosis.inference import compile_network

__all__ = ["report", "tables_of"]

SEEDS, CASES, BATCH, PGMPY_CASES, FINDINGS, SEEN = (1, 2, 3), 100, 4096, 3, 6, 2


def report():
    """Yield the lines of the report."""
    for seed in SEEDS:
        yield from _compare(layered_network(seed), random.Random(seed))  # noqa: S311 - reproducible, not secret


def _compare(network, rng):
    links = sum(len(node.links) for node in network)
    compiling = timed([partial(compile_network, network)] * 9)
    plan = compile_network(network)
    yield f"{network.place}: {len(network)} nodes, {links} links, width {plan.width}, {plan.size} products"
    sets = [_findings(network, rng) for _ in range(CASES)]
    single = timed([partial(plan.evaluate, plan.evidence([one])) for one in sets])
    batch = plan.evidence([sets[i % CASES] for i in range(BATCH)])
    many = timed([partial(plan.evaluate, batch)] * 7).each(BATCH)
    chances = timed([partial(plan.likelihood, batch)] * 7).each(BATCH)
    answers = plan.evaluate(plan.evidence(sets)).posterior
    lazy, gap = _pyagrum(network, plan.node_ids, sets, answers)
    slow, far = _pgmpy(network, plan.node_ids, sets[:PGMPY_CASES], answers)
    yield f"  compile once               {compiling}"
    yield f"  one case                   {single}"
    yield f"  a case of a batch of {BATCH}  {many}"
    yield f"  the same, P(evidence) only {chances}"
    yield f"  pyAgrum LazyPropagation    {lazy}  largest difference {gap:.1e}"
    yield f"  pgmpy VariableElimination  {slow}  largest difference {far:.1e}"
    yield (
        f"  times faster: one case {lazy.median / single.median:,.0f} (pyAgrum), "
        f"{slow.median / single.median:,.0f} (pgmpy); batch {lazy.median / many.median:,.0f} (pyAgrum)"
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
    """Time pyAgrum on every set with its best number of threads, and compare all posteriors."""
    judge = gum.LazyPropagation(as_agrum(network))
    found = {}

    def ask(row):
        judge.setEvidence({name: int(state) for name, state in sets[row].items()})
        judge.makeInference()
        found[row] = [judge.posterior(name)[1] for name in ids]

    timings = []
    for threads in (1, 2):
        judge.setNumberOfThreads(threads)
        timings.append(timed([partial(ask, row) for row in range(len(sets))]))
    gap = max(np.abs(answers[row] - values).max() for row, values in found.items())
    return min(timings, key=lambda timing: timing.median), gap


def _pgmpy(network, ids, sets, answers):
    """Time pgmpy on every set, one query for each unobserved node, and compare the posteriors."""
    judge = VariableElimination(tables_of(network))
    found = {}

    def ask(row):
        evidence = {name: int(state) for name, state in sets[row].items()}
        free = [name for name in ids if name not in evidence]
        ask_one = partial(judge.query, evidence=evidence, show_progress=False)
        found[row] = {name: ask_one([name]).values[1] for name in free}

    timing = timed([partial(ask, row) for row in range(len(sets))])
    gaps = [abs(answers[row][ids.index(n)] - p) for row, values in found.items() for n, p in values.items()]
    return timing, max(gaps)


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
