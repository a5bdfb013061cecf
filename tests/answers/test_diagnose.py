"""The answer to a diagnosis, against the network it rests on."""

import math
from concurrent.futures import ThreadPoolExecutor

import pytest

from clampgraph.answers import library as keeping
from clampgraph.answers.diagnosing.diagnose import diagnose
from clampgraph.answers.diagnosing.diagnosis import DiagnoseRequest
from clampgraph.answers.library import Library
from clampgraph.diagnosis.inference import compile_network, posteriors
from clampgraph.diagnosis.relevance import causes_of

DEMOS = ("brannoch-30s", "brannoch-40t")
CASES = [
    ("brannoch-30s", {"seen": ["slow-return"], "unseen": ["bang-at-reclamp"]}),
    ("brannoch-40t", {"seen": ["bang-at-release"]}),
    ("brannoch-40t", {"seen": ["slow-release", "slow-return"], "readings": {"drain-filter-bowl": "water-or-oil"}}),
    ("brannoch-40t", {"seen": ["hiss-while-held"], "ages": {"piston-seal": 15.0}, "conditions": {"wet-air": True}}),
]


def ask(library, assembly, **found):
    return diagnose(library, DiagnoseRequest.model_validate({"assembly": assembly, **found}))


@pytest.mark.parametrize("name", DEMOS)
def test_nothing_found(library, name):
    """Without findings every cause keeps its prior, no path is told, nothing is unexplained, nothing is planned."""
    answer = ask(library, name)
    assert len(answer.causes) == 12
    assert all(c.probability == c.prior and not c.paths and not c.explains for c in answer.causes)
    assert (answer.unexplained, answer.explanations, answer.plan) == (0.0, (), ())
    assert not any(c.raised for c in answer.root_conditions)
    assert answer.cautions


@pytest.mark.parametrize("name", DEMOS)
def test_all_lists_every_failure_mode(library, name):
    """With `all`, the causes are the failure modes of the network, no more and no fewer."""
    answer = ask(library, name, seen=["slow-return"], all=True)
    modes = {node.id for node in library.network(library.assembly(name)).of_kind("failure-mode")}
    assert {c.node for c in answer.causes} == modes
    assert len(answer.causes) == len(modes)
    dozen = ask(library, name, seen=["slow-return"])
    upstream = [c for c in answer.causes if c.explains]
    assert dozen.causes == tuple(upstream[:12])


@pytest.mark.parametrize(("name", "found"), CASES)
def test_probabilities_are_those_of_the_network(library, name, found):
    """Every probability and prior equals the posterior of the whole network to 1e-12."""
    answer = ask(library, name, all=True, **found)
    network = library.network(library.assembly(name), found.get("ages"))
    evidence = {f"symptom/{s}": True for s in found["seen"]}
    evidence |= {f"symptom/{s}": False for s in found.get("unseen", ())}
    for check, outcome in found.get("readings", {}).items():
        evidence |= {n.id: n.id.endswith(f"/{outcome}") for n in network.of_kind("check") if n.check == check}
    evidence |= {f"condition/{c}": state for c, state in found.get("conditions", {}).items()}
    plan = compile_network(network)
    after, before = posteriors(plan, evidence), posteriors(plan, {})
    findings = [n for n, on in evidence.items() if on and not n.startswith("condition/")]
    for cause in answer.causes:
        assert cause.probability == pytest.approx(after[cause.node], abs=1e-12)
        assert cause.prior == pytest.approx(before[cause.node], abs=1e-12)
        assert cause.explains == (cause.node in causes_of(network, findings))
    for condition in answer.root_conditions:
        assert condition.probability == pytest.approx(after[f"condition/{condition.id}"], abs=1e-12)
    ranked = [c.probability for c in answer.causes]
    assert ranked == sorted(ranked, reverse=True)


@pytest.mark.parametrize(("name", "found"), CASES)
def test_paths_run_from_the_cause_to_the_finding(library, name, found):
    """A path starts at its cause, ends at its finding, goes port by port, and every claim on it has a source."""
    answer = ask(library, name, **found)
    ends = {*found["seen"], *(f"{c}={o}" for c, o in found.get("readings", {}).items())}
    assembly = library.assembly(name)
    network = library.network(assembly)
    for cause in answer.causes:
        assert cause.paths
        assert {path.symptom for path in cause.paths} <= ends
        for path in cause.paths:
            first, *rest = path.steps
            assert (first.node, first.position, first.claim) == (cause.node, cause.position, None)
            last = network.by_id[path.steps[-1].node]
            assert path.symptom in (last.symptom, f"{last.check}={last.id.rpartition('/')[2]}")
            assert math.prod(step.strength for step in path.steps) == pytest.approx(path.strength, rel=1e-12)
            for step in rest:
                assert (step.claim is None) == (step.source is None)
            for step in rest[:-1]:
                if step.quantity is None:
                    continue
                assert step.port in assembly.positions[step.position].type.ports
                assert {step.position, step.port} <= set(step.text.replace(",", " ").replace(":", " ").split())


