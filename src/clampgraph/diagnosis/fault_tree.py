r"""Fault trees after IEC 61025, read from the same network as every diagnosis.

The tree
--------
A noisy-OR node is an OR gate, an AND node an AND gate, and a symptom the top event.
The basic events are the causes, each independent of all others:
a condition holds, or a failure mode begins *by itself*, with its prior probability.
A failure mode that a condition promotes is an OR gate over its own event and what promotes it,
so that a common cause stands in the tree as one event.

A link of strength s < 1 is an INHIBIT gate whose conditional event has probability s.
A leak, the chance that something shows without a cause in the model, is an undeveloped event.
Both are independent of the rest, so the tree with all its events says exactly what the network says.

What is computed
----------------
*Cut sets* list basic events only.
They are those of the structure function: every inhibiting condition holds and nothing leaks.
The probability of a cut set C of the top event T is

.. math:: P(C) = P(T \mid \text{exactly the events of } C \text{ happen, no leak at } T) \prod_{c \in C} p_c

which is the product of IEC 61025 where every link is certain.

*Top event*: P(T) exactly as the inference engine gives it, with and without its leak; no rare-event sum, no bound.

*Importance* of a basic event i, with Q = P(T), Q1 = P(T | i happens) and Q0 = P(T | i does not happen), leak included:

.. math:: I_B = Q_1 - Q_0,\quad FV = \frac{Q - Q_0}{Q},\quad RAW = \frac{Q_1}{Q},\quad RRW = \frac{Q}{Q_0}

This FV is the share of Q that goes when the event cannot happen.
The form over cut sets, P(some cut set with i happens) / Q, counts beside it what other cut sets cause at the same time;
for rare events both agree.

References
----------
All from memory.

- IEC 61025, Fault tree analysis; NUREG-0492, Fault Tree Handbook, 1981, chapters VII and VIII.
- Z. W. Birnbaum 1969 (I_B); NUREG/CR-3385, 1983 (RAW and RRW, and FV in this form).
"""

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace

from clampgraph.diagnosis.cut_sets import Branch, minimal_cut_sets
from clampgraph.diagnosis.inference import compile_network
from clampgraph.diagnosis.network import Link, Network, Node
from clampgraph.diagnosis.relevance import upstream
from clampgraph.errors import UnknownNameError

__all__ = ["CutSet", "FaultTree", "Importance", "basic_events", "fault_tree", "structural_probability"]

_CAUSES = ("condition", "failure-mode")
_EVEN = 0.5
"""Stand-in prior of an event that is certain or impossible, while what follows from it is computed."""


@dataclass(frozen=True, slots=True)
class CutSet:
    """A smallest set of causes; `alone` is P(top | exactly these), `probability` the same times their priors."""

    events: tuple[str, ...]
    alone: float
    probability: float


@dataclass(frozen=True, slots=True)
class Importance:
    """How much a cause matters for the top event; `rrw` is None where the top event cannot happen without it."""

    event: str
    prior: float
    birnbaum: float
    fussell_vesely: float
    raw: float
    rrw: float | None


@dataclass(frozen=True)
class FaultTree:
    """One top event: its probability with and without leak, its cut sets up to an order, and what matters most."""

    top: str
    order: int
    probability: float
    by_causes: float
    leak: float
    cut_sets: tuple[CutSet, ...]
    importance: tuple[Importance, ...]


def basic_events(network: Network) -> dict[str, float]:
    """Return the prior probability of every basic event, by the id of its condition or failure mode."""
    return {node.id: node.leak for node in network if _is_event(node)}


def fault_tree(network: Network, top: str, order: int = 2) -> FaultTree:
    """Read the fault tree of one top event.

    Parameters
    ----------
    network
        The derived network.
    top
        Id of a symptom, or of any other node.
    order
        The largest number of events in a cut set, at least 1.

    Raises
    ------
    UnknownNameError
        If the network has no such node.
    WrongCallError
        If the order is less than 1.
    """
    part = _below(network, top)
    tree, priors = _tree(part, top), basic_events(part)
    gates = _gates(tree)
    gate = _present(top) if _present(top) in gates else top
    sets = minimal_cut_sets(gates, [gate], order)[gate]
    leak = 0.0 if top in priors else part.by_id[top].leak
    happens = _Chances(tree, top, priors)
    flipped = [{event: state} for event in priors for state in (True, False)]
    nothing = dict.fromkeys(priors, False)
    exactly = [nothing | dict.fromkeys(events, True) for events in sets]
    by_causes, *rest = happens.given([{}, *flipped, *exactly])
    pairs = zip(priors, rest[: len(flipped) : 2], rest[1 : len(flipped) : 2], strict=True)
    total = _with_leak(by_causes, leak)
    importance = [
        _importance(event, priors[event], total, (_with_leak(on, leak), _with_leak(off, leak)))
        for event, on, off in pairs
    ]
    cuts = [
        CutSet(events, alone, alone * math.prod(priors[e] for e in events))
        for events, alone in zip(sets, rest[len(flipped) :], strict=True)
    ]
    return FaultTree(
        top, order, total, by_causes, leak,
        tuple(sorted(cuts, key=lambda c: (len(c.events), -c.probability, c.events))),
        tuple(sorted(importance, key=lambda i: (-i.fussell_vesely, -i.birnbaum, i.event))),
    )  # fmt: skip


