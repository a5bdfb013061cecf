"""Diagnosis of the shipped assemblies against pyAgrum and pgmpy, and the whole command against its own imports.

The peers are treated well: pyAgrum gets noisy-OR nodes of its own, whichever of the network as it is
and the network without repeated nodes gives it the smaller junction tree, and keeps its inference object.
pgmpy does the whole work once, all posteriors, on the smallest unit; on the largest it would take too long.
Next checks are ranked on the tandem unit: with all checks of the largest, pyAgrum takes minutes for one what-if.
The targets are what was promised: times faster at least.
"""

import random
import subprocess
import sys
import time
from functools import partial
from itertools import cycle
from pathlib import Path

import numpy as np
from pgmpy.inference import VariableElimination
from tests.bench.figures import Figure, compared, in_turn
from tests.bench.inference import tables_of
from tests.diagnosis.inference.worlds import as_agrum, entries_of, findings_on, gum, without_copies

from clampgraph.answers.diagnosing.diagnose import diagnose
from clampgraph.answers.diagnosing.diagnosis import DiagnoseRequest
from clampgraph.answers.diagnosing.study import study_of
from clampgraph.answers.library import Library
from clampgraph.diagnosis.inference import compile_network
from clampgraph.diagnosis.relevance import upstream
from clampgraph.diagnosis.troubleshooting import Repair, worth_of_checks

__all__ = ["report"]

NEXT = COLD = "brannoch-40t"
SYMPTOM = "bang-at-release"
BATCH, PEER_CASES, PAIRS, COMMANDS = 4096, 3, 7, 7
SINGLE, MANY, CHECKS, PGMPY, COMMAND = 15.0, 300.0, 100.0, 300.0, 2.5


def report():
    """Yield lines and figures."""
    library = Library.open()
    networks = {name: library.network(library.assembly(name)) for name in library.assemblies}
    largest = max(networks, key=lambda name: len(networks[name]))
    yield from _assembly(library, largest)
    yield from _pgmpy(networks[min(networks, key=lambda name: len(networks[name]))])
    yield from _questions(library)
    yield from _command()


def _assembly(library, name):
    network, rng = library.network(library.assembly(name)), random.Random(name)  # noqa: S311 - reproducible, no secret
    seen = {f"symptom/{SYMPTOM}": True}
    causes = [node.id for node in network if node.kind in {"failure-mode", "condition"}]
    part = upstream(network, [*causes, *seen])
    plan = compile_network(part)
    yield f"{name}, {SYMPTOM}: {len(part)} of {len(network)} nodes, width {plan.width}, {plan.size} products"
    judge, gap = _pyagrum(part, plan, [seen])
    one, batch = plan.evidence([seen]), plan.evidence([findings_on(part, rng) for _ in range(BATCH)])
    ours, theirs = in_turn(partial(plan.evaluate, one), partial(judge, 0), repeats=PAIRS)
    limit = "a hundred calls into numpy for each case"
    yield Figure.of("one set of findings, all posteriors", [s * 1e3 for s in ours], "ms", limit)
    yield compared(f"the same against pyAgrum, largest difference {gap:.0e}", ours, theirs, limit, (">=", SINGLE))
    ours, theirs = in_turn(partial(plan.evaluate, batch), partial(judge, 0), repeats=PAIRS)
    each = [seconds / BATCH for seconds in ours]
    yield compared(f"a set of a batch of {BATCH} against pyAgrum", each, theirs, "memory bandwidth", (">=", MANY))
    yield from _next_checks(library, NEXT, seen)


def _next_checks(library, name, seen):
    """Rank every check by every outcome, with all posteriors of each; the peer does the same what-ifs."""
    assembly = library.assembly(name)
    study = study_of(library, assembly, {})
    findings = tuple(seen)
    options = study.open_options(findings, seen, {})
    above = study.above(findings[0])
    modes = [node.id for node in study.network.of_kind("failure-mode") if node.id in above]
    repairs = [Repair(mode, (mode,), 10.0) for mode in modes]
    nodes = [node for option in options for node in option.nodes.values()]
    part = upstream(study.network, [*modes, *seen, *nodes])
    rows = []
    for option in options:
        silent = seen | dict.fromkeys(option.nodes.values(), False)
        rows += [silent, *(silent | {node: True} for node in option.nodes.values())]
    picked = random.Random(name).sample(rows, min(PEER_CASES, len(rows)))  # noqa: S311 - reproducible, not secret
    judge, gap = _pyagrum(part, compile_network(part), picked)
    turns = cycle(range(len(picked)))
    ours, theirs = in_turn(
        partial(worth_of_checks, study.plan, seen, options, repairs), lambda: judge(next(turns)), repeats=PAIRS
    )
    told = f"next checks of {name}, {len(options)} checks, {len(rows)} what-ifs, against pyAgrum ({gap:.0e})"
    whole = [seconds * len(rows) for seconds in theirs]
    yield compared(told, ours, whole, "products of the circuits, in memory bandwidth", (">=", CHECKS))


