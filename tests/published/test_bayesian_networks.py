"""Inference against textbooks and published networks.

The networks asia (Lauritzen and Spiegelhalter 1988), alarm (Beinlich and others 1989),
child (Spiegelhalter and Cowell 1992) and insurance (Binder and others 1997), citations from memory,
are read from the files that pgmpy distributes; the posteriors to compare with are pyAgrum's.
"""

import gzip
import random
import re
import warnings
from importlib.metadata import distribution

import numpy as np
import pytest

from clampgraph.diagnosis.inference import (
    GeneralNetwork,
    Variable,
    compile_network,
    compile_tables,
    posteriors,
)
from clampgraph.diagnosis.network import Link, Network, Node

with warnings.catch_warnings():
    # The wrapper that pyAgrum is built with warns when it is imported, and crashes if a warning is an error.
    warnings.simplefilter("ignore")
    import pyagrum as gum


@pytest.mark.parametrize(
    ("causes", "expected"),
    [((False, False), 0.1), ((True, False), 0.28), ((False, True), 0.46), ((True, True), 0.568)],
)
def test_noisy_or_of_pearl(causes, expected):
    """Noisy-OR as in Pearl 1988, p. 184 (formula seen quoted) with leak 0.1 and strengths 0.2 and 0.4.

    The four figures are regression values computed from that formula.
    """
    first, second = Node("first", "failure-mode", 0.5), Node("second", "failure-mode", 0.5)
    effect = Node("effect", "symptom", 0.1, (Link("first", 0.2), Link("second", 0.4)))
    plan = compile_network(Network((first, second, effect)))
    found = posteriors(plan, dict(zip(("first", "second"), causes, strict=True)))
    assert found["effect"] == pytest.approx(expected, abs=1e-12)


def test_quickscore_of_heckerman():
    """Four faults and three symptoms: the Quickscore sum of Heckerman 1989 (formula seen quoted).

    The figures are regression values, computed by that sum and by listing all worlds;
    the sum is computed here once more, so that the engine is held to 1e-12.
    """
    priors, leaks = (0.01, 0.02, 0.05, 0.1), (0.01, 0.005, 0.02)
    rows = ((0.9, 0.2, 0.0, 0.3), (0.1, 0.8, 0.4, 0.0), (0.0, 0.3, 0.7, 0.5))
    faults = [Node(f"d{i}", "failure-mode", prior) for i, prior in enumerate(priors)]
    symptoms = [
        Node(f"f{j}", "symptom", leak, tuple(Link(f"d{i}", s) for i, s in enumerate(row)))
        for j, (leak, row) in enumerate(zip(leaks, rows, strict=True))
    ]
    plan = compile_network(Network((*faults, *symptoms)))
    findings = {"f0": True, "f1": False, "f2": True}
    chance = plan.likelihood(plan.evidence([findings]))[0]
    found = posteriors(plan, findings)
    total = _quickscore(priors, leaks, rows, None)
    assert chance == pytest.approx(0.016532467369030, abs=1e-12)
    assert chance == pytest.approx(total, abs=1e-12)
    for i, regression in enumerate((0.04320764, 0.02199778, 0.06878159, 0.94663896)):
        assert found[f"d{i}"] == pytest.approx(regression, abs=5e-9)
        assert found[f"d{i}"] == pytest.approx(_quickscore(priors, leaks, rows, i) / total, abs=1e-12)


def _quickscore(priors, leaks, rows, present):
    """Return P(symptoms 0 and 2 seen, 1 absent), jointly with one fault if its number is given."""
    total = 0.0
    for extra in ((), (0,), (2,), (0, 2)):
        absent = (1, *extra)
        term = (-1.0) ** len(extra) * np.prod([1.0 - leaks[j] for j in absent])
        for i, prior in enumerate(priors):
            term *= prior * np.prod([1.0 - rows[j][i] for j in absent]) + (1.0 - prior) * (i != present)
        total += term
    return total


