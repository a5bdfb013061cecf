"""From an assembly and its parameters to the unit that a stroke is computed from.

Nothing here knows an assembly by name. The number of pistons, whether an approach stage exists, whether a quick
exhaust valve sits at the port, whether air presses on the rod itself or on an intensifier, or oil does, all follow
from the component types and connections of the topology.
"""

from collections.abc import Iterator
from itertools import combinations
from math import pi

from clampgraph.answers.stroke.circuits import ATMOSPHERE, Circuit, Joint, join
from clampgraph.answers.stroke.parameters import Parameters
from clampgraph.assembly.topology import Position
from clampgraph.errors import DataError
from clampgraph.physics.stroke import AirDrive, Feed, Mechanism, OilDrive, Orifice, Stack, Timing, Unit, Valve
from clampgraph.physics.valve_flow import RHO_0

__all__ = ["unit_of"]

DRIVES = ("release-output", "approach-output")
"""Output ports of a controller, each a parameter: 1 while it works, 0 when it is dead."""


def unit_of(parameters: Parameters) -> Unit:
    """Build the unit of an assembly.

    Raises
    ------
    DataError
        If a component or parameter is missing that a stroke cannot do without.
    """
    builder = _Builder(parameters)
    return Unit(builder.mechanism(), builder.drive(), tuple(builder.valves()), builder.timing())


