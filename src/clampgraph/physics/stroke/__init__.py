"""The simulated stroke: rod, drive and spring stack as one system of equations with events.

`unit` holds what a unit is made of, in SI units. `forces` and `drives` say what pushes which way, `integrate`
follows one smooth arc, `cycle` joins arcs into a tool change, `observables` reads off what a technician can measure.

Assumptions
-----------
Air keeps the reference temperature, so times come out slow rather than fast; sources keep their pressure.
Oil is stiff. The rod moves level: its weight is neglected beside the spring. Friction of the seals does not depend
on pressure and is the same at rest as in motion. Impacts are plastic.
"""

from clampgraph.physics.stroke.cycle import Cycle, Happening, Phase, Sample, run
from clampgraph.physics.stroke.observables import DIMENSIONS, Book, books, observe
from clampgraph.physics.stroke.unit import (
    AirDrive,
    Feed,
    Mechanism,
    OilDrive,
    Orifice,
    Stack,
    Timing,
    Unit,
    Valve,
)

__all__ = [
    "DIMENSIONS",
    "AirDrive",
    "Book",
    "Cycle",
    "Feed",
    "Happening",
    "Mechanism",
    "OilDrive",
    "Orifice",
    "Phase",
    "Sample",
    "Stack",
    "Timing",
    "Unit",
    "Valve",
    "books",
    "observe",
    "run",
]
