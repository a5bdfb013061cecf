"""Laws that any sound diagnosis obeys, on generated networks."""

import random

import pytest
from hypothesis import assume, given, reject
from hypothesis import strategies as st

from clampgraph.diagnosis.inference import compile_network, posteriors
from clampgraph.diagnosis.network import Link, Network, Node
from clampgraph.errors import ImpossibleEvidenceError
from diagnosis.inference.worlds import findings_of, networks, sampled, sparse_network

open_chances = st.floats(0.001, 0.999)


def upstream(network, name):
    """Return the ids of everything that can influence a node."""
    found, fresh = set(), {name}
    while fresh:
        found |= fresh
        fresh = {link.parent for one in fresh for link in network.by_id[one].links} - found
    return found - {name}


@given(st.data())
def test_a_symptom_speaks_for_its_causes(data):
    """From no evidence, a symptom seen lowers no cause upstream of it, and its absence raises none."""
    network = data.draw(networks(largest=12, chance=open_chances))
    plan = compile_network(network)
    symptom = data.draw(st.sampled_from(plan.node_ids))
    found = plan.evaluate(plan.evidence([{}, {symptom: True}, {symptom: False}]))
    assume(found.possible.all())
    before, seen, absent = found.posterior
    for cause in upstream(network, symptom):
        column = plan.node_ids.index(cause)
        assert seen[column] >= before[column] - 1e-12
        assert absent[column] <= before[column] + 1e-12


@given(st.lists(st.tuples(open_chances, open_chances), min_size=2, max_size=6), open_chances)
def test_rival_causes_explain_each_other_away(causes, leak):
    """Once a symptom is seen, finding one of its causes present never makes another one more probable."""
    roots = [Node(f"c{i}", "failure-mode", prior) for i, (prior, _) in enumerate(causes)]
    links = tuple(Link(f"c{i}", strength) for i, (_, strength) in enumerate(causes))
    plan = compile_network(Network((*roots, Node("s", "symptom", leak, links))))
    seen, explained = posteriors(plan, {"s": True}), posteriors(plan, {"s": True, "c0": True})
    assert seen["c0"] >= posteriors(plan, {})["c0"] - 1e-12
    for i in range(1, len(causes)):
        assert explained[f"c{i}"] <= seen[f"c{i}"] + 1e-12


@given(st.data())
def test_a_cause_without_a_path_keeps_its_prior(data):
    """A root that influences no finding is as probable as before."""
    network = data.draw(networks(largest=12, chance=open_chances))
    plan = compile_network(network)
    findings = data.draw(findings_of(network))
    try:
        after = posteriors(plan, findings)
    except ImpossibleEvidenceError:
        reject()
    touched = {*findings}.union(*(upstream(network, name) for name in findings))
    for node in network:
        if not node.links and node.id not in touched:
            prior = node.leak if node.gate == "or" else node.strength
            assert after[node.id] == pytest.approx(prior, abs=1e-12)


@pytest.mark.parametrize("seed", range(5))
def test_order_of_findings_is_irrelevant(seed):
    """The same findings in another order give the same answer, and so do the same nodes in another order."""
    network = sparse_network(seed, 60)
    rng = random.Random(seed)  # noqa: S311 - reproducible, not secret
    findings = sampled(network, rng, 8)
    shuffled = rng.sample(list(findings.items()), len(findings))
    answer = posteriors(compile_network(network), findings)
    assert posteriors(compile_network(network), dict(shuffled)) == answer
    turned = compile_network(Network(tuple(rng.sample(network.nodes, len(network)))))
    assert posteriors(turned, findings) == pytest.approx(answer, abs=1e-12)


@pytest.mark.parametrize("seed", range(5))
def test_a_findings_chances_add_up(seed):
    """P(findings, node on) and P(findings, node off) add up to P(findings); the share is the posterior."""
    network = sparse_network(seed, 60)
    plan = compile_network(network)
    rng = random.Random(seed)  # noqa: S311 - reproducible, not secret
    findings = sampled(network, rng, 5)
    free = [name for name in plan.node_ids if name not in findings]
    on = plan.likelihood(plan.evidence([findings | {name: True} for name in free]))
    off = plan.likelihood(plan.evidence([findings | {name: False} for name in free]))
    total, answer = plan.likelihood(plan.evidence([findings]))[0], posteriors(plan, findings)
    assert on + off == pytest.approx(total, rel=1e-12)
    assert on / total == pytest.approx([answer[name] for name in free], abs=1e-12)
