"""From influence to probability: priors from rates and exposure, strengths from claims.

A failure mode with rate λ [1/yr] whose item is t years old is present with probability ``1 - exp(-λ t)``.
A promoter that multiplies the rate by f acts as one more parent of strength ``1 - exp(-λ (f - 1) t)``:
the noisy-OR of both is then exactly ``1 - exp(-λ f t)``.

Where cases taught other rates, or other strengths of the last link to a symptom, these take the place of the pack's.
"""

import math
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import replace

from clampgraph.assembly import InfluenceGraph, Knowledge
from clampgraph.assembly.influence import Influence, InfluenceNode
from clampgraph.cases.learning import Learned
from clampgraph.diagnosis.network import Link, Network, Node

__all__ = ["network_of"]


def network_of(
    graph: InfluenceGraph,
    knowledge: Knowledge,
    ages: Mapping[str, float] | None = None,
    learned: Learned | None = None,
) -> Network:
    """Read an influence graph as a network of noisy-OR nodes and AND gates.

    Parameters
    ----------
    graph
        What leads to what in one assembly.
    knowledge
        Rates, priors, leaks and false-alarm rates.
    ages
        Years since the item of a position was last known good [yr]; the assembly's default elsewhere.
    learned
        Figures learned from cases; the pack's where nothing was learned.

    Returns
    -------
    Network
        Nodes in topological order.
    """
    known, taught = ages or {}, learned or Learned()
    arriving: dict[str, list[Influence]] = defaultdict(list)
    for influence in graph.influences:
        if influence.claim in taught.strengths:
            strength = taught.strength(influence.claim, influence.strength)
            arriving[influence.effect].append(replace(influence, strength=strength))
        else:
            arriving[influence.effect].append(influence)

    def make(node: InfluenceNode) -> Node:
        rate, years = 0.0, 0.0
        if node.kind == "failure-mode" and node.position is not None:
            type_ = graph.assembly.positions[node.position].type
            rate = taught.rate(type_.id, node.name, type_.modes[node.name].rate)
            years = known.get(node.position, graph.assembly.exposure)
        return Node(
            id=node.id,
            kind=node.kind,  # type: ignore[arg-type]  # the influence graph uses the same five words
            leak=_leak(node, knowledge, rate * years),
            links=tuple(_links(arriving.get(node.id, ()), rate * years)),
            gate=node.gate,  # type: ignore[arg-type]  # `or` and `and`
            strength=node.strength,
            position=node.position,
            failure_mode=node.name if node.kind == "failure-mode" else None,
            symptom=node.name if node.kind == "symptom" else None,
            check=node.name if node.kind == "check" else None,
        )

    return Network(tuple(make(node) for node in graph.nodes.values()), graph.assembly.id)


def _leak(node: InfluenceNode, knowledge: Knowledge, expected: float) -> float:
    if node.kind == "failure-mode":
        return -math.expm1(-expected)
    if node.kind == "condition":
        return knowledge.conditions[node.name].prior
    if node.kind == "symptom":
        return knowledge.symptoms[node.name].leak
    if node.kind == "check":
        outcomes = knowledge.checks[node.name.partition("@")[0]].outcomes
        return next(o.false_alarm for o in outcomes if o.id == node.outcome)
    return 0.0


def _links(arriving: Iterable[Influence], expected: float) -> list[Link]:
    """Merge links from one parent: together they fail to act only when each of them fails to."""
    merged: dict[str, tuple[float, float, str]] = {}
    for influence in arriving:
        strength = influence.strength
        if influence.factor is not None:
            strength = -math.expm1(-expected * (influence.factor - 1.0))
        silent, strongest, claim = merged.get(influence.cause, (1.0, -1.0, ""))
        if strength > strongest:
            strongest, claim = strength, influence.claim
        merged[influence.cause] = (silent * (1.0 - strength), strongest, claim)
    return [Link(parent, 1.0 - silent, claim) for parent, (silent, _, claim) in merged.items()]
