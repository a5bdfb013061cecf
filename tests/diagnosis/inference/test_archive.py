"""Circuits kept on disk give the same bits as those just compiled, and are never trusted when not their own."""

from dataclasses import replace

import numpy as np
import pytest

from clampgraph import kept
from clampgraph.diagnosis.inference import Shelf, plan_findings
from clampgraph.diagnosis.inference import findings as room
from clampgraph.diagnosis.inference.archive import digest
from clampgraph.diagnosis.network import Link, Network, Node

FOUND = {"symptom/hiss-at-rest": True, "symptom/no-release": True, "symptom/slow-release": False}


@pytest.fixture
def place(tmp_path, monkeypatch):
    """Return an empty folder for kept files."""
    monkeypatch.setenv(kept.SETTING, str(tmp_path / "kept"))
    return tmp_path / "kept"


@pytest.fixture(scope="module")
def network(library):
    """Return the network of a unit."""
    return library.network(library.assembly("brannoch-30s"))


def planned(network):
    """Prepare a network anew, with nothing in memory."""
    causes = [node.id for node in network if node.kind in ("condition", "failure-mode")]
    return plan_findings(network, causes, [n.id for n in network if n.kind in ("symptom", "check")], Shelf())


def solved(network):
    """Solve one question on a shelf of its own."""
    plan = planned(network)
    return plan.evaluate(plan.evidence([FOUND, {}]))


def never(*_):
    """Stand in for the compiler where nothing may be compiled."""
    raise AssertionError


def test_the_second_process_compiles_nothing(place, network, monkeypatch):
    """What one process compiled, the next takes from disk, to the same bits."""
    first = solved(network)
    assert list(place.glob("*.circuit"))
    monkeypatch.setattr(room, "compile_leaves", never)
    second = solved(network)
    assert first.posterior.tobytes() == second.posterior.tobytes()
    assert first.probability.tobytes() == second.probability.tobytes()


def test_damage_is_never_trusted(place, network, monkeypatch):
    """A file that was cut short or changed is compiled anew, with the same answer."""
    first = solved(network)
    for number, file in enumerate(sorted(place.glob("*.circuit"))):
        content = bytearray(file.read_bytes())
        if number % 2:
            del content[-1:]
        else:
            content[len(content) // 2] ^= 1
        file.write_bytes(content)
    with monkeypatch.context() as patch:
        patch.setattr(room, "compile_leaves", never)
        with pytest.raises(AssertionError):
            solved(network)
    assert np.array_equal(first.posterior, solved(network).posterior)


def test_a_file_of_another_network_is_not_taken(place, network):
    """A circuit that was renamed to that of a network with another strength does not pass for it."""
    first, plan = solved(network), planned(network)
    node = next(n for n in network if n.links and n.gate == "or" and 0.0 < n.links[0].strength < 0.9)
    links = (replace(node.links[0], strength=0.95), *node.links[1:])
    other = Network(tuple(replace(n, links=links) if n is node else n for n in network))
    assert planned(other).digest != plan.digest
    for file in list(place.glob("*.circuit")):
        file.rename(file.with_name(file.name.replace(plan.digest, planned(other).digest)))
    found = solved(other)
    assert not np.array_equal(found.posterior, first.posterior)
    again = solved(other)
    assert np.array_equal(found.posterior, again.posterior)


def test_nothing_is_kept_where_that_is_off(place, network, monkeypatch):
    """Without folders for kept files, circuits are compiled as if there were no archive."""
    monkeypatch.setenv(kept.SETTING, "off")
    assert solved(network).possible.all()
    assert not place.exists()


def test_equal_networks_share_circuits():
    """Two plans of one content have one digest; another strength, leak or question has another."""
    nodes = [Node("m", "failure-mode", 0.1), Node("s", "symptom", 0.2, (Link("m", 0.5, "claim one"),))]
    told = digest(Network(tuple(nodes), "one place"), ["m"], ["s"])
    assert told == digest(Network((nodes[0], replace(nodes[1], links=(Link("m", 0.5, "claim two"),)))), ["m"], ["s"])
    assert told != digest(Network((nodes[0], replace(nodes[1], leak=0.3))), ["m"], ["s"])
    assert told != digest(Network(tuple(nodes)), ["m", "s"], [])


def test_a_folder_holds_so_much_and_no_more(tmp_path):
    """The files not used for longest give way when there are too many, or too many bytes."""
    kind = kept.Kind("form", ".thing", most_files=3, most_bytes=1000)
    for number in range(5):
        kind.write((tmp_path,), f"n{number}", b"x")
    assert len(list(tmp_path.glob("*.thing"))) == 3
    kind.write((tmp_path,), "large", b"x" * 900)
    assert [file.stem for file in tmp_path.glob("*.thing")] == ["large"]
    assert kind.read((tmp_path,), "large") == b"x" * 900
