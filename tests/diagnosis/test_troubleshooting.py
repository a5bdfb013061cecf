"""The order of repairs and the worth of checks, against lists of everything."""

import itertools
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from clampgraph.diagnosis.inference import compile_network
from clampgraph.diagnosis.network import Link, Network, Node
from clampgraph.diagnosis.troubleshooting import (
    LOCKOUT_MINUTES,
    CheckOption,
    CheckWorth,
    Repair,
    expected_repair_cost,
    plan_of_work,
    repair_order,
    worth_of_checks,
)
from diagnosis.inference.worlds import worlds

chances = st.floats(0.01, 0.99)
costs = st.floats(0.5, 500.0)


def cost_of(order, shares, minutes):
    """Return the expected cost of repairing in this order until the one fault is gone."""
    spent, expected = 0.0, 0.0
    for index in order:
        spent += minutes[index]
        expected += shares[index] * spent
    return expected


def cheapest(weights, minutes):
    """Return the least expected cost over all orders."""
    total = sum(weights)
    shares = [weight / total for weight in weights]
    return min(cost_of(order, shares, minutes) for order in itertools.permutations(range(len(shares))))


def test_no_weight():
    """Where no fault is left, nothing is spent."""
    assert expected_repair_cost(np.zeros(3), np.ones(3)) == 0.0
    assert expected_repair_cost(np.zeros((2, 3)), np.ones(3)).tolist() == [0.0, 0.0]


def test_one_repair():
    """A single repair costs what it costs, whatever its weight."""
    assert expected_repair_cost(np.array([0.001]), np.array([42.0])) == pytest.approx(42.0, rel=1e-14)


def test_the_four_repairs_of_24_orders():
    """Regression value: p = .45 .25 .20 .10 and c = 30 5 10 2 cost 26.5, 35.95 by probability, 37.45 at worst."""
    p, c = [0.45, 0.25, 0.20, 0.10], [30.0, 5.0, 10.0, 2.0]
    every = [cost_of(order, p, c) for order in itertools.permutations(range(4))]
    assert len(every) == 24
    assert min(every) == pytest.approx(26.5, abs=1e-12)
    assert max(every) == pytest.approx(37.45, abs=1e-12)
    assert cost_of([0, 1, 2, 3], p, c) == pytest.approx(35.95, abs=1e-12)
    assert repair_order(np.array(p), np.array(c)).tolist() == [1, 3, 2, 0]
    assert expected_repair_cost(np.array(p), np.array(c)) == pytest.approx(26.5, abs=1e-12)


@settings(max_examples=60)
@given(st.lists(st.tuples(st.floats(0.0, 1.0), costs), min_size=1, max_size=7).filter(lambda a: sum(p for p, _ in a)))
def test_probability_over_cost_is_the_best_of_all_orders(actions):
    """No permutation of up to seven independent actions is expected to cost less."""
    p, c = (np.array(column) for column in zip(*actions, strict=True))
    least = cheapest(p.tolist(), c.tolist())
    assert expected_repair_cost(p, c) == pytest.approx(least, rel=1e-9)
    shares = (p / p.sum()).tolist()
    assert cost_of(repair_order(p, c), shares, c.tolist()) == pytest.approx(least, rel=1e-9)


@settings(max_examples=40)
@given(st.lists(st.lists(st.floats(0.01, 1.0), min_size=3, max_size=3), min_size=1, max_size=4), st.data())
def test_a_batch_is_its_rows(rows, data):
    """Weights in several rows give each row's own cost; scaling a row changes nothing."""
    c = np.array(data.draw(st.lists(costs, min_size=3, max_size=3)))
    batch = expected_repair_cost(np.array(rows), c)
    assert batch.tolist() == pytest.approx([float(expected_repair_cost(np.array(row), c)) for row in rows])
    assert expected_repair_cost(7.0 * np.array(rows), c) == pytest.approx(batch)


