"""The fluid circuit of an assembly as restrictions between joints: what fills a place, what empties it.

A joint is a set of ports that are connected. A component that passes flow from one port to another is a restriction
between two joints, with the conductance that its position states; one that states none is as open as a pipe.
Influence of venting runs against the flow of exhaust air, so the ways out are the passes of `vent`, read backwards.
Restrictions in series and in parallel are joined until one is left.
"""

from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass
from typing import Final

import networkx as nx

from clampgraph.answers.stroke.parameters import Parameters
from clampgraph.assembly.topology import Position
from clampgraph.errors import DataError
from clampgraph.physics.stroke import Orifice

__all__ = ["ATMOSPHERE", "Circuit", "Joint", "join"]

Joint = str
ATMOSPHERE: Final = "atmosphere"
_FLUIDS: Final = ("compressed-air", "hydraulic-oil")


@dataclass(frozen=True, slots=True)
class Restriction:
    """One way through a component."""

    position: str
    start: Joint
    end: Joint
    orifice: Orifice


class Circuit:
    """Joints and restrictions of one assembly with one set of parameters."""

    def __init__(self, parameters: Parameters) -> None:
        self.parameters, self.assembly = parameters, parameters.assembly
        self._joints = self._join_ports()

    def _join_ports(self) -> dict[tuple[str, str], Joint]:
        graph: nx.Graph[tuple[str, str]] = nx.Graph()
        for position in self.assembly.positions.values():
            graph.add_nodes_from((position.id, port.name) for port in position.type.ports.values())
            for ports in (self._passes(position, "flow"), self._passes(position, "vent")):
                open_ways = (way for way in ports if not self._restricts(position.id))
                graph.add_edges_from(((position.id, a), (position.id, b)) for a, b in open_ways)
        for c in self.assembly.connections:
            graph.add_edge((c.from_position, c.from_port), (c.to_position, c.to_port))
        joints: dict[tuple[str, str], str] = {}
        for members in nx.connected_components(graph):
            name = ".".join(min(members))
            joints |= dict.fromkeys(members, name)
        return joints

    def _restricts(self, position: str) -> bool:
        return any(self.parameters.has(position, name) for name in ("sonic-conductance", "rated-flow"))

    def upstream(self, end: Joint) -> set[str]:
        """Return the joints that lead to a joint, and the positions of the restrictions between them."""
        ways = list(self.supplies(self.assembly.positions, ()))
        graph: nx.DiGraph[Joint] = nx.DiGraph((way.start, way.end) for way in ways)
        joints = {end, *(nx.ancestors(graph, end) if end in graph else ())}
        return joints | {way.position for way in ways if way.end in joints}

    @staticmethod
    def _passes(position: Position, quantity: str) -> list[tuple[str, str]]:
        """Return the ways by which a quantity passes a component when nothing has failed."""
        found = {
            (move.cause.port, move.to_port): None
            for move in position.type.passes
            if move.when_failed is None
            and move.cause.quantity == quantity
            and position.type.ports[move.cause.port].medium in _FLUIDS
        }
        return list(found)

    def joint(self, position: str, port: str) -> Joint:
        """Return the joint of a port."""
        return self._joints[position, port]

    def _orifice(self, position: str, name: str, opening: float) -> Orifice:
        """Return the way through a component: of air by its conductance, of oil by its flow at a pressure drop."""
        p = self.parameters
        if p.has(position, "rated-flow"):
            return Orifice(p.si(position, "rated-flow") / p.si(position, "rated-drop") ** 0.5 * opening, 0.0)
        share = p.si(position, "critical-ratio") if p.has(position, "critical-ratio") else 0.0
        return Orifice(p.si(position, name) * opening, share)

    def supplies(self, opened: Collection[str], driven: Collection[str]) -> Iterator[Restriction]:
        """List the ways in while some of the driven valves are open; a shut one opens as far as it leaks."""
        for position in self.assembly.positions.values():
            if not self._restricts(position.id):
                continue
            opening = 1.0
            if position.id in driven and position.id not in opened:
                opening = self.parameters.si(position.id, "opening-at-rest")
            for start, end in self._passes(position, "flow"):
                orifice = self._orifice(position.id, "sonic-conductance", opening)
                yield Restriction(position.id, self.joint(position.id, start), self.joint(position.id, end), orifice)

    def exhausts(self, opened: Collection[str]) -> Iterator[Restriction]:
        """List the ways out while these valves are open."""
        for position in self.assembly.positions.values():
            if position.id in opened:
                continue
            for outer, inner in self._passes(position, "vent"):
                if self.parameters.has(position.id, "exhaust-conductance") or self.parameters.has(
                    position.id, "rated-flow"
                ):
                    orifice = self._orifice(position.id, "exhaust-conductance", 1.0)
                    yield Restriction(
                        position.id, self._outside(position, outer), self.joint(position.id, inner), orifice
                    )
            for port in position.type.ports.values():
                if "vent" in port.origin:
                    closed = self._restricts(position.id)
                    orifice = self._orifice(position.id, "sonic-conductance", 1.0) if closed else Orifice(1.0, 0.5)
                    yield Restriction(position.id, ATMOSPHERE, self.joint(position.id, port.name), orifice)
        yield from self._ways_back()

    def _outside(self, position: Position, port: str) -> Joint:
        """Return the joint of an exhaust port: the atmosphere where nothing is connected to it."""
        joined = any(
            (position.id, port) in ((c.from_position, c.from_port), (c.to_position, c.to_port))
            for c in self.assembly.connections
        )
        return self.joint(position.id, port) if joined else ATMOSPHERE

    def _ways_back(self) -> Iterator[Restriction]:
        """List check valves that leak back."""
        for position in self.assembly.positions.values():
            p = self.parameters
            if "check-valve" in position.type.lineage and p.si(position.id, "back-opening") > 0.0:
                orifice = self._orifice(position.id, "sonic-conductance", p.si(position.id, "back-opening"))
                yield Restriction(position.id, self.joint(position.id, "1"), self.joint(position.id, "2"), orifice)

    def source_pressure(self, valve: str, start: Joint) -> float:
        """Return the lowest set pressure on the way from the supply to a valve [Pa gauge]."""
        graph: nx.DiGraph[Joint] = nx.DiGraph()
        ways = list(self.supplies(self.assembly.positions, ()))
        graph.add_edges_from((way.start, way.end) for way in ways)
        entries = [way.start for way in ways if way.position == valve]
        before = {j for entry in entries for j in (entry, *(nx.ancestors(graph, entry) if entry in graph else ()))}
        set_pressures = [
            self.parameters.si(way.position, "set-pressure")
            for way in ways
            if way.end in before and self.parameters.has(way.position, "set-pressure")
        ]
        return min([start_pressure(self.parameters, start, self), *set_pressures])


