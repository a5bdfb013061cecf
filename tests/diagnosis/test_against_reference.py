"""The posteriors of every shipped assembly against pyAgrum, on the networks that its description leads to."""

import random

import numpy as np
import pytest

from clampgraph.answers.library import Library
from clampgraph.diagnosis.inference import compile_network
from clampgraph.diagnosis.relevance import upstream
from diagnosis.inference.worlds import OBSERVABLE, as_agrum, entries_of, findings_on, gum, without_copies

SETS, PROBES, RELATIVE = 200, 2, 1e-9
REACH = 2**15
"""Entries of pyAgrum's junction tree beyond which it takes seconds for a set; such sets are drawn anew."""


@pytest.mark.parametrize("name", sorted(Library.open().assemblies))
def test_posteriors_equal_the_reference(library, name):
    """Up to ten findings, 200 times: P(findings) and P(node | findings) agree for all causes and all between.

    Each set has its own network: what the findings, every cause and two more nodes picked at random have upstream.
    """
    network = library.network(library.assembly(name))
    rng = random.Random(name)  # noqa: S311 - reproducible, not secret
    possible, compared = 0, set()
    for _ in range(SETS):
        findings, asked, peer, same = _question(network, rng)
        plan = compile_network(asked)
        found = plan.evaluate(plan.evidence([findings]))
        chance, posterior = _reference(peer, {same[name]: state for name, state in findings.items()})
        expected = np.array([posterior[same[node.id]] for node in asked])
        assert found.probability[0] == pytest.approx(chance, rel=RELATIVE, abs=0.0)
        assert found.possible[0] == (chance > 0.0)
        np.testing.assert_allclose(found.posterior[0], expected, rtol=RELATIVE, atol=0.0)
        possible += chance > 0.0
        compared |= {node.id for node in asked}
    assert possible >= SETS * 3 // 4
    assert len(compared) > len(network) * 0.8


def _question(network, rng):
    """Draw findings, the network that they need, pyAgrum's version of it and which node it knows each one as."""
    causes = [node.id for node in network if node.kind in {"failure-mode", "condition"}]
    shown = [node.id for node in network if node.kind in OBSERVABLE]
    while True:
        findings = findings_on(network, rng)
        asked = upstream(network, [*causes, *findings, *rng.sample(shown, PROBES)])
        distinct, same = without_copies(asked)
        if len({(same[name], state) for name, state in findings.items()}) > len({same[name] for name in findings}):
            continue  # one variable cannot be on and off: told by test_limits
        peer = as_agrum(distinct)
        if entries_of(peer) <= REACH:
            return findings, asked, peer, same


def _reference(network, findings):
    """Return pyAgrum's P(findings) and P(node | findings) for every node; zeros where they cannot occur."""
    judge = gum.LazyPropagation(network)
    judge.setEvidence({name: int(state) for name, state in findings.items()})
    try:
        judge.makeInference()
        return judge.evidenceProbability(), {name: judge.posterior(name)[1] for name in network.names()}
    except gum.IncompatibleEvidence:
        return 0.0, dict.fromkeys(network.names(), 0.0)
