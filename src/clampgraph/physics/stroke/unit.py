"""What moves and what drives it, in SI units: everything a simulated stroke is computed from."""

from collections.abc import Mapping
from dataclasses import dataclass, field

__all__ = ["AirDrive", "Feed", "Mechanism", "OilDrive", "Orifice", "Stack", "Timing", "Unit", "Valve"]


@dataclass(frozen=True, slots=True)
class Orifice:
    """A restriction of air: sonic conductance C [m³/(s·Pa)] and critical pressure ratio b [-] (ISO 6358-1)."""

    C: float
    b: float


@dataclass(frozen=True, slots=True)
class Feed:
    """Air that enters the line from a source of constant absolute pressure [Pa]; it never flows back."""

    pressure: float
    way: Orifice


@dataclass(frozen=True, slots=True)
class Stack:
    """A stack of disc springs in its unit: i packets of n discs, deflected by s1 [m] each while clamped.

    `De`, `Di`, `t` and `h0` [m] are those of one disc; `w` is the share of friction on both branches [-].
    """

    De: float
    Di: float
    t: float
    h0: float
    n: int
    i: int
    s1: float
    w: float


@dataclass(frozen=True, slots=True)
class Mechanism:
    """Masses [kg], lengths [m] and forces [N] of rod, drawbar and tool.

    The rod touches the drawbar after the gap; the drawbar opens the gripper after `opening` and then pushes the
    tool, which at first sticks with `taper_force` that fades over `taper_travel`.
    `area` [m²] is what the driving pressure acts on, referred to the travel of the rod.
    `pressure_drag` [m²] is by how much friction grows with the driving pressure, as lips are pressed on.
    `force_ratio` is pull on the tool over force of the stack, for grippers that multiply it [-].
    """

    area: float
    mass: float
    drawbar_mass: float
    friction: float
    drawbar_friction: float
    damping: float
    stroke: float
    gap: float
    opening: float
    spring_preload: float
    spring_rate: float
    stack: Stack
    taper_force: float
    taper_travel: float
    force_ratio: float = 1.0
    pressure_drag: float = 0.0


@dataclass(frozen=True)
class AirDrive:
    """Air on the piston: a chamber, and before it a line if a quick exhaust valve stands between the two.

    Pressures are absolute [Pa], volumes in [m³]. `feeds` and `vents` say, for each set of open valves, what fills
    the line and through what it empties. `port` leads from the line to the chamber and `dump` from the chamber to
    the atmosphere. Without a quick exhaust valve `line_volume` is zero, `port` and `dump` are shut, and feeds and
    vents act on the chamber itself. `back` is the share of the port that stays open backwards [-], `torn` the share
    of the dump that stays open while the line is under pressure [-], `seat` the share of the diaphragm that its
    exhaust seat covers [-]. `leak` [m³/(s·Pa)] leads from the chamber to the atmosphere; `standing` [kg/s] leaves
    before the line, for each set of open valves.
    """

    ambient: float
    dead_volume: float
    line_volume: float
    feeds: Mapping[frozenset[str], tuple[Feed, ...]]
    vents: Mapping[frozenset[str], Orifice]
    port: Orifice
    dump: Orifice
    back: float
    torn: float
    seat: float
    leak: float = 0.0
    standing: Mapping[frozenset[str], float] = field(default_factory=dict)


@dataclass(frozen=True)
class OilDrive:
    """Oil on the piston, taken as stiff: what the valve lets through is how fast the rod moves.

    Pressures are gauge [Pa]. `feeds` and `vents` give, for each set of open valves, the flow factor K
    [m³/(s·Pa^½)] of ``Q = K sqrt(dp)`` from the line to the cylinder and from there to the tank.
    The pump gives `pump_flow` [m³/s] and backs off over the last `droop` [-] of its pressure. The line stores oil by
    its own `softness` [m³/Pa] and in an accumulator of `gas` [m³] at `precharge` [Pa].
    `leak` [m³/(s·Pa)] flows past the piston seal to the tank. On `rear_area` [m²] the pressure of the line pushes the
    rod home while no valve feeds the cylinder.
    """

    pressure: float
    pump_flow: float
    droop: float
    softness: float
    gas: float
    precharge: float
    feeds: Mapping[frozenset[str], float]
    vents: Mapping[frozenset[str], float]
    leak: float = 0.0
    rear_area: float = 0.0


@dataclass(frozen=True, slots=True)
class Valve:
    """A driven valve: the phases in which it is actuated, and its switching times on and off [s]."""

    name: str
    phases: frozenset[str]
    on: float
    off: float


@dataclass(frozen=True, slots=True)
class Timing:
    """What the controller waits for [s]: approach before full pressure, tool change, and its patience."""

    approach: float
    held: float
    patience: float


@dataclass(frozen=True)
class Unit:
    """A complete unit: mechanism, drive, valves and timing."""

    mechanism: Mechanism
    drive: AirDrive | OilDrive
    valves: tuple[Valve, ...]
    timing: Timing
