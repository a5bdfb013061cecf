"""Loops in machine code: the same bits as array calls, and loaded only when they pay."""

import subprocess
import sys

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from clampgraph.diagnosis.inference import compile_network, evaluation, plan_findings
from clampgraph.diagnosis.inference.kernels import Meter
from clampgraph.diagnosis.network import Link, Network, Node
from diagnosis.inference.worlds import findings_of, networks

AT_ONCE, NEVER = 0, 2**62


def both_ways(monkeypatch, question):
    """Ask twice: with array calls only, and with the loops only."""
    answers = []
    for patience in (NEVER, AT_ONCE):
        monkeypatch.setattr(evaluation, "_METER", Meter(patience))
        answers.append(question())
    return answers


@given(st.data())
def test_loops_change_no_bit_of_small_networks(data):
    """Whatever the network, the evidence and the number of cases, every bit is the same."""
    network = data.draw(networks())
    plan = compile_network(network)
    rows = plan.evidence(data.draw(st.lists(findings_of(network), min_size=1, max_size=7)))
    with pytest.MonkeyPatch.context() as patch:
        plain, fast = both_ways(patch, lambda: plan.evaluate(rows))
    assert plain.probability.tobytes() == fast.probability.tobytes()
    assert plain.posterior.tobytes() == fast.posterior.tobytes()


@pytest.mark.parametrize("cases", [1, 2, 70])
@pytest.mark.parametrize("unit", ["brannoch-30s", "ulvedal-63h"])
def test_loops_change_no_bit_of_a_unit(library, monkeypatch, unit, cases):
    """A described unit, with two findings on and one off, gives the same bits for one case and for many."""
    network = library.network(library.assembly(unit))
    causes = [node.id for node in network if node.kind in ("condition", "failure-mode")]
    leaves = [node.id for node in network if node.kind == "symptom"]
    plan = plan_findings(network, causes, leaves)
    at = range(cases)
    rows = plan.evidence([{leaves[i % 9]: True, leaves[9 + i % 7]: True, leaves[-1 - i % 3]: False} for i in at])
    plain, fast = both_ways(monkeypatch, lambda: plan.evaluate(rows))
    assert plain.probability.min() > 0.0
    assert plain.probability.tobytes() == fast.probability.tobytes()
    assert plain.posterior.tobytes() == fast.posterior.tobytes()


def test_without_numba_they_never_pay(monkeypatch):
    """Where numba is not installed, work goes on without the loops."""
    monkeypatch.setattr("clampgraph.diagnosis.inference.kernels.find_spec", lambda _: None)
    assert not Meter(AT_ONCE).pays(NEVER)


def test_they_pay_after_the_patience_and_not_before():
    """Work is counted up; the loops take over when it has reached the patience."""
    meter = Meter(100)
    assert [meter.pays(40) for _ in range(4)] == [False, False, True, True]


def test_one_diagnosis_does_not_wait_for_numba():
    """A command that asks one question never loads it."""
    words = "diagnose", "brannoch-30s", "--seen", "hiss-at-rest", "--json"
    program = (
        "import sys\nfrom clampgraph.cli.app import main\n"
        f"sys.argv = ['clampgraph', *{words}]\n"
        "try:\n    main()\nfinally:\n    print('numba' in sys.modules, file=sys.stderr)"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert done.stderr.split() == ["False"]


def test_a_case_past_the_smallest_float_needs_no_loops(monkeypatch):
    """Extended precision, which the loops lack, is used with them as without."""
    network = compile_network(_chain_of_rare_findings())
    rows = network.evidence([{f"s{i}": True for i in range(40)}])
    plain, fast = both_ways(monkeypatch, lambda: network.evaluate(rows))
    assert np.array_equal(plain.posterior, fast.posterior)
    assert plain.posterior[0].max() > 0.0


def _chain_of_rare_findings():

    cause = Node("m", "failure-mode", 1e-3)
    return Network((cause, *(Node(f"s{i}", "symptom", 1e-9, (Link("m", 1e-8),)) for i in range(40))))