def test_every_claim_of_a_single_line_is_told(library):
    """Where no feeds meet, each step after the cause rests on a named claim."""
    answer = ask(library, "brannoch-30s", seen=["slow-return"])
    silencer = next(c for c in answer.causes if c.node == "silencer:clogged")
    steps = silencer.paths[0].steps
    assert [s.position for s in steps[:3]] == ["silencer", "silencer", "main-valve"]
    assert all(step.claim and step.source for step in steps[1:])


@pytest.mark.parametrize(("name", "found"), CASES)
def test_next_checks_and_plan_agree(library, name, found):
    """Checks already made are not proposed; chances of outcomes add up; the plan ends in verification."""
    answer = ask(library, name, **found)
    assert not {c.check for c in answer.next_checks} & set(found.get("readings", {}))
    worthwhile = {c.check for c in answer.next_checks if c.worthwhile}
    for check in answer.next_checks:
        assert sum(o.probability for o in check.outcomes) == pytest.approx(1.0, abs=1e-12)
        assert check.outcomes[-1].outcome == "normal"
        assert check.gain >= 0.0
    rates = [c.gain_per_minute for c in answer.next_checks]
    assert rates == sorted(rates, reverse=True)
    assert [s.step for s in answer.plan] == list(range(1, len(answer.plan) + 1))
    assert answer.plan[-1].action == "verify"
    assert {s.target for s in answer.plan if s.action == "observe"} <= worthwhile
    remedies = {f"{c.position}: {r.label}" for c in ask(library, name, all=True, **found).causes for r in c.remedies}
    assert {s.target for s in answer.plan if s.action == "repair"} <= remedies


def test_an_odd_finding_is_admitted(library):
    """Where only leaks explain what was seen, nearly all of it stays unexplained, and says so per finding."""
    ages = dict.fromkeys(library.assembly("brannoch-30s").positions, 0.0)
    answer = ask(library, "brannoch-30s", seen=["push-bolt-loose"], ages=ages)
    assert answer.unexplained == pytest.approx(1.0, abs=1e-12)
    assert [u.finding for u in answer.unexplained_findings] == ["push-bolt-loose"]


def test_many_threads_with_few_kept_plans(monkeypatch):
    """Questions asked at once get the answers they get alone, even while compiled plans are dropped."""
    monkeypatch.setattr(keeping, "PLANS_KEPT", 1)
    library = Library.open()
    questions = [{"seen": [s]} for s in ("slow-return", "no-release", "hiss-at-rest", "slow-release")]
    alone = [ask(library, "brannoch-30s", **q).body() for q in questions]
    with ThreadPoolExecutor(4) as pool:
        together = list(pool.map(lambda q: ask(library, "brannoch-30s", **q).body(), questions * 3))
    assert together == alone * 3


def test_no_blank_node_in_any_answer(library):
    """Whatever an answer names can be named again: no label of a blank node leaves the graph."""
    blank = {q.subject.value for q in library.graph.store if type(q.subject).__name__ == "BlankNode"}
    assert blank
    for name in DEMOS:
        text = ask(library, name, seen=["slow-return"], all=True).model_dump_json()
        assert "_:" not in text
        assert not [label for label in blank if label in text]


def test_dear_findings_get_a_circuit_of_their_own_with_the_same_explanations(library, monkeypatch):
    """Which circuit proves the joint explanations changes none of them."""
    question = DiagnoseRequest(assembly="brannoch-40t", seen=("bang-at-release", "slow-release", "hiss-at-rest"))
    told = []
    for dear in (0, 2**62):
        monkeypatch.setattr("clampgraph.answers.diagnosing.study.DEAR", dear)
        told.append(diagnose(library, question).explanations)
    own, shared = told
    assert [one.faults for one in own] == [one.faults for one in shared]
    assert [one.probability for one in own] == pytest.approx([one.probability for one in shared], abs=1e-12)
    assert len(own) == 5