def structural_probability(network: Network, top: str) -> float:
    """Return the probability of the structure function: every link holds, nothing leaks."""
    part = _below(network, top)
    certain = Network(tuple(_certain(node) for node in _tree(part, top)), part.place)
    return _Chances(certain, top, basic_events(part)).given([{}])[0]


def _gates(tree: Network) -> dict[str, Branch]:
    return {
        node.id: Branch(node.gate, tuple(link.parent for link in node.links if link.strength > 0.0))
        for node in tree
        if not _is_event(node)
    }


def _below(network: Network, top: str) -> Network:
    if top not in network.by_id:
        known = [node.id for node in network.of_kind("symptom")]
        raise UnknownNameError("top event", top, _near(top, known), f"in {network.place}")
    return upstream(network, [top])


def _near(name: str, known: Collection[str]) -> list[str]:
    from difflib import get_close_matches  # noqa: PLC0415  # only needed when a name is wrong

    return get_close_matches(name, list(known), 3, 0.3)


def _present(cause: str) -> str:
    """Name the gate over a promoted cause: it is there when it began by itself or was promoted."""
    return f"{cause}/present"


def _is_event(node: Node) -> bool:
    return node.kind in _CAUSES and node.gate == "or"


def _tree(part: Network, top: str) -> Network:
    """Split every promoted cause into its own event and an OR gate over it and what promotes it.

    A gate that only hands on its one input goes into the links behind it, which leaves about half of the nodes.
    """
    called: dict[str, Link] = {}
    nodes: list[Node] = []
    for node in part:
        links = _links(node, called)
        if not _is_event(node):
            if node.id != top and _hands_on(part, node, links):
                called[node.id] = replace(links[0], strength=links[0].strength * node.strength)
            else:
                nodes.append(replace(node, links=links, leak=0.0 if node.id == top else node.leak))
            continue
        nodes.append(replace(node, links=()))
        if links:
            called[node.id] = Link(_present(node.id), 1.0)
            present = Node(_present(node.id), "deviation", 0.0, (Link(node.id, 1.0), *links), position=node.position)
            nodes.append(present)
    return Network(tuple(nodes), part.place)


def _links(node: Node, called: Mapping[str, Link]) -> tuple[Link, ...]:
    """Return the links of a node, each from the gate that stands for its parent; two from one parent become one."""
    merged: dict[str, Link] = {}
    for link in node.links:
        by = called.get(link.parent, Link(link.parent, 1.0))
        strength = by.strength * link.strength
        if by.parent in merged and node.gate == "or":
            strength = 1.0 - (1.0 - merged[by.parent].strength) * (1.0 - strength)
        merged[by.parent] = replace(link, parent=by.parent, strength=strength)
    return tuple(merged.values())


def _hands_on(part: Network, node: Node, links: Sequence[Link]) -> bool:
    """Tell whether a gate with one input can go: always if that is certain, else if only one OR gate follows.

    An uncertain link must not be doubled: what follows it in two places happens in both of them or in neither.
    """
    if len(links) != 1 or node.leak > 0.0:
        return False
    if node.strength == links[0].strength == 1.0:
        return True
    after = part.children[node.id]
    return len(after) == 1 and part.by_id[after[0]].gate == "or"


def _certain(node: Node) -> Node:
    links = tuple(replace(link, strength=1.0) for link in node.links if link.strength > 0.0)
    return replace(node, links=links, strength=1.0, leak=node.leak if _is_event(node) else 0.0)


class _Chances:
    """P(top | some events happen and some do not), many at once; an event may be certain or impossible."""

    def __init__(self, tree: Network, top: str, priors: Mapping[str, float]) -> None:
        self.fixed = {event: p > _EVEN for event, p in priors.items() if p in (0.0, 1.0)}
        self.priors = {event: _EVEN if event in self.fixed else p for event, p in priors.items()}
        nodes = (replace(n, leak=self.priors[n.id]) if n.id in self.priors else n for n in tree)
        self.plan = compile_network(Network(tuple(nodes), tree.place))
        self.top = _present(top) if _present(top) in tree.by_id else top

    def given(self, cases: Sequence[Mapping[str, bool]]) -> list[float]:
        """Return the probability of the top event in each case."""
        known = [{**self.fixed, **case} for case in cases]
        chances = self.plan.likelihood(self.plan.evidence([{**k, self.top: _state(k, self.top)} for k in known]))
        return [
            float(chance) / self._chance_of(k) if _state(k, self.top) else 0.0
            for k, chance in zip(known, chances, strict=True)
        ]

    def _chance_of(self, known: Mapping[str, bool]) -> float:
        return math.prod(self.priors[event] if state else 1.0 - self.priors[event] for event, state in known.items())


def _state(known: Mapping[str, bool], top: str) -> bool:
    """Return True unless the top event is itself an event that is known not to happen."""
    return known.get(top, True)


def _with_leak(chance: float, leak: float) -> float:
    return leak + (1.0 - leak) * chance


def _importance(event: str, prior: float, total: float, given: tuple[float, float]) -> Importance:
    on, off = given
    return Importance(
        event, prior, on - off,
        (total - off) / total if total else 0.0,
        on / total if total else 0.0,
        total / off if off else None,
    )  # fmt: skip
