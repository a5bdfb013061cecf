"""Diagnosis of the shipped assemblies against pyAgrum and pgmpy, and the whole command against its own imports.

The peers are treated well: pyAgrum gets noisy-OR nodes of its own, whichever of the network as it is
and the network without repeated nodes gives it the smaller junction tree, and keeps its inference object;
pgmpy is timed on a few posteriors only, where the engine gives all.
The targets are what was promised for the network sizes here: times faster at least.
"""

import random
import subprocess
import sys
from functools import partial
from pathlib import Path

import numpy as np
from pgmpy.inference import VariableElimination
from tests.bench.inference import tables_of
from tests.bench.timing import timed
from tests.diagnosis.inference.worlds import as_agrum, entries_of, findings_on, gum, without_copies

from clampgraph.answers.library import Library
from clampgraph.diagnosis.inference import compile_network
from clampgraph.diagnosis.relevance import upstream

__all__ = ["report"]

ASSEMBLIES, SYMPTOM = ("brannoch-30s", "brannoch-40t"), "bang-at-release"
BATCH, SINGLES, PEER_CASES, PGMPY_CASES, PGMPY_POSTERIORS, COMMANDS = 4096, 41, 12, 2, 5, 7
SINGLE, MANY, CHECKS, COMMAND = 5.0, 300.0, 100.0, 4.0


def report():
    """Yield the lines of the report."""
    library = Library.open()
    for name in ASSEMBLIES:
        yield from _assembly(library.network(library.assembly(name)))
    yield from _command()


def _assembly(network):
    seen = {f"symptom/{SYMPTOM}": True}
    causes = [node.id for node in network if node.kind in {"failure-mode", "condition"}]
    yield from _findings(upstream(network, [*causes, *seen]), seen)
    outcomes = {}
    for node in network.of_kind("check"):
        outcomes.setdefault(node.check, []).append(node.id)
    wide = upstream(network, [*causes, *seen, *(name for names in outcomes.values() for name in names)])
    silent = [seen | dict.fromkeys(names, False) for names in outcomes.values()]
    shown = [row | {name: True} for row, names in zip(silent, outcomes.values(), strict=True) for name in names]
    yield from _next_checks(wide, silent + shown)


def _findings(network, seen):
    """One set of findings, a batch of them, and a few posteriors."""
    rng = random.Random(network.place)  # noqa: S311 - reproducible, not secret
    plan = compile_network(network)
    yield f"{network.place}, {SYMPTOM}: {len(network)} nodes, width {plan.width}, {plan.size} products"
    yield f"  compile once               {timed([partial(compile_network, network)] * 9)}"
    single = timed([partial(plan.evaluate, plan.evidence([seen]))] * SINGLES)
    batch = plan.evidence([findings_on(network, rng) for _ in range(BATCH)])
    many = timed([partial(plan.evaluate, batch)] * 3).each(BATCH)
    peer, gap = _pyagrum(network, plan, [seen] * PEER_CASES)
    few = _pgmpy(network, seen)
    yield f"  one set, all posteriors    {single}"
    yield f"  a set of a batch of {BATCH}   {many}"
    yield f"  pyAgrum LazyPropagation    {peer}  largest difference {gap:.1e}"
    yield f"  pgmpy, {PGMPY_POSTERIORS} posteriors only   {few}"
    yield _ratio("one set", peer.median / single.median, SINGLE)
    yield _ratio("batch", peer.median / many.median, MANY)
    yield f"  pgmpy: one set {few.median / single.median:,.0f} times"


def _next_checks(network, rows):
    """Rank by every outcome of every check, seen and not seen, with all posteriors of each."""
    plan = compile_network(network)
    batch = plan.evidence(rows)
    own = timed([partial(plan.evaluate, batch)] * 11)
    rng = random.Random(network.place)  # noqa: S311 - reproducible, not secret
    peer, gap = _pyagrum(network, plan, rng.sample(rows, PEER_CASES))
    yield f"  next checks, {len(rows)} what-ifs: {len(network)} nodes, width {plan.width}, {plan.size} products"
    yield f"  compile once               {timed([partial(compile_network, network)] * 9)}"
    yield f"  all what-ifs in one batch  {own}"
    yield f"  pyAgrum, one what-if       {peer}  largest difference {gap:.1e}"
    yield _ratio("next checks", peer.median * len(rows) / own.median, CHECKS)


def _ratio(what, ratio, least):
    return f"  {what}: {ratio:,.0f} times faster (at least {least:.0f}: {'yes' if ratio >= least else 'NO'})"


def _pyagrum(network, plan, sets):
    """Return pyAgrum's time for a set with all posteriors, and the largest difference."""
    distinct, same = without_copies(network)
    itself = {name: name for name in same}
    peers = [(as_agrum(network), itself), (as_agrum(distinct), same)]
    peer, names = min(peers, key=lambda pair: entries_of(pair[0]))
    judge, found = gum.LazyPropagation(peer), {}

    def ask(row):
        judge.setEvidence({names[name]: int(state) for name, state in sets[row].items()})
        judge.makeInference()
        found[row] = {name: judge.posterior(name)[1] for name in peer.names()}

    timing = timed([partial(ask, row) for row in range(len(sets))])
    answers = plan.evaluate(plan.evidence(sets)).posterior
    gaps = (np.abs(answers[row] - [v[names[n]] for n in plan.node_ids]).max() for row, v in found.items())
    return timing, max(gaps)


def _pgmpy(network, seen):
    """Return pgmpy's time for a few posteriors, each a query."""
    distinct, same = without_copies(network)
    judge = VariableElimination(tables_of(distinct))
    evidence = {same[name]: int(state) for name, state in seen.items()}
    asked = [node.id for node in distinct.of_kind("failure-mode")][:PGMPY_POSTERIORS]

    def ask():
        for name in asked:
            judge.query([name], evidence=evidence, show_progress=False)

    return timed([ask] * PGMPY_CASES)


def _command():
    """Time the whole command, cold, against the imports that it cannot do without."""
    python = Path(sys.executable)
    command = [python.with_name("clampgraph"), "diagnose", ASSEMBLIES[-1], "--seen", SYMPTOM]
    imports = [python, "-c", "import rdflib, numpy, networkx"]
    run = partial(subprocess.run, check=True, stdout=subprocess.DEVNULL)
    own, peer = (timed([partial(run, words)] * COMMANDS) for words in (command, imports))
    yield f"clampgraph {' '.join(command[1:])}: {own}"
    yield f"  python -c '{imports[-1]}': {peer}"
    ratio = own.median / peer.median
    yield f"  times as long: {ratio:.1f} (at most {COMMAND:.0f}: {'yes' if ratio <= COMMAND else 'NO'})"
