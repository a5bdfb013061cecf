"""The influence graph of an assembly: which cause leads to which deviation, symptom and check outcome.

Nobody writes this graph.
It follows from the topology of the assembly and from what its component types pass, transform and suffer.
Starting at the causes (failure modes and conditions), deviations spread until nothing new appears;
then symptoms and checks are hung on the deviations that show in them,
and what shows in nothing is left out.

Where a port is fed by several live feeds of a redundant quantity, a shared gate (see `redundancy`) takes the place
of a plain link.
A promotion points from a deviation or condition to a failure mode that it makes more frequent.
Within a phase, influence has no cycle; one is an error in the data and is reported by its members.
"""

import graphlib
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from graphlib import TopologicalSorter

from clampgraph.assembly.deviations import Deviation, Joints, LocalStep, phases_of
from clampgraph.assembly.knowledge import Effect, FailureMode, Knowledge, Pattern
from clampgraph.assembly.redundancy import DEGRADING, gates_at
from clampgraph.assembly.topology import Assembly, Position
from clampgraph.errors import CycleError

__all__ = ["Influence", "InfluenceGraph", "InfluenceNode", "derive"]


@dataclass(frozen=True, slots=True)
class InfluenceNode:
    """One node: a condition, a failure mode, a deviation, a symptom or an outcome of a check.

    `strength` applies to `and` nodes: the probability to be on when all causes are.
    """

    id: str
    kind: str
    gate: str = "or"
    strength: float = 1.0
    deviation: Deviation | None = None
    position: str | None = None
    name: str = ""
    outcome: str = ""


@dataclass(frozen=True, slots=True)
class Influence:
    """One link with the claim that it rests on; `factor` multiplies a failure rate instead of acting directly."""

    cause: str
    effect: str
    strength: float
    claim: str
    factor: float | None = None


@dataclass(frozen=True)
class InfluenceGraph:
    """Nodes and links of one assembly; `silent` names failure modes that show in no symptom and no check."""

    assembly: Assembly
    nodes: Mapping[str, InfluenceNode]
    influences: tuple[Influence, ...]
    silent: tuple[str, ...]


@dataclass
class _Sketch:
    """The graph while it grows."""

    assembly: Assembly
    knowledge: Knowledge
    nodes: dict[str, InfluenceNode] = field(default_factory=dict)
    links: list[Influence] = field(default_factory=list)
    queue: list[Deviation] = field(default_factory=list)

    def deviation(self, found: Deviation) -> str:
        node = found.id
        if node not in self.nodes:
            self.nodes[node] = InfluenceNode(node, "deviation", deviation=found, position=found.position)
            self.queue.append(found)
        return node

    def link(self, cause: str, effect: str, strength: float, claim: str) -> None:
        self.links.append(Influence(cause, effect, strength, claim))


def derive(assembly: Assembly, knowledge: Knowledge) -> InfluenceGraph:
    """Derive the influence graph of an assembly.

    Raises
    ------
    CycleError
        If influence runs in a circle; the members are named in order.
    """
    sketch = _Sketch(assembly, knowledge)
    _add_causes(sketch)
    _spread(sketch)
    _add_promotions(sketch)
    _add_symptoms(sketch)
    _add_checks(sketch)
    return _settled(sketch)


def _produce(sketch: _Sketch, owner: str, position: Position, effects: Iterable[Effect]) -> None:
    for same, patterns in _by_event(effects):
        targets = [
            Deviation(phase, position.id, p.port, p.quantity, p.guideword)
            for p in patterns
            for phase in phases_of(p.phase, position, sketch.assembly.phases)
        ]
        cause, strength = owner, same.strength
        if len(targets) > 1 and strength < 1.0:
            cause = f"{owner}/{position.id}.{same.pattern.port}/{same.pattern.quantity}/{same.pattern.guideword}"
            sketch.nodes[cause] = InfluenceNode(cause, "deviation", position=position.id)
            sketch.link(owner, cause, strength, same.claim)
            strength = 1.0
        for target in targets:
            sketch.link(cause, sketch.deviation(target), strength, same.claim)


def _by_event(effects: Iterable[Effect]) -> Iterable[tuple[Effect, list[Pattern]]]:
    """Group what one claim says of several phases: it happens in all of them or in none."""
    found: dict[tuple[str, str, str], tuple[Effect, list[Pattern]]] = {}
    for effect in effects:
        key = effect.claim, effect.pattern.quantity, effect.pattern.guideword
        found.setdefault(key, (effect, []))[1].append(effect.pattern)
    return found.values()


