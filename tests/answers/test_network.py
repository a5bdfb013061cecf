"""The exported network, read again by others."""

import itertools
import json
import math
import random

import numpy as np
import pytest

from clampgraph.answers.diagnosing.diagnose import diagnose
from clampgraph.answers.diagnosing.diagnosis import DiagnoseRequest
from clampgraph.answers.network import network, network_bif
from diagnosis.inference.worlds import gum

UNITS = (("brannoch-30s", None), ("brannoch-40t", "gen-1"), ("brannoch-40t", "gen-2"))
EVIDENCE = {"symptom/slow-return": True, "symptom/slow-release": True, "symptom/no-release": False}


def exported(library, name, generation):
    """Return the exported nodes as a stranger gets them: parsed from JSON."""
    return json.loads(network(library, name, generation).model_dump_json())["nodes"]


@pytest.mark.parametrize(("name", "generation"), UNITS)
def test_shape(library, name, generation):
    """Every node has a kind, a prior or a leak, and parents that stand before it; gates are `or` and `and`."""
    seen = set()
    for node in exported(library, name, generation):
        assert node["kind"] in {"condition", "failure-mode", "deviation", "symptom", "check"}
        assert ("prior" in node) != ("leak" in node)
        assert ("prior" in node) == (not node["parents"])
        assert node["gate"] in ("or", "and")
        assert ("strength" in node) == (node["gate"] == "and")
        assert {parent["id"] for parent in node["parents"]} <= seen
        kind = {"failure-mode": "failure_mode"}.get(node["kind"], node["kind"])
        assert kind == "deviation" or node[kind]
        seen.add(node["id"])


def drawn(nodes, rng, count):
    """Sample worlds straight from what the export says of its gates."""
    on = {}
    for node in nodes:
        parents = [(on[p["id"]], p["strength"]) for p in node["parents"]]
        base = node.get("prior", node.get("leak"))
        if node["gate"] == "and":
            every = np.logical_and.reduce([state for state, _ in parents])
            chance = np.where(every, node["strength"], base)
        else:
            off = np.full(count, 1.0 - base)
            for state, strength in parents:
                off *= np.where(state, 1.0 - strength, 1.0)
            chance = 1.0 - off
        on[node["id"]] = rng.random(count) < chance
    return on


@pytest.mark.parametrize(("name", "generation"), UNITS[:2])
def test_sampled_worlds_have_the_priors(library, name, generation):
    """Two hundred thousand worlds, sampled from the JSON alone, show every failure mode as often as diagnose says."""
    count = 200_000
    on = drawn(exported(library, name, generation), np.random.default_rng(11), count)
    answer = diagnose(library, DiagnoseRequest(assembly=name, generation=generation, all=True))
    for cause in answer.causes:
        error = np.sqrt(cause.prior * (1.0 - cause.prior) / count)
        assert on[cause.node].mean() == pytest.approx(cause.prior, abs=5.0 * error + 1e-9)


def worked(nodes):
    """Build the exported JSON network in pyAgrum, node by node, from its own words."""
    net = gum.BayesNet()
    for node in nodes:
        variable = gum.LabelizedVariable(node["id"], node["id"], 2)
        if node["parents"] and node["gate"] == "or":
            net.addNoisyORNet(variable, node["leak"])
        else:
            net.add(variable)
    for node in nodes:
        for parent in node["parents"]:
            if node["gate"] == "or":
                net.addWeightedArc(parent["id"], node["id"], parent["strength"])
            else:
                net.addArc(parent["id"], node["id"])
        if not node["parents"]:
            net.cpt(node["id"]).fillWith([1.0 - node["prior"], node["prior"]])
        elif node["gate"] == "and":
            net.cpt(node["id"]).fillWith([1.0 - node["leak"], node["leak"]] * 2 ** len(node["parents"]))
            every = {parent["id"]: 1 for parent in node["parents"]}
            net.cpt(node["id"])[every] = [1.0 - node["strength"], node["strength"]]
    return net


