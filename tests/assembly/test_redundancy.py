"""Gates where several feeds meet, against the sentence that defines them."""

import itertools

import pytest

from clampgraph.assembly.deviations import Deviation
from clampgraph.assembly.knowledge import Quantity
from clampgraph.assembly.redundancy import gates_at

PLACE = ("release", "barrel", "A", "pressure")
PRESSURE = Quantity("pressure", "pressure", redundant=True, shortfall="flow")
WORDS = ("no", "less", "late")


def arriving(word, feed):
    return Deviation("release", feed, "2", "pressure", word)


def evaluated(gates, on):
    """Return every node that is on: the arrivals given, and the gates they open, in order."""
    state = set(on)
    for _ in gates:
        for gate in gates:
            test = all if gate.kind == "and" else any
            if test(cause in state for cause in gate.causes):
                state.add(gate.id)
    return state


def test_no_arrivals():
    """A port whose feeds cannot fail has no gate."""
    assert list(gates_at(PLACE, [("a", "2"), ("b", "2")], [], PRESSURE)) == []


def test_a_feed_that_cannot_fail():
    """While one feed cannot fail, the port can run short, but never lacks the quantity."""
    gates = list(gates_at(PLACE, [("a", "2"), ("b", "2")], [arriving("no", "a")], PRESSURE))
    assert [gate.id for gate in gates] == ["release/barrel.A/flow/less"]


def test_no_shortfall():
    """A quantity without a shortfall gets none."""
    bare = Quantity("pressure", "pressure", redundant=True)
    assert list(gates_at(PLACE, [("a", "2"), ("b", "2")], [arriving("no", "a")], bare)) == []


@pytest.mark.parametrize("count", [2, 3])
def test_gates_say_what_their_sentence_says(count):
    """For every combination: a word holds when every feed deviates so; any failing feed leaves the port short."""
    feeds = [(f"feed{i}", "2") for i in range(count)]
    arrivals = [arriving(word, name) for name, _ in feeds for word in WORDS]
    gates = list(gates_at(PLACE, feeds, arrivals, PRESSURE))
    one_each = itertools.product((None, *WORDS), repeat=count)
    for words in one_each:
        on = {arriving(word, feed[0]).id for word, feed in zip(words, feeds, strict=True) if word}
        state = evaluated(gates, on)
        for word in WORDS:
            expected = all(found == word for found in words)
            assert (f"release/barrel.A/pressure/{word}" in state) == expected, (words, word)
        assert ("release/barrel.A/flow/less" in state) == any(words), words