def load(name, folder):
    """Read one of the networks that pgmpy ships, without importing pgmpy.

    State names such as ``<5`` are no words to pyAgrum, so they are numbered.
    """
    packed = distribution("pgmpy").locate_file(f"pgmpy/utils/example_models/{name}.bif.gz")
    path = folder / f"{name}.bif"
    text = gzip.decompress(packed.read_bytes()).decode()
    lists = re.findall(r"\] \{(.*?)\}", text)
    states = {state.strip() for listed in lists for state in listed.split(",")}
    odd = sorted(state for state in states if not state.isidentifier())
    for number, state in enumerate(sorted(odd, key=len, reverse=True)):
        text = text.replace(state, f"state_{number}")
    path.write_text(text)
    return gum.loadBN(str(path))


def as_general(net, name):
    """Turn a network of pyAgrum into ours; its tables list the variable first and hold the axes backwards."""
    variables = []
    for key in net.names():
        table = net.cpt(key)
        parents = tuple(reversed(table.names[1:]))
        variables.append(Variable(key, net.variable(key).labels(), table.toarray(), parents))
    return GeneralNetwork(tuple(variables), name)


def possible_findings(net, rng):
    """Return up to ten findings that one world, drawn from the network, agrees with."""
    world = {}
    for node in net.topologicalOrder():
        name = net.variable(node).name()
        table = net.cpt(node)
        weights = table[{parent: world[parent] for parent in table.names[1:]}] if table.names[1:] else table[:]
        world[name] = rng.choices(range(len(weights)), list(weights))[0]
    count = rng.randint(0, min(10, len(world)))
    return {name: world[name] for name in rng.sample(sorted(world), count)}


@pytest.mark.parametrize("name", ["asia", "alarm", "child", "insurance"])
def test_published_networks(name, tmp_path):
    """Every posterior of every state equals pyAgrum's to 1e-9, for fifty evidence sets."""
    net = load(name, tmp_path)
    rng = random.Random(name)  # noqa: S311 - reproducible, not secret
    plan = compile_tables(as_general(net, name))
    judge = gum.LazyPropagation(net)
    sets = [possible_findings(net, rng) for _ in range(50)]
    evidence = np.full((len(sets), len(plan.ids)), -1)
    for row, findings in zip(evidence, sets, strict=True):
        for variable, state in findings.items():
            row[plan.ids.index(variable)] = state
    found = plan.evaluate(evidence)
    for row, findings in enumerate(sets):
        judge.setEvidence(findings)
        judge.makeInference()
        assert found.probability[row] == pytest.approx(judge.evidenceProbability(), rel=1e-9)
        for variable in plan.ids:
            expected = judge.posterior(variable).toarray()
            np.testing.assert_allclose(found.posterior[variable][row], expected, rtol=0.0, atol=1e-9)


@pytest.mark.parametrize("name", ["asia", "insurance"])
def test_impossible_evidence_is_seen_alike(name, tmp_path):
    """Whatever findings pyAgrum refuses or gives the probability 0 are impossible here, and no others."""
    net = load(name, tmp_path)
    rng = random.Random(name)  # noqa: S311 - reproducible, not secret
    plan = compile_tables(as_general(net, name))
    judge = gum.LazyPropagation(net)
    sizes = [net.variable(variable).domainSize() for variable in plan.ids]
    evidence = np.array([[rng.randrange(-size, size) for size in sizes] for _ in range(60)]).clip(-1)
    possible = plan.evaluate(evidence).possible
    assert 0 < possible.sum() < len(possible)
    for row, states in enumerate(evidence.tolist()):
        judge.setEvidence({v: s for v, s in zip(plan.ids, states, strict=True) if s >= 0})
        try:
            judge.makeInference()
            chance = judge.evidenceProbability()
        except gum.IncompatibleEvidence:
            chance = 0.0
        assert possible[row] == (chance > 0.0)
