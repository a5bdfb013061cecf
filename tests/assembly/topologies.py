"""Assemblies nobody drew: supply lines in series, parallel and branches, twin valves, and what they drive.

A `Shape` says how a circuit looks; `build` makes an assembly of the shipped component types from it;
`shapes` draws any shape of moderate size, and `grown` one with a given number of positions.
A supply line is a tuple whose parts are a component type, or a tuple of lines that run in parallel.
"""

import random
from dataclasses import dataclass, replace

from hypothesis import strategies as st

from clampgraph.assembly.topology import Assembly, Connection, Generation, Position

__all__ = ["Circuit", "Shape", "build", "grown", "joined", "narrow_shapes", "quiet", "shapes", "shuffled"]

LINE_TYPES = ("shut-off-valve", "filter", "supply-regulator", "lubricator")


@dataclass(frozen=True)
class Shape:
    """A circuit: its supply line, dead-end branches, valves, and how much of the actuator chain it has."""

    supply: tuple = ()
    branches: tuple = ()
    mains: int = 1
    exhausts: int = 0
    approach: bool = False
    spindle: bool = True


class Circuit:
    """A circuit under construction: positions are placed, their ports joined."""

    def __init__(self, knowledge):
        self.knowledge = knowledge
        self.positions = {}
        self.connections = []

    def place(self, kind, actuated=()):
        """Place a component type at a position of its own and return the position's name."""
        same = sum(position.type.id == kind for position in self.positions.values())
        name = f"{kind}-{same + 1}" if same else kind
        iri, designation = f"urn:circuit:{name}", f"=X{len(self.positions)}"
        self.positions[name] = Position(
            iri, name, designation, self.knowledge.types[kind], 1, frozenset(actuated), ()
        )  # fmt: skip
        return name

    def join(self, start, end):
        """Join two ports, each written as a pair of position and port."""
        self.connections.append(Connection(f"urn:circuit:joint-{len(self.connections)}", *start, *end))

    def line(self, parts, feeds):
        """Build a supply line behind some open ports and return the ports at its end."""
        for part in parts:
            if isinstance(part, str):
                name = self.place(part)
                for feed in feeds:
                    self.join(feed, (name, "1"))
                feeds = [(name, "2")]
            else:
                feeds = [end for branch in part for end in self.line(branch, feeds)]
        return list(dict.fromkeys(feeds))

    def assembly(self):
        """Return the finished assembly; it has an approach phase if a valve is driven in it."""
        driven = {phase for position in self.positions.values() for phase in position.actuated}
        phases = tuple(p for p in self.knowledge.phases if p in driven or p not in self.knowledge.optional_phases)
        only = Generation("urn:circuit:gen-1", "gen-1", "only one", None, None, None, None)
        return Assembly(
            "urn:circuit", "circuit", "generated circuit", "", "40", "generated", "", 3.0, phases, (only,), only,
            dict(self.positions), tuple(self.connections),
        )  # fmt: skip


def _valves(circuit, shape, feeds):
    """Build valves behind the supply and return the ports that feed the chamber."""
    controller = circuit.place("controller")
    mains = [circuit.place("main-valve", ("release", "held")) for _ in range(shape.mains)]
    for name in mains:
        circuit.join((controller, "release-output"), (name, "12"))
        for feed in feeds:
            circuit.join(feed, (name, "1"))
    outlets = [(name, "2") for name in mains]
    if shape.approach:
        (low,) = circuit.line(("approach-regulator",), feeds)
        valve = circuit.place("approach-valve", ("approach",))
        circuit.join(low, (valve, "1"))
        circuit.join((controller, "approach-output"), (valve, "12"))
        outlets += circuit.line(("check-valve",), [(valve, "2")])
    if not shape.exhausts:
        return outlets
    quick = [circuit.place("quick-exhaust-valve") for _ in range(shape.exhausts)]
    for name in quick:
        for outlet in outlets:
            circuit.join(outlet, (name, "1"))
        circuit.join((name, "3"), (circuit.place("silencer"), "1"))
    return [(name, "2") for name in quick]