class _Builder:
    def __init__(self, parameters: Parameters) -> None:
        self.p, self.assembly = parameters, parameters.assembly
        self.circuit = Circuit(parameters)

    def of_type(self, kind: str) -> list[Position]:
        return [position for position in self.assembly.positions.values() if kind in position.type.lineage]

    def one(self, kind: str) -> str:
        """Return the only position of a type."""
        found = self.of_type(kind)
        if len(found) != 1:
            raise DataError(
                f"{self.assembly.id} has {len(found)} positions of the type {kind}; a stroke is computed from one."
            )
        return found[0].id

    def once(self, name: str) -> float:
        """Add up a parameter over every position that states it, however many pieces fill the position."""
        positions = self.assembly.positions
        return sum(self.p.si(position, name) for position in positions if self.p.has(position, name))

    def total(self, name: str, power: int = 0) -> float:
        """Add up a parameter over every position that states it, as often as the position is filled.

        What moves with the piston of an intensifier counts with a power of the gearing to the rod.
        """
        moved = self.geared()
        return sum(
            self.p.si(position.id, name) * position.number * (self.gearing() ** power if position.id in moved else 1.0)
            for position in self.assembly.positions.values()
            if self.p.has(position.id, name)
        )

    def geared(self) -> set[str]:
        """Return the intensifier and the seal in the groove of its air piston."""
        found = {position.id for position in self.of_type("intensifier")}
        joined = (c for c in self.assembly.connections if c.from_port == "groove" and c.from_position in found)
        return found | {c.to_position for c in joined}

    def cylinder(self) -> str:
        """Return the position whose chamber faces the piston on the rod."""
        piston = self.of_type("piston")[0].id
        for c in self.assembly.connections:
            if (c.to_position, c.to_port) == (piston, "face"):
                return c.from_position
        raise DataError(
            f"Nothing is connected to the face of {piston} in {self.assembly.id}; a stroke needs a cylinder."
        )

    # What moves.

    def area(self) -> float:
        """Return the area of the pistons on the rod [m²]; all but the first lose that of the rod between them."""
        found = self.of_type("piston")
        p, number = self.p, found[0].number
        bore, inside = p.si(found[0].id, "bore"), p.si(found[0].id, "inside-diameter")
        between = p.si(found[0].id, "wall-rod-diameter")
        return pi / 4 * (number * (bore**2 - inside**2) - (number - 1) * between**2)

    def gearing(self) -> float:
        """Return how far the air piston of an intensifier travels for one length of the rod; 1 without one."""
        found = self.of_type("intensifier")
        return self.area() / (pi / 4 * self.p.si(found[0].id, "plunger-diameter") ** 2) if found else 1.0

    def mechanism(self) -> Mechanism:
        p = self.p
        drawbar, gripper, stack = self.one("drawbar"), self.one("gripper"), self.one("disc-spring-stack")
        offset = p.si(self.one("pull-stud"), "knob-offset") if self.of_type("pull-stud") else 0.0
        gap = max(0.0, p.si(drawbar, "gap-at-rest") - self.once("protrusion") + offset)
        seals = self.total("friction", 1) - p.si(drawbar, "friction")
        return Mechanism(
            area=self.drive_area(),
            mass=self.total("moving-mass", 2),
            drawbar_mass=p.si(drawbar, "mass"),
            friction=seals,
            drawbar_friction=p.si(drawbar, "friction"),
            damping=self.total("damping", 2),
            pressure_drag=self.total("drag-share") * self.drive_area(),
            stroke=self.stroke(),
            gap=gap,
            opening=p.si(gripper, "opening-travel"),
            spring_preload=self.total("preload", 1),
            spring_rate=self.total("rate", 2),
            stack=self.stack(stack, offset),
            taper_force=p.si(self.one("spindle-taper"), "taper-force"),
            taper_travel=p.si(self.one("spindle-taper"), "taper-travel"),
            force_ratio=p.si(gripper, "force-ratio") * p.si(drawbar, "intact"),
        )

    def drive_area(self) -> float:
        """Return what the driving pressure acts on [m²]: the pistons, or the air piston of an intensifier, geared."""
        if not self.of_type("intensifier"):
            return self.area()
        return pi / 4 * self.p.si(self.one("intensifier"), "air-bore") ** 2 * self.gearing()

    def stroke(self) -> float:
        """Return how far the rod can go [m]: to its stop, or as far as the oil of an intensifier takes it."""
        stop = self.p.si(self.cylinder(), "stroke") - self.once("lost-travel")
        if self.of_type("intensifier"):
            missing = self.once("missing-oil") + self.once("trapped-air")
            swept = self.p.si(self.one("intensifier"), "stroke") / self.gearing()
            stop = min(stop, max(0.0, swept - missing / self.area()))
        return stop

    def stack(self, position: str, offset: float) -> Stack:
        p, i = self.p, round(self.p.si(position, "packets"))
        return Stack(
            De=p.si(position, "outside-diameter"), Di=p.si(position, "inside-diameter"),
            t=p.si(position, "thickness"), h0=p.si(position, "cone-height"),
            n=round(p.si(position, "discs-in-parallel")), i=i,
            s1=max(0.0, p.si(position, "clamped-deflection") - offset / i), w=p.si(position, "friction-share"),
        )  # fmt: skip

    def timing(self) -> Timing:
        p, controller = self.p, self.one("controller")
        return Timing(p.si(controller, "approach-time"), p.si(controller, "held-time"), p.si(controller, "patience"))

    # What drives.

    def driven(self) -> list[Position]:
        """Return the positions that the controller drives and that lead to the chamber."""
        upstream = self.circuit.upstream(self.chamber()[1])
        return [p for p in self.assembly.positions.values() if p.actuated and p.id in upstream]

    def valves(self) -> Iterator[Valve]:
        for position in self.driven():
            on = self.p.si(position.id, "switching-time")
            phases = position.actuated if self.signal(position) else frozenset()
            stays = self.assembly.positions[position.id].actuated and self.stays_on(position)
            yield Valve(position.id, phases | {"reclamp", "clamped"} if stays else phases, on, on)

    def outputs(self, position: Position) -> list[str]:
        """Return the controller's outputs that lead to a valve."""
        controller = self.one("controller")
        return [
            c.from_port
            for c in self.assembly.connections
            if c.from_position == controller and c.to_position == position.id
        ]

    def signal(self, position: Position) -> bool:
        controller = self.one("controller")
        return all(self.p.si(controller, o) > 0.0 for o in self.outputs(position) if self.p.has(controller, o))

    def stays_on(self, position: Position) -> bool:
        controller = self.one("controller")
        return self.p.si(controller, "stays-on") > 0.0 and "release-output" in self.outputs(position)

    def sets(self) -> Iterator[frozenset[str]]:
        """List every set of valves that may be open at once."""
        names = [position.id for position in self.driven()]
        for size in range(len(names) + 1):
            yield from (frozenset(found) for found in combinations(names, size))

    def supply(self) -> tuple[str, Joint]:
        """Return the position and joint of the supply that feeds the chamber."""
        upstream = self.circuit.upstream(self.chamber()[1])
        for position in self.assembly.positions.values():
            for port in position.type.ports.values():
                joint = self.circuit.joint(position.id, port.name)
                if "pressure" in port.origin and joint in upstream:
                    return position.id, joint
        raise DataError(f"{self.assembly.id} has no supply of pressure; a stroke needs one.")

    def chamber(self) -> tuple[str, Joint]:
        """Return the position whose chamber the valves fill, and the joint of its port."""
        for intensifier in self.of_type("intensifier"):
            return intensifier.id, self.circuit.joint(intensifier.id, "air")
        return self.cylinder(), self.circuit.joint(self.cylinder(), "A")

    def drive(self) -> AirDrive | OilDrive:
        supply, start = self.supply()
        ports = self.assembly.positions[supply].type.ports.values()
        medium = next(port.medium for port in ports if "pressure" in port.origin)
        return self.air(start) if medium == "compressed-air" else self.oil(supply, start)

    def air(self, start: Joint) -> AirDrive:
        chamber, end = self.chamber()
        ambient = self.p.si(self.supply()[0], "ambient-pressure")
        quick = [p for p in self.of_type("quick-exhaust-valve") if self.circuit.joint(p.id, "2") == end]
        lines = {self.circuit.joint(valve.id, "1") for valve in quick} or {end}
        line = min(lines)
        rename = dict.fromkeys(lines, line)
        dead, tube = self.p.si(chamber, "dead-volume"), self.p.si(chamber, "line-volume")
        return AirDrive(
            ambient=ambient,
            dead_volume=dead if quick else dead + tube,
            line_volume=tube if quick else 0.0,
            feeds={opened: tuple(self.feeds(opened, start, rename, ambient)) for opened in self.sets()},
            vents={opened: self.vent(opened, rename, line, {q.id for q in quick}) for opened in self.sets()},
            port=self.combined(quick, "sonic-conductance"),
            dump=self.dump(end, {q.id for q in quick}),
            back=self.mean(quick, "back-opening"),
            torn=self.mean(quick, "torn-opening"),
            seat=self.mean(quick, "seat-share"),
            leak=sum(self.air_leaks()),
            standing={opened: sum(self.standing_leaks(opened, start, ambient)) for opened in self.sets()},
        )

    def feeds(self, opened: frozenset[str], start: Joint, rename: dict[Joint, Joint], ambient: float) -> Iterator[Feed]:
        """List what fills the line, one feed for each source pressure."""
        driven = [valve.id for valve in self.driven()]
        by_pressure: dict[float, set[str]] = {}
        for name in driven:
            by_pressure.setdefault(self.circuit.source_pressure(name, start), set()).add(name)
        end = min(rename.values())
        for pressure, names in by_pressure.items():
            others = {*driven, *(q.id for q in self.of_type("quick-exhaust-valve"))} - names
            ways = [
                type(way)(way.position, way.start, rename.get(way.end, way.end), way.orifice)
                for way in self.circuit.supplies(opened, driven)
                if way.position not in others
            ]
            orifice = join(ways, start, end)
            if orifice.C > 0.0:
                yield Feed(pressure + ambient, orifice)

    def vent(self, opened: frozenset[str], rename: dict[Joint, Joint], line: Joint, quick: set[str]) -> Orifice:
        ways = [
            type(way)(way.position, rename.get(way.start, way.start), rename.get(way.end, way.end), way.orifice)
            for way in self.circuit.exhausts(opened)
            if way.position not in quick
        ]
        return join(ways, ATMOSPHERE, line)

    def dump(self, end: Joint, quick: set[str]) -> Orifice:
        driven = {valve.id for valve in self.driven()}
        return join((way for way in self.circuit.exhausts(driven)), ATMOSPHERE, end) if quick else Orifice(0.0, 0.3)

    def combined(self, valves: list[Position], name: str) -> Orifice:
        total = sum(self.p.si(valve.id, name) for valve in valves)
        return Orifice(total, self.p.si(valves[0].id, "critical-ratio") if valves else 0.3)

    def mean(self, valves: list[Position], name: str) -> float:
        return sum(self.p.si(valve.id, name) for valve in valves) / len(valves) if valves else 0.0

    def rear_area(self) -> float:
        """Return the area on which oil pushes the rod home [m²]; zero for a piston with one port."""
        piston = self.of_type("piston")[0]
        if "rear" not in piston.type.ports:
            return 0.0
        return self.area() - pi / 4 * self.p.si(piston.id, "rear-rod-diameter") ** 2

    def air_leaks(self) -> Iterator[float]:
        """List the leaks of the chamber and its seals [m³/(s·Pa)]; those of oil seals lead no air."""
        for position in self.assembly.positions.values():
            if self.p.has(position.id, "leak-conductance") and "oil-seal" not in position.type.lineage:
                yield self.p.si(position.id, "leak-conductance") * position.number

    def standing_leaks(self, opened: frozenset[str], start: Joint, ambient: float) -> Iterator[float]:
        """List what leaves before the line [kg/s]: through reliefs always, across the seats of shut valves."""
        for position in self.assembly.positions.values():
            if self.p.has(position.id, "relief-leak"):
                pressure = self.p.si(position.id, "set-pressure") + ambient
                yield self.p.si(position.id, "relief-leak") * RHO_0 * pressure
            if position.actuated and position.id not in opened and self.p.has(position.id, "seat-leak"):
                pressure = self.circuit.source_pressure(position.id, start) + ambient
                yield self.p.si(position.id, "seat-leak") * RHO_0 * pressure

    def oil(self, supply: str, start: Joint) -> OilDrive:
        p, (_, end) = self.p, self.chamber()
        driven = [valve.id for valve in self.driven()]
        accumulators = self.of_type("accumulator")
        store = accumulators[0].id if accumulators else None
        return OilDrive(
            pressure=p.si(supply, "pressure"),
            pump_flow=p.si(supply, "flow"),
            droop=p.si(supply, "droop"),
            softness=p.si(supply, "line-oil") / p.si(supply, "pressure"),
            gas=p.si(store, "gas-volume") if store else 0.0,
            precharge=p.si(store, "precharge") if store else 0.0,
            feeds={o: join(self.circuit.supplies(o, driven), start, end).C for o in self.sets()},
            vents={o: join(self.circuit.exhausts(o), ATMOSPHERE, end).C for o in self.sets()},
            rear_area=self.rear_area(),
        )