def _pgmpy(network):
    """Let pgmpy find all posteriors of one set of findings, once and in full."""
    seen = {f"symptom/{SYMPTOM}": True}
    causes = [node.id for node in network if node.kind in {"failure-mode", "condition"}]
    part = upstream(network, [*causes, *seen])
    plan, (distinct, same) = compile_network(part), without_copies(part)
    peer = VariableElimination(tables_of(distinct))
    evidence = {same[name]: int(state) for name, state in seen.items()}
    asked = [node.id for node in distinct if node.id not in evidence]
    start, found = time.perf_counter(), {}
    for name in asked:
        found[name] = peer.query([name], evidence=evidence, show_progress=False).values[1]
    theirs = time.perf_counter() - start
    one = plan.evidence([seen])
    (ours,) = in_turn(partial(plan.evaluate, one), repeats=PAIRS)
    answer = plan.evaluate(one).posterior[0]
    gap = max(abs(answer[plan.columns[name]] - chance) for name, chance in found.items())
    told = f"{network.place}, all {len(asked)} posteriors, against pgmpy once in full ({theirs:.1f} s, {gap:.0e})"
    yield compared(told, ours, [theirs] * len(ours), "a hundred calls into numpy for each case", (">=", PGMPY))


def _questions(library):
    """Time whole answers to findings that were never asked before."""
    for name in sorted(library.assemblies):
        network = library.network(library.assembly(name))
        symptoms = [node.symptom for node in network.of_kind("symptom")]
        rng = random.Random(name)  # noqa: S311 - reproducible, not secret
        sets = [tuple(rng.sample(symptoms, rng.choice((1, 1, 2)))) for _ in range(24)]
        seconds = []
        for seen in dict.fromkeys(sets):
            start = time.perf_counter()
            diagnose(library, DiagnoseRequest(assembly=name, seen=seen))
            seconds.append((time.perf_counter() - start) * 1e3)
        yield Figure.of(f"diagnose {name}, new findings each time", seconds, "ms", "what-ifs of the next checks")


def _pyagrum(network, plan, sets):
    """Return what lets pyAgrum find all posteriors of a set, and the largest difference."""
    distinct, same = without_copies(network)
    itself = {name: name for name in same}
    peers = [(as_agrum(network), itself), (as_agrum(distinct), same)]
    peer, names = min(peers, key=lambda pair: entries_of(pair[0]))
    judge = gum.LazyPropagation(peer)

    def ask(row):
        judge.setEvidence({names[name]: int(state) for name, state in sets[row].items()})
        judge.makeInference()
        return {name: judge.posterior(name)[1] for name in peer.names()}

    answers = plan.evaluate(plan.evidence(sets)).posterior
    found = map(ask, range(len(sets)))
    gaps = (np.abs(answers[row] - [v[names[n]] for n in plan.node_ids]).max() for row, v in enumerate(found))
    return ask, max(gaps)


def _command():
    """Time the whole command, cold, against the imports that it cannot do without."""
    python = Path(sys.executable)
    command = [python.with_name("clampgraph"), "diagnose", COLD, "--seen", SYMPTOM]
    imports = [python, "-c", "import rdflib, numpy, networkx"]
    run = partial(subprocess.run, check=True, stdout=subprocess.DEVNULL)
    ours, theirs = in_turn(partial(run, command), partial(run, imports), repeats=COMMANDS)
    ratio = [our / their for our, their in zip(ours, theirs, strict=True)]
    told = f"clampgraph {' '.join(command[1:])}, over python -c '{imports[-1]}'"
    yield Figure.of(told, ratio, "times", "imports; the circuits lie ready since the first run", ("<=", COMMAND))
