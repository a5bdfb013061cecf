"""The engine against every world of a small network, and against pyAgrum on larger ones."""

import random

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from clampgraph.diagnosis.inference import compile_network, posteriors
from clampgraph.diagnosis.network import Link, Network, Node
from diagnosis.inference.worlds import as_agrum, findings_of, gum, networks, sampled, sparse_network, worlds


def test_network_without_nodes():
    """A network without nodes has one world, and it is certain."""
    plan = compile_network(Network(()))
    found = plan.evaluate(plan.evidence([{}, {}]))
    assert plan.node_ids == ()
    assert plan.width == 0
    assert found.probability.tolist() == [1.0, 1.0]
    assert found.posterior.shape == (2, 0)
    assert found.possible.all()
    assert posteriors(plan, {}) == {}


def test_network_of_one_node():
    """One node has its prior, and becomes certain once it is seen."""
    plan = compile_network(Network((Node("a", "condition", 0.3),)))
    found = plan.evaluate(plan.evidence([{}, {"a": True}, {"a": False}]))
    assert found.probability.tolist() == pytest.approx([1.0, 0.3, 0.7], abs=1e-15)
    assert found.posterior[:, 0].tolist() == pytest.approx([0.3, 1.0, 0.0], abs=1e-15)


def test_no_cases():
    """A batch of no cases has no answers."""
    plan = compile_network(Network((Node("a", "condition", 0.3),)))
    found = plan.evaluate(plan.evidence([]))
    assert found.posterior.shape == (0, 1)
    assert found.probability.shape == found.possible.shape == (0,)


@given(st.data())
def test_equals_the_sum_over_all_worlds(data):
    """Probability and posteriors equal the sum over all worlds to 1e-12, in a small and in a large batch."""
    network = data.draw(networks())
    plan = compile_network(network)
    sets = data.draw(st.lists(findings_of(network), min_size=1, max_size=6))
    few, many = plan.evaluate(plan.evidence(sets)), plan.evaluate(plan.evidence(sets * 6))
    everything = list(worlds(network))
    for row, findings in enumerate(sets):
        agree = [(w, p) for w, p in everything if all(w[name] == state for name, state in findings.items())]
        total = sum(p for _, p in agree)
        assert few.possible[row] == (total > 0.0)
        assert few.probability[row] == pytest.approx(total, rel=1e-12, abs=0.0)
        on = [sum(p for w, p in agree if w[name]) / total if total else 0.0 for name in plan.node_ids]
        np.testing.assert_allclose(few.posterior[row], on, rtol=0.0, atol=1e-12)
    for name in ("probability", "posterior", "possible"):
        one, repeated = getattr(few, name), getattr(many, name)
        np.testing.assert_allclose(repeated, np.concatenate([one] * 6), rtol=1e-12)
    np.testing.assert_allclose(plan.likelihood(plan.evidence(sets)), few.probability, rtol=1e-12)


@pytest.mark.parametrize("seed", range(10))
def test_equals_pyagrum_on_a_hundred_nodes(seed):
    """All posteriors equal pyAgrum's lazy propagation to 1e-9 for up to ten findings."""
    network = sparse_network(seed)
    rng = random.Random(seed)  # noqa: S311 - reproducible, not secret
    plan = compile_network(network)
    judge = gum.LazyPropagation(as_agrum(network))
    sets = [sampled(network, rng, rng.randint(0, 10)) for _ in range(24)]
    found = plan.evaluate(plan.evidence(sets))
    for row, findings in enumerate(sets):
        judge.setEvidence({name: int(state) for name, state in findings.items()})
        judge.makeInference()
        expected = [judge.posterior(name)[1] for name in plan.node_ids]
        np.testing.assert_allclose(found.posterior[row], expected, rtol=0.0, atol=1e-9)
        assert found.probability[row] == pytest.approx(judge.evidenceProbability(), rel=1e-9)


def test_rare_causes_keep_their_digits():
    """Ten findings, each explained only by a cause of 1e-12, cost no digits."""
    causes = [Node(f"c{i}", "failure-mode", 1e-12) for i in range(10)]
    links = [tuple(Link(f"c{(i + k) % 10}", 0.5) for k in range(3)) for i in range(10)]
    network = Network((*causes, *(Node(f"s{i}", "symptom", 0.0, links[i]) for i in range(10))))
    plan = compile_network(network)
    findings = {f"s{i}": True for i in range(10)}
    exact = dict.fromkeys(plan.node_ids, 0.0)
    total = 0.0
    for states in np.ndindex((2,) * 10):
        chance = 1.0
        for state in states:
            chance *= 1e-12 if state else 1.0 - 1e-12
        for i in range(10):
            chance *= (0.0, 0.5, 0.75, 0.875)[sum(states[(i + k) % 10] for k in range(3))]
        total += chance
        for i, state in enumerate(states):
            exact[f"c{i}"] += chance * state
    found = posteriors(plan, findings)
    for i in range(10):
        assert found[f"c{i}"] == pytest.approx(exact[f"c{i}"] / total, rel=1e-12)