def _add_causes(sketch: _Sketch) -> None:
    for condition in sketch.knowledge.conditions.values():
        node = InfluenceNode(f"condition/{condition.id}", "condition", name=condition.id)
        sketch.nodes[node.id] = node
        for position in sketch.assembly.positions.values():
            at_this_type = [e for e in condition.effects if e.type in position.type.lineage]
            _produce(sketch, node.id, position, at_this_type)
    for position in sketch.assembly.positions.values():
        for mode in position.type.modes.values():
            node = InfluenceNode(f"{position.id}:{mode.id}", "failure-mode", position=position.id, name=mode.id)
            sketch.nodes[node.id] = node
            _produce(sketch, node.id, position, mode.effects)


def _spread(sketch: _Sketch) -> None:
    joints = Joints(sketch.assembly, sketch.knowledge)
    steps: dict[Deviation, list[LocalStep]] = defaultdict(list)
    for step in joints.steps:
        steps[step.cause].append(step)
    shared: dict[tuple[str, str, str, str], set[Deviation]] = defaultdict(set)
    while sketch.queue:
        found = sketch.queue.pop()
        for step in steps.get(found, ()):
            _take_step(sketch, step)
        _cross(sketch, joints, found, shared)
    for place, arrivals in sorted(shared.items()):
        feeds = joints.feeds(*place)
        for gate in gates_at(place, feeds, frozenset(arrivals), sketch.knowledge.quantities[place[3]]):
            sketch.nodes.setdefault(gate.id, InfluenceNode(gate.id, "deviation", gate.kind, position=place[1]))
            sketch.links += [Influence(cause, gate.id, 1.0, "") for cause in gate.causes]


def _take_step(sketch: _Sketch, step: LocalStep) -> None:
    target = sketch.deviation(step.effect)
    if step.when_failed is None:
        sketch.link(step.cause.id, target, step.strength, step.claim)
        return
    gate = f"{step.effect.id}/from/{step.cause.port}/when/{step.when_failed}"
    position = step.cause.position
    sketch.nodes[gate] = InfluenceNode(gate, "deviation", "and", step.strength, position=position)
    sketch.link(step.cause.id, gate, 1.0, step.claim)
    sketch.link(f"{position}:{step.when_failed}", gate, 1.0, step.claim)
    sketch.link(gate, target, 1.0, step.claim)


def _cross(
    sketch: _Sketch, joints: Joints, found: Deviation, shared: dict[tuple[str, str, str, str], set[Deviation]]
) -> None:
    quantity = sketch.knowledge.quantities[found.quantity]
    for position, port, connection in joints.takers(found.position, found.port, found.quantity):
        target = Deviation(found.phase, position, port, found.quantity, found.guideword)
        if not quantity.redundant or found.guideword not in DEGRADING:
            sketch.link(found.id, sketch.deviation(target), 1.0, connection)
            continue
        feeds = joints.feeds(*target.place)
        if (found.position, found.port) not in feeds:
            continue
        if len(feeds) == 1:
            sketch.link(found.id, sketch.deviation(target), 1.0, connection)
        else:
            shared[target.place].add(found)
            sketch.deviation(target)
            if quantity.shortfall:
                sketch.deviation(Deviation(found.phase, position, port, quantity.shortfall, "less"))


def _feature_allows(position: Position, feature: str | None, value: str | None) -> bool:
    """Say whether a claim bound to a feature holds here; an unknown feature does not rule it out."""
    if feature is None:
        return True
    known = [item.features[feature] for item in position.items if feature in item.features]
    return not known or any(str(v) == value for v in known)


def _add_promotions(sketch: _Sketch) -> None:
    for position in sketch.assembly.positions.values():
        for mode in position.type.modes.values():
            _promote(sketch, position, mode)


def _promote(sketch: _Sketch, position: Position, mode: FailureMode) -> None:
    target = f"{position.id}:{mode.id}"
    for promotion in mode.promotions:
        if not _feature_allows(position, promotion.feature, promotion.value):
            continue
        causes = [] if promotion.condition is None else [f"condition/{promotion.condition}"]
        if promotion.pattern is not None:
            causes += _matches(sketch, position, promotion.pattern)
        sketch.links += [
            Influence(cause, target, 0.0, promotion.claim, promotion.factor)
            for cause in causes
            if cause in sketch.nodes
        ]