def judged(net, names, targets):
    """Return pyAgrum's posteriors of the targets; `names` gives its own variable for a node."""
    engine = gum.LazyPropagation(net)
    engine.eraseAllTargets()
    for node in targets:
        engine.addTarget(names[node])
    engine.setEvidence({names[node]: int(state) for node, state in EVIDENCE.items()})
    return {node: engine.posterior(names[node])[1] for node in targets}


@pytest.mark.parametrize(("name", "generation"), UNITS)
def test_bif_and_json_and_diagnose_agree(library, tmp_path, name, generation):
    """PyAgrum's posteriors on the JSON network equal those of diagnose to 1e-9.

    Its reader of BIF files keeps only single precision, so there the bound is 1e-6;
    that the file itself keeps every digit is the next test's business.
    """
    nodes = exported(library, name, generation)
    ids = [node["id"] for node in nodes]
    question = {"seen": ["slow-return", "slow-release"], "unseen": ["no-release"], "all": True}
    unit = {"assembly": name, "generation": generation}
    answer = diagnose(library, DiagnoseRequest.model_validate(unit | question))
    told = {cause.node: cause.probability for cause in answer.causes}
    assert set(told) <= set(ids)
    assert judged(worked(nodes), dict(zip(ids, ids, strict=True)), told) == pytest.approx(told, abs=1e-9)
    file = tmp_path / "network.bif"
    file.write_text(network_bif(library, name, generation), "utf-8")
    read = gum.loadBN(str(file))
    assert len(read.names()) == len(ids)
    names = dict(zip(ids, declared(file.read_text("utf-8")), strict=True))
    assert judged(read, names, told) == pytest.approx(told, abs=1e-6)


def test_bif_keeps_every_digit(library):
    """Each row of each BIF table equals the gate of the JSON network to 1e-15, whichever parents are on."""
    nodes = exported(library, "brannoch-30s", None)
    blocks = network_bif(library, "brannoch-30s").split("probability ( ")[1:]
    for node, block in zip(nodes, blocks, strict=True):
        rows = [line.strip(" ;") for line in block.splitlines()[1:] if ", " in line]
        assert len(rows) == 2 ** len(node["parents"])
        for row, states in zip(rows, itertools.product((False, True), repeat=len(node["parents"])), strict=True):
            words, _, figures = row.removeprefix("table").removeprefix("(").rpartition(")")
            assert [word.strip() == "on" for word in words.split(",") if word] == list(states)
            off, on = map(float, figures.split(","))
            assert off + on == pytest.approx(1.0, abs=1e-15)
            assert on == pytest.approx(chance_of(node, states), abs=1e-15)


def chance_of(node, states):
    base = node.get("prior", node.get("leak"))
    if node["gate"] == "and":
        return node["strength"] if all(states) else base
    silent = [1.0 - p["strength"] for p, state in zip(node["parents"], states, strict=True) if state]
    return 1.0 - (1.0 - base) * math.prod(silent)


def declared(text):
    """Return the variables of a BIF text in the order of their declaration."""
    return [line.split()[1] for line in text.splitlines() if line.startswith("variable ")]


def test_bif_keeps_the_full_ids(library):
    """Each variable's name is plain, and a comment tells the node's id."""
    text = network_bif(library, "brannoch-30s")
    names = declared(text)
    assert len(set(names)) == len(names)
    assert all(name.replace("_", "").isalnum() for name in names)
    ids = [line.split(" is ")[1] for line in text.splitlines() if line.startswith("// ")]
    assert ids == [node.id for node in network(library, "brannoch-30s").nodes]
    rng = random.Random(3)  # noqa: S311  # reproducible, not secret
    for number in rng.sample(range(len(ids)), 20):
        assert names[number] == "".join(c if c.isalnum() else "_" for c in ids[number]) or names[number].endswith(
            f"_{number}"
        )
