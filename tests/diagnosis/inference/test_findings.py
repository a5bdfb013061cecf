"""Leaves as weights: the same posteriors as the sum over all worlds, and the same bits in every company."""

import random

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from clampgraph.diagnosis.inference import Shelf, compile_network, plan_findings
from clampgraph.diagnosis.inference import findings as room
from clampgraph.diagnosis.network import Link, Network, Node
from clampgraph.errors import UnknownNameError, WrongCallError
from diagnosis.inference.worlds import findings_of, networks, sampled, sparse_network, worlds


def roots_and_rest(network):
    return [n.id for n in network if not n.links], [n.id for n in network if n.links]


@given(st.data())
def test_equals_the_sum_over_all_worlds(data):
    """Probability and posteriors equal the sum over all worlds to 1e-12, whatever leaf has how many parents."""
    network = data.draw(networks())
    plan = plan_findings(network, *roots_and_rest(network))
    sets = data.draw(st.lists(findings_of(network), min_size=1, max_size=6))
    found = plan.evaluate(plan.evidence(sets))
    everything = list(worlds(network))
    for row, findings in enumerate(sets):
        agree = [(w, p) for w, p in everything if all(w[name] == state for name, state in findings.items())]
        total = sum(p for _, p in agree)
        assert found.possible[row] == (total > 0.0)
        assert found.probability[row] == pytest.approx(total, rel=1e-12, abs=0.0)
        on = [sum(p for w, p in agree if w[name]) / total if total else 0.0 for name in plan.node_ids]
        np.testing.assert_allclose(found.posterior[row], on, rtol=0.0, atol=1e-12)


@pytest.mark.parametrize("most_ways", [1, 4, 64])
def test_equals_the_whole_network(monkeypatch, most_ways):
    """However many leaves become variables again, a hundred nodes with ten findings give what the network gives."""
    monkeypatch.setattr(room, "_MOST_WAYS", most_ways)
    rng = random.Random(3)  # noqa: S311 - reproducible, not secret
    for seed in range(4):
        network = sparse_network(seed)
        plan, judge = plan_findings(network, *roots_and_rest(network)), compile_network(network)
        sets = [sampled(network, rng, 10) for _ in range(12)]
        found, expected = plan.evaluate(plan.evidence(sets)), judge.evaluate(judge.evidence(sets))
        columns = [judge.columns[name] for name in plan.node_ids]
        np.testing.assert_allclose(found.posterior, expected.posterior[:, columns], rtol=0.0, atol=1e-12)
        np.testing.assert_allclose(found.probability, expected.probability, rtol=1e-11)


def test_the_company_changes_no_bit(library):
    """A case alone, in a batch of any size, on a fresh shelf or a full one: the same bits."""
    network = library.network(library.assembly("brannoch-40t"))
    causes = [node.id for node in network if node.kind in ("condition", "failure-mode")]
    leaves = [node.id for node in network if node.kind in ("symptom", "check")]
    plan, fresh = plan_findings(network, causes, leaves), plan_findings(network, causes, leaves, Shelf(1))
    rng = random.Random(5)  # noqa: S311 - reproducible, not secret
    sets = [dict.fromkeys(rng.sample(leaves[:24], 2), True) | {rng.choice(causes): False} for _ in range(40)]
    rows = plan.evidence(sets)
    whole = plan.evaluate(rows)
    for size in (1, 2, 7):
        for begin in range(0, 28, size):
            part = slice(begin, begin + size)
            found = fresh.evaluate(rows[part])
            assert found.posterior.tobytes() == whole.posterior[part].tobytes()
            assert found.probability.tobytes() == whole.probability[part].tobytes()
            assert fresh.likelihood(rows[part]).tobytes() == whole.probability[part].tobytes()


def test_faint_cases_keep_their_digits():
    """Eighty rare findings at once, less probable than any float: the posterior is still right."""
    cause = Node("c", "failure-mode", 1e-6)
    leaves = [Node(f"s{i}", "symptom", 1e-5, (Link("c", 1e-5 * (1 + i % 2)),)) for i in range(80)]
    plan = plan_findings(Network((cause, *leaves)), ["c"], [leaf.id for leaf in leaves])
    found = plan.evaluate(plan.evidence([dict.fromkeys((leaf.id for leaf in leaves), True)]))
    ratio = 1.0
    for leaf in leaves:
        ratio *= (leaf.leak + (1.0 - leaf.leak) * leaf.links[0].strength) / leaf.leak
    assert found.possible[0]
    assert found.posterior[0, 0] == pytest.approx(1e-6 * ratio / (1e-6 * ratio + 1.0 - 1e-6), rel=1e-9)


def test_a_full_shelf_lets_the_oldest_go():
    """A shelf keeps what was used last within its budget, and always the last one made."""
    nodes = [Node("c", "failure-mode", 0.1), *(Node(f"s{i}", "symptom", 0.1, (Link("c", 0.5),)) for i in range(3))]
    plan = plan_findings(Network(tuple(nodes)), ["c"], ["s0", "s1"], shelf := Shelf(1))
    plan.evaluate(plan.evidence([{}]))
    plan.evaluate(plan.evidence([{"s0": True}]))
    assert len(shelf) == 1


def test_names_and_shapes_are_checked():
    """A name that cannot be found gets the nearest; evidence of another shape is refused."""
    plan = plan_findings(Network((Node("seal", "failure-mode", 0.1),)), ["seal"], [])
    with pytest.raises(UnknownNameError, match="'seel' in the network; nearest: seal"):
        plan.evidence([{"seel": True}])
    with pytest.raises(WrongCallError, match="one row for each case and 1 columns"):
        plan.evaluate(np.zeros((2, 3), np.int8))