def _matches(sketch: _Sketch, position: Position, pattern: Pattern) -> list[str]:
    """Ids of the deviations at a position that fit a pattern and that some cause can bring about."""
    found = (
        Deviation(phase, position.id, pattern.port, pattern.quantity, pattern.guideword).id
        for phase in phases_of(pattern.phase, position, sketch.assembly.phases)
    )
    return [id_ for id_ in found if id_ in sketch.nodes]


def _add_symptoms(sketch: _Sketch) -> None:
    for symptom in sketch.knowledge.symptoms.values():
        node = InfluenceNode(f"symptom/{symptom.id}", "symptom", name=symptom.id)
        sketch.nodes[node.id] = node
        for sign in symptom.signs:
            for position in sketch.assembly.positions.values():
                if sign.type in position.type.lineage:
                    for cause in _matches(sketch, position, sign.pattern):
                        sketch.link(cause, node.id, sign.strength, sign.claim)


def _add_checks(sketch: _Sketch) -> None:
    for check in sketch.knowledge.checks.values():
        found: dict[tuple[str, str], list[tuple[str, float, str]]] = defaultdict(list)
        for outcome in check.outcomes:
            for hint in outcome.indications:
                for position in sketch.assembly.positions.values():
                    if hint.type not in position.type.lineage:
                        continue
                    causes = [f"{position.id}:{hint.mode}"] if hint.mode else []
                    if hint.pattern is not None:
                        causes += _matches(sketch, position, hint.pattern)
                    at = position.id if check.per_position else ""
                    found[at, outcome.id] += [(cause, hint.strength, hint.claim) for cause in causes]
        places = {at for (at, _), causes in found.items() if causes}
        for (at, outcome_id), told in found.items():
            if not told:
                continue
            name = f"{check.id}@{at}" if len(places) > 1 else check.id
            node = InfluenceNode(f"check/{name}/{outcome_id}", "check", name=name, outcome=outcome_id)
            sketch.nodes[node.id] = node
            for cause, strength, claim in told:
                sketch.link(cause, node.id, strength, claim)


def _settled(sketch: _Sketch) -> InfluenceGraph:
    """Keep what some cause can bring about and what shows somewhere; refuse cycles."""
    possible = _possible(sketch)
    behind: dict[str, list[str]] = {node: [] for node in possible}
    for link in sketch.links:
        if link.cause in possible and link.effect in possible:
            behind[link.effect].append(link.cause)
    telling: set[str] = set()
    queue = [n.id for n in sketch.nodes.values() if n.kind in ("symptom", "check") and n.id in possible]
    while queue:
        node = queue.pop()
        if node not in telling:
            telling.add(node)
            queue += behind[node]
    try:
        TopologicalSorter({node: behind[node] for node in sketch.nodes if node in telling}).prepare()
    except graphlib.CycleError as error:
        ring = error.args[1]  # the first member stands at the end again
        raise CycleError(ring[:-1], sketch.assembly.id) from None
    causes = [n for n in sketch.nodes.values() if n.kind == "failure-mode"]
    return InfluenceGraph(
        sketch.assembly,
        {id_: node for id_, node in sketch.nodes.items() if id_ in telling},
        tuple(k for k in sketch.links if k.cause in telling and k.effect in telling),
        tuple(n.id for n in causes if n.id not in telling),
    )


def _possible(sketch: _Sketch) -> set[str]:
    """Nodes that some set of causes can turn on: an `and` node needs every one of its causes."""
    effects: dict[str, set[str]] = defaultdict(set)
    for link in sketch.links:
        effects[link.cause].add(link.effect)
    causes_of = Counter(effect for found in effects.values() for effect in found)
    open_causes = {n.id: causes_of[n.id] if n.gate == "and" else 1 for n in sketch.nodes.values()}
    found = {n.id for n in sketch.nodes.values() if n.kind in ("condition", "failure-mode")}
    queue = list(found)
    while queue:
        for effect in effects[queue.pop()]:
            open_causes[effect] -= 1
            if open_causes[effect] == 0 and effect not in found:
                found.add(effect)
                queue.append(effect)
    return found