@given(p=chances, first=costs, second=costs, repair=st.tuples(costs, costs))
def test_two_causes_as_in_a_textbook(p, first, second, repair):
    """With two causes, check 1 first is as cheap if and only if C1/p <= C2/(1-p); repair costs cancel.

    The case is a problem of Ross, A First Course in Probability; the condition is derived here by cost.
    """
    one_first = first + p * repair[0] + (1.0 - p) * (second + repair[1])
    two_first = second + (1.0 - p) * repair[1] + p * (first + repair[0])
    gap = first / p - second / (1.0 - p)
    order = repair_order(np.array([p, 1.0 - p]), np.array([first, second])).tolist()
    if abs(gap) > 1e-6 * (first + second):
        assert (one_first < two_first) == (gap < 0.0)
        assert (order == [0, 1]) == (gap < 0.0)


@st.composite
def benches(draw):
    """Draw failure modes, a symptom and two checks of one and two outcomes, all noisy-ORs."""
    modes = [Node(f"m{i}", "failure-mode", draw(chances)) for i in range(draw(st.integers(1, 4)))]
    names = [mode.id for mode in modes]

    def over(name, kind):
        parents = draw(st.lists(st.sampled_from(names), min_size=1, max_size=3, unique=True))
        return Node(name, kind, draw(chances), tuple(Link(parent, draw(chances)) for parent in parents))

    nodes = [over("s", "symptom"), over("one/low", "check"), over("two/low", "check"), over("two/high", "check")]
    sizes = draw(st.sampled_from([(len(names),), (1,) * len(names)]))
    cut = list(itertools.accumulate(sizes, initial=0))
    repairs = [Repair(f"r{i}", tuple(names[a:b]), draw(costs)) for i, (a, b) in enumerate(itertools.pairwise(cut))]
    return Network((*modes, *nodes)), repairs


def entropy(chance):
    return -sum(x * math.log2(x) for x in (chance, 1.0 - chance) if x > 0.0)


def listed(network, evidence, option, repairs):
    """Return probabilities, gain and saving of a check by the list of all worlds; its outcomes exclude each other."""
    parts = dict.fromkeys((*option.nodes, "normal"), 0.0)
    weights = {name: {m: 0.0 for r in repairs for m in r.modes} for name in parts}
    for world, chance in worlds(network):
        shown = [name for name, node in option.nodes.items() if world[node]]
        if len(shown) > 1 or not all(world[name] == state for name, state in evidence.items()):
            continue
        outcome = shown[0] if shown else "normal"
        parts[outcome] += chance
        for mode in weights[outcome]:
            weights[outcome][mode] += chance * world[mode]
    total = sum(parts.values())
    before = {m: sum(w[m] for w in weights.values()) / total for m in next(iter(weights.values()))}
    after = {name: {m: w / parts[name] for m, w in found.items()} for name, found in weights.items()}
    share = {name: part / total for name, part in parts.items()}
    bits = sum(map(entropy, before.values()))
    bits -= sum(share[name] * sum(map(entropy, found.values())) for name, found in after.items())
    minutes = [repair.minutes for repair in repairs]
    merged = [[sum(belief[m] for m in r.modes) for r in repairs] for belief in (before, *after.values())]
    cost, *costs_after = (cheapest(weight, minutes) for weight in merged)
    return share, bits, cost - sum(share[n] * c for n, c in zip(after, costs_after, strict=True)), after


OPTIONS = (
    CheckOption("one", 5.0, lockout=False, nodes={"low": "one/low"}),
    CheckOption("two", 15.0, lockout=True, nodes={"low": "two/low", "high": "two/high"}),
)


