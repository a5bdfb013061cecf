"""Units for the tests of the stroke: a tandem pneumatic one, with what varies given by keyword; one driven by oil."""

import math

from clampgraph.physics.stroke import AirDrive, Feed, Mechanism, OilDrive, Orifice, Stack, Timing, Unit, Valve

MAIN, APPROACH = "main", "approach"
SHUT = Orifice(0.0, 0.3)
STACK = Stack(De=0.05, Di=0.0254, t=0.003, h0=0.0011, n=1, i=36, s1=0.59e-3, w=0.04)


def mechanism(**changes):
    """Return the mechanism of a tandem unit: two pistons of 125 mm on a rod of 40 mm."""
    given = {
        "area": math.pi / 4 * (2 * 0.125**2 - 0.04**2), "mass": 4.5, "drawbar_mass": 1.8, "friction": 150.0,
        "drawbar_friction": 60.0, "damping": 150.0, "stroke": 7.5e-3, "gap": 1.5e-3, "opening": 5.5e-3,
        "spring_preload": 650.0, "spring_rate": 2e4, "stack": STACK, "taper_force": 300.0, "taper_travel": 1e-4,
    }  # fmt: skip
    return Mechanism(**{**given, **changes})


def air_unit(*, approach=0.9e-8, dump=6e-8, main=4.4e-8, supply=7.01325e5, line=8e-5, **changes):
    """Return a tandem unit; conductances in m³/(s·Pa), the supply as absolute pressure."""
    none, both = frozenset(), frozenset({MAIN, APPROACH})
    feed = {APPROACH: Feed(3.51325e5, Orifice(approach, 0.3)), MAIN: Feed(supply, Orifice(main, 0.3))}
    sets = [none, frozenset({MAIN}), frozenset({APPROACH}), both]
    drive = AirDrive(
        ambient=101325.0, dead_volume=1e-4, line_volume=line,
        feeds={opened: tuple(feed[name] for name in sorted(opened)) for opened in sets},
        vents={opened: SHUT if MAIN in opened else Orifice(0.7e-8 if line else dump, 0.3) for opened in sets},
        port=Orifice(7e-8, 0.3) if line else SHUT, dump=Orifice(dump, 0.3) if line else SHUT,
        back=0.0, torn=0.0, seat=0.25,
    )  # fmt: skip
    valves = (
        Valve(APPROACH, frozenset({"approach"}), 0.02, 0.02),
        Valve(MAIN, frozenset({"release", "held"}), 0.02, 0.02),
    )
    return Unit(mechanism(**changes), drive, valves, Timing(0.25, 0.5, 3.0))


def oil_unit(**changes):
    """Return a unit driven by oil at 80 bar through one valve."""
    none, opened = frozenset(), frozenset({MAIN})
    given = {
        "pressure": 80e5, "pump_flow": 10e-3 / 60, "droop": 0.05, "softness": 2e-13, "gas": 0.5e-3,
        "precharge": 50e5, "feeds": {none: 0.0, opened: 3e-7}, "vents": {none: 3e-7, opened: 0.0},
    }  # fmt: skip
    valves = (Valve(MAIN, frozenset({"release", "held"}), 0.03, 0.03),)
    return Unit(mechanism(area=1.9e-3), OilDrive(**{**given, **changes}), valves, Timing(0.0, 0.5, 3.0))