def start_pressure(parameters: Parameters, start: Joint, circuit: Circuit) -> float:
    """Return the pressure of the supply at a joint [Pa gauge]."""
    return next(
        parameters.si(p.id, "pressure")
        for p in circuit.assembly.positions.values()
        for port in p.type.ports.values()
        if "pressure" in port.origin and circuit.joint(p.id, port.name) == start
    )


def join(ways: Iterable[Restriction], start: Joint, end: Joint) -> Orifice:
    """Reduce restrictions between two joints to one; shut if no way leads through.

    In parallel conductances add up; in series the inverse squares do (ISO 6358-3). The critical ratio of the whole
    is the mean, weighted by conductance in parallel and by share of the resistance in series.

    Raises
    ------
    DataError
        If the circuit is a bridge, neither series nor parallel.
    """
    edges = [(w.start, w.end, w.orifice) for w in ways if w.orifice.C > 0.0 and w.start != w.end]
    while True:
        edges = _parallel(edges)
        node = _between(edges, start, end)
        if node is None:
            break
        at_node = [edge for edge in edges if node in edge[:2]]
        edges = [edge for edge in edges if node not in edge[:2]]
        if len(at_node) == 2:
            ends = [a if b == node else b for a, b, _ in at_node]
            edges.append((ends[0], ends[1], _series(at_node[0][2], at_node[1][2])))
    if not edges:
        return Orifice(0.0, 0.3)
    if len(edges) > 1 or {*edges[0][:2]} != {start, end}:
        raise DataError(f"The circuit between {start} and {end} is neither series nor parallel; join its branches.")
    return edges[0][2]


def _between(edges: list[tuple[Joint, Joint, Orifice]], start: Joint, end: Joint) -> Joint | None:
    """Return a joint with one or two restrictions that is neither end."""
    degree: dict[Joint, int] = {}
    for a, b, _ in edges:
        degree[a], degree[b] = degree.get(a, 0) + 1, degree.get(b, 0) + 1
    return next((node for node, count in degree.items() if count <= 2 and node not in (start, end)), None)


def _parallel(edges: list[tuple[Joint, Joint, Orifice]]) -> list[tuple[Joint, Joint, Orifice]]:
    found: dict[frozenset[Joint], Orifice] = {}
    for a, b, way in edges:
        if a == b:
            continue
        known = found.get(frozenset((a, b)))
        total = way.C + (known.C if known else 0.0)
        share = (way.C * way.b + (known.C * known.b if known else 0.0)) / total
        found[frozenset((a, b))] = Orifice(total, share)
    return [(min(ends), max(ends), way) for ends, way in found.items()]


def _series(first: Orifice, second: Orifice) -> Orifice:
    resistance = first.C**-2 + second.C**-2
    share = (first.b * first.C**-2 + second.b * second.C**-2) / resistance
    return Orifice(resistance**-0.5, share)