@settings(max_examples=50)
@given(benches(), st.sampled_from([{}, {"s": True}, {"s": False}]))
def test_worth_of_a_check_is_its_expectation(bench, evidence):
    """Gain in bits and saving in minutes equal the expectation over all worlds, for one and for two outcomes."""
    network, repairs = bench
    found = worth_of_checks(compile_network(network), evidence, OPTIONS, repairs)
    assert [worth.option for worth in found] == list(OPTIONS)
    for worth, option in zip(found, OPTIONS, strict=True):
        share, bits, saving, after = listed(network, evidence, option, repairs)
        assert dict(worth.outcomes) == pytest.approx(share, abs=1e-12)
        assert worth.gain == pytest.approx(bits, abs=1e-9)
        assert worth.gain >= 0.0
        assert worth.saving == pytest.approx(saving, abs=1e-7)
        assert worth.worthwhile == (worth.saving > option.cost)
        for outcome, (mode, chance) in worth.leading.items():
            assert chance == pytest.approx(max(after[outcome].values()), abs=1e-12)
            assert after[outcome][mode] == pytest.approx(chance, abs=1e-12)


def test_lockout_counts_against_a_check():
    """A check behind lock-out costs its minutes and those of locking out."""
    assert OPTIONS[0].cost == 5.0
    assert OPTIONS[1].cost == 15.0 + LOCKOUT_MINUTES
    worth = CheckWorth(OPTIONS[1], {}, {}, gain=0.5, saving=20.0)
    assert worth.gain_per_minute == pytest.approx(0.5 / 25.0)
    assert not worth.worthwhile


def test_no_repairs():
    """Where nothing can be repaired, no check is worth anything, and there is no plan."""
    network = Network((Node("m", "failure-mode", 0.2), Node("one/low", "check", 0.1, (Link("m", 0.9),))))
    (worth,) = worth_of_checks(compile_network(network), {}, OPTIONS[:1], [])
    assert (worth.gain, worth.saving, worth.worthwhile) == (0.0, 0.0, False)
    assert sum(worth.outcomes.values()) == pytest.approx(1.0)
    assert plan_of_work([worth], {}, []) == ()
    assert worth_of_checks(compile_network(network), {}, [], [Repair("r", ("m",), 5.0)]) == ()


def test_a_useless_check_gains_nothing():
    """A check that depends on no fault neither informs nor saves."""
    network = Network((Node("m", "failure-mode", 0.2), Node("one/low", "check", 0.1)))
    (worth,) = worth_of_checks(compile_network(network), {}, OPTIONS[:1], [Repair("r", ("m",), 5.0)])
    assert worth.gain == pytest.approx(0.0, abs=1e-12)
    assert worth.saving == pytest.approx(0.0, abs=1e-9)


def test_plan():
    """Worthwhile checks come first, the most profitable leading; then repairs by probability over cost; then proof."""
    worth = [
        CheckWorth(CheckOption("dear", 30.0, lockout=False, nodes={}), {}, {}, 0.9, 31.0),
        CheckWorth(CheckOption("cheap", 2.0, lockout=False, nodes={}), {}, {}, 0.2, 9.0),
        CheckWorth(CheckOption("idle", 2.0, lockout=False, nodes={}), {}, {}, 0.2, 1.0),
    ]
    repairs = [Repair("slow", ("a",), 60.0), Repair("quick", ("b", "c"), 5.0)]
    steps = plan_of_work(worth, {"a": 0.5, "b": 0.1, "c": 0.2}, repairs)
    assert [(s.action, s.target) for s in steps] == [
        ("observe", "cheap"), ("observe", "dear"), ("repair", "quick"), ("repair", "slow"), ("verify", "clamp-unit"),
    ]  # fmt: skip
    assert steps[2].probability == pytest.approx(0.3)


def test_a_plan_ends_when_the_likely_repairs_are_covered():
    """Repairs beyond nine tenths of the probability, and beyond the fifth, are left out."""
    repairs = [Repair(f"r{i}", (f"m{i}",), 10.0) for i in range(8)]
    even = plan_of_work([], {f"m{i}": 0.1 for i in range(8)}, repairs)
    assert [s.action for s in even] == ["repair"] * 5 + ["verify"]
    sure = plan_of_work([], {f"m{i}": 0.95 if i == 3 else 0.001 for i in range(8)}, repairs)
    assert [s.target for s in sure] == ["r3", "clamp-unit"]