_ACTUATOR = (
    ("piston", "groove", "piston-seal", "lip"), ("return-spring", "end", "piston", "spring"),
    ("retaining-ring", "face", "piston", "stop"), ("rod", "gland", "rod-seal", "lip"),
    ("rod", "tip", "push-bolt", "rod"), ("push-bolt", "tip", "drawbar", "end"),
    ("disc-spring-stack", "end", "drawbar", "stack"), ("drawbar", "gripper", "gripper", "drawbar"),
    ("gripper", "tool", "pull-stud", "knob"), ("pull-stud", "tool", "spindle-taper", "seat"),
    ("rod", "cam", "unclamp-switch", "target"), ("rod", "cam", "clamp-switch", "target"),
)  # fmt: skip


def build(knowledge, shape):
    """Build the assembly of a shape."""
    circuit = Circuit(knowledge)
    feeds = circuit.line(shape.supply, [(circuit.place("air-supply"), "out")])
    for branch in shape.branches:
        circuit.line(branch, feeds)
    chamber = _valves(circuit, shape, feeds)
    for name in ("barrel", "piston", "rod"):
        circuit.place(name)
    for outlet in chamber:
        circuit.join(outlet, ("barrel", "A"))
    circuit.join(("barrel", "chamber"), ("piston", "face"))
    circuit.join(("barrel", "bore"), ("piston", "bore"))
    circuit.join(("piston", "rod"), ("rod", "piston"))
    for start, out, end, into in _ACTUATOR if shape.spindle else ():
        for name in (start, end):
            if name not in circuit.positions:
                circuit.place(name)
        circuit.join((start, out), (end, into))
    return circuit.assembly()


def _lines(depth):
    part = st.sampled_from(LINE_TYPES)
    if depth:
        part = st.one_of(part, st.lists(_lines(depth - 1), min_size=2, max_size=3).map(tuple))
    return st.lists(part, min_size=1, max_size=3).map(tuple)


shapes = st.builds(
    Shape,
    supply=_lines(2) | st.just(()),
    branches=st.lists(_lines(0), max_size=2).map(tuple),
    mains=st.integers(1, 3),
    exhausts=st.integers(0, 2),
    approach=st.booleans(),
    spindle=st.booleans(),
)

# Each port that several feeds share ties whole lines together; these stay narrow enough to solve in a moment.
narrow_shapes = st.builds(
    Shape,
    supply=_lines(1) | st.just(()),
    branches=st.lists(_lines(0), max_size=1).map(tuple),
    mains=st.integers(1, 2),
    exhausts=st.integers(0, 1),
    approach=st.booleans(),
    spindle=st.booleans(),
)


def grown(knowledge, size, seed):
    """Build an assembly of exactly so many positions, at least 25: the supply line takes what the rest leaves."""
    rng = random.Random(seed)  # noqa: S311  # reproducible, not secret
    shape = Shape(mains=1 + seed % 3, exhausts=seed % 3, approach=seed % 2 == 0)
    rest = size - len(build(knowledge, shape).positions)
    supply = []
    while rest > 0:
        if rest < 4 or rng.random() < 0.7:
            supply.append(rng.choice(LINE_TYPES))
            rest -= 1
        else:
            supply.append(((rng.choice(LINE_TYPES),), (rng.choice(LINE_TYPES), rng.choice(LINE_TYPES))))
            rest -= 3
    return build(knowledge, replace(shape, supply=tuple(supply)))


def joined(assembly, start, end):
    """Return an assembly with one more connection, each end written as a pair of position and port."""
    extra = Connection("urn:circuit:extra", *start, *end)
    return replace(assembly, connections=(*assembly.connections, extra))


def shuffled(assembly, seed):
    """Return the same assembly described in another order."""
    rng = random.Random(seed)  # noqa: S311  # reproducible, not secret
    names = rng.sample(list(assembly.positions), len(assembly.positions))
    joints = tuple(rng.sample(assembly.connections, len(assembly.connections)))
    return replace(assembly, positions={name: assembly.positions[name] for name in names}, connections=joints)


def quiet(network, *faults):
    """Return evidence that the faults given are present, and no other fault and no condition."""
    causes = [node.id for node in network if node.kind in ("failure-mode", "condition")]
    return {cause: cause in faults for cause in causes}
