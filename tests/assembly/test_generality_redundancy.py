"""A quantity that is its own shortfall, such as venting, keeps its meaning with fewer gates."""

import itertools

from clampgraph.assembly.deviations import Deviation
from clampgraph.assembly.knowledge import Quantity
from clampgraph.assembly.redundancy import gates_at

PLACE = ("reclamp", "barrel", "A", "vent")
VENT = Quantity("vent", "venting", redundant=True, shortfall="vent")
WORDS = ("no", "less", "late")
FEEDS = [("a", "2"), ("b", "2")]


def arriving(word, feed):
    return Deviation("reclamp", feed, "2", "vent", word)


def on(gates, given):
    """Return every node that is on, gates evaluated until nothing changes."""
    state = set(given)
    for _ in gates:
        for gate in gates:
            if (all if gate.kind == "and" else any)(cause in state for cause in gate.causes):
                state.add(gate.id)
    return state


def test_own_shortfall_says_what_its_sentence_says():
    """Any failing way out leaves less venting; none is left only when every way out has none."""
    arrivals = [arriving(word, feed) for feed, _ in FEEDS for word in WORDS]
    gates = list(gates_at(PLACE, FEEDS, arrivals, VENT))
    for words in itertools.product((None, *WORDS), repeat=2):
        state = on(gates, {arriving(w, f[0]).id for w, f in zip(words, FEEDS, strict=True) if w})
        assert ("reclamp/barrel.A/vent/less" in state) == any(words), words
        assert ("reclamp/barrel.A/vent/no" in state) == (words == ("no", "no")), words
        assert ("reclamp/barrel.A/vent/late" in state) == (words == ("late", "late")), words


def test_own_shortfall_has_one_gate():
    """The node for 'less' is fed by one plain gate of all arrivals, for the other one would say nothing new."""
    gates = list(gates_at(PLACE, FEEDS, [arriving("less", "a"), arriving("less", "b")], VENT))
    assert [(g.id, g.kind, len(g.causes)) for g in gates] == [("reclamp/barrel.A/vent/less", "or", 2)]
