"""Calculations of springs, cylinders and what is left over between them."""

from collections.abc import Iterator, Mapping
from typing import Any, Final

from clampgraph.physics import cylinders, disc_springs, stacks
from clampgraph.physics.calculation import Calculation, Input, Output

__all__ = ["CALCULATIONS"]

_MOST_TRAVEL: Final = 0.75
_DISC: Final = (
    Input("outside-diameter", "De", "length", "mm", "outside diameter of the disc"),
    Input("inside-diameter", "Di", "length", "mm", "inside diameter of the disc"),
    Input("thickness", "t", "length", "mm", "thickness of the disc, at most 6 mm"),
    Input("cone-height", "h0", "length", "mm", "free height of one disc less its thickness"),
)
_DEFLECTION: Final = Input("deflection", "s", "length", "mm", "deflection of one disc, at most the cone height")
_EFFICIENCY: Final = Input("efficiency", "eta", "ratio", "%", "share of the force that friction leaves", "100 %")
_PRESSURE: Final = Input("pressure", "p", "gauge-pressure", "bar(g)", "gauge pressure at the cylinder")
_BORE: Final = Input("bore", "D", "length", "mm", "diameter of the piston")
_DISC_SOURCE: Final = "DIN EN 16984; dimensions DIN EN 16983"
_DISC_VALIDITY: Final = "thickness to 6 mm, De/Di 1.2 to 5, spring steel, without friction, deflection up to flat"


def _disc_load(**disc: float) -> dict[str, Any]:
    free = {key: disc[key] for key in ("De", "Di", "t", "h0")}
    return {
        "load": disc_springs.load(**disc),
        "rate": disc_springs.rate(**disc),
        "flat-load": disc_springs.flat_load(**free),
        "energy": disc_springs.work(**disc),
    }


def _disc_deflection(**disc: float) -> dict[str, Any]:
    return {"deflection": disc_springs.deflection(**disc)}


def _disc_stress(**disc: float) -> dict[str, Any]:
    stresses = disc_springs.stresses(**disc)
    return {f"sigma-{point}": value for point, value in stresses._asdict().items()}


def _stack(**given: Any) -> dict[str, Any]:
    n, i, band = given["n"], given["i"], stacks.FRICTION[given["series"]]
    disc = {key: given[key] for key in ("De", "Di", "t", "h0")}
    s = given["travel"] / i
    F = disc_springs.load(**disc, s=s)
    (m_low, m_high), (r_low, r_high) = band
    return {
        "without-friction": stacks.loading_force(F=F, n=n),
        "release-least": stacks.loading_force(F=F, n=n, wM=m_low, wR=r_low),
        "release-most": stacks.loading_force(F=F, n=n, wM=m_high, wR=r_high),
        "pull-least": stacks.unloading_force(F=F, n=n, wM=m_high, wR=r_high),
        "pull-most": stacks.unloading_force(F=F, n=n, wM=m_low, wR=r_low),
        "free-length": stacks.free_length(l0=disc["t"] + disc["h0"], t=disc["t"], n=n, i=i),
        "energy": stacks.energy(W=disc_springs.work(**disc, s=s), n=n, i=i),
    }


def _stack_cautions(given: Mapping[str, Any], found: Mapping[str, Any]) -> Iterator[str]:
    if given["travel"] / given["i"] > _MOST_TRAVEL * given["h0"]:
        yield "Past three quarters of the cone height discs press harder than told, and tire sooner."
    if given["n"] > 3:
        yield "More than three discs in parallel are unusual; friction then scatters widely."
    if found["free-length"] > 3 * given["De"]:
        yield "A stack longer than three outside diameters bends and rubs on its guide."
    yield "The stack stays loaded with the air off: block it before anything that holds it is opened."


def _cylinder(*, p: float, D: float, d: float, eta: float) -> dict[str, Any]:
    push = cylinders.push_force(p=p, D=D, eta=eta)
    return {"push": push, "pull": cylinders.pull_force(p=p, D=D, d=d, eta=eta)}


def _tandem(**given: Any) -> dict[str, Any]:
    return {"push": cylinders.tandem_force(**given)}


def _intensifier(*, p: float, D_air: float, D_oil: float, D: float, eta: float) -> dict[str, Any]:
    oil = cylinders.intensified_pressure(p=p, D_air=D_air, D_oil=D_oil, eta=eta)
    return {"oil-pressure": oil, "push": cylinders.push_force(p=oil, D=D)}


def _margin(*, F: float, F_needed: float) -> dict[str, Any]:
    left = cylinders.margin(F=F, F_needed=F_needed)
    return {"margin": left.force, "relative-margin": left.relative}


def _margin_cautions(_given: Mapping[str, Any], found: Mapping[str, Any]) -> Iterator[str]:
    if found["margin"] < 0:
        yield "The actuator cannot open the stack."
    elif found["relative-margin"] < 0.1:
        yield "Less than a tenth is left; wear, friction or a low supply use that up."


CALCULATIONS: Final = (
    Calculation(
        name="disc-spring-load",
        title="Load, rate and energy of one disc spring",
        function=_disc_load,
        inputs=(*_DISC, _DEFLECTION),
        outputs=(
            Output("load", "force", "N"),
            Output("rate", "stiffness", "N/mm"),
            Output("flat-load", "force", "N"),
            Output("energy", "energy", "J"),
        ),
        source=_DISC_SOURCE,
        validity=_DISC_VALIDITY,
    ),
    Calculation(
        name="disc-spring-deflection",
        title="Deflection of one disc spring under a load",
        function=_disc_deflection,
        inputs=(*_DISC, Input("load", "F", "force", "N", "load on one disc, at most the flat load")),
        outputs=(Output("deflection", "length", "mm"),),
        source=_DISC_SOURCE,
        validity=_DISC_VALIDITY + "; cone height below 1.41 times the thickness",
    ),
    Calculation(
        name="disc-spring-stress",
        title="Stresses at the reference points of one disc spring",
        function=_disc_stress,
        inputs=(*_DISC, _DEFLECTION),
        outputs=tuple(Output(f"sigma-{point}", "pressure", "N/mm2") for point in disc_springs.Stresses._fields),
        source=_DISC_SOURCE,
        validity=_DISC_VALIDITY,
    ),
    Calculation(
        name="stack-force",
        title="Force of a disc-spring stack on both friction branches",
        function=_stack,
        inputs=(
            *_DISC,
            Input("parallel", "n", "count", "1", "discs laid the same way in each packet"),
            Input("packets", "i", "count", "1", "packets in series"),
            Input("travel", "travel", "length", "mm", "how far the whole stack is pressed from free"),
            Input("series", "series", "choice", "", "series of the disc, for its friction", "A", ("A", "B", "C")),
        ),
        outputs=(
            Output("without-friction", "force", "kN"),
            Output("pull-least", "force", "kN"),
            Output("pull-most", "force", "kN"),
            Output("release-least", "force", "kN"),
            Output("release-most", "force", "kN"),
            Output("free-length", "length", "mm"),
            Output("energy", "energy", "J"),
        ),
        source="DIN EN 16984; friction factors from memory",
        validity=_DISC_VALIDITY.replace("without friction", "friction of the series") + "; 1 to 5 in parallel",
        cautions=_stack_cautions,
    ),
    Calculation(
        name="cylinder-force",
        title="Force of a cylinder on both sides of its piston",
        function=_cylinder,
        inputs=(_PRESSURE, _BORE, Input("rod", "d", "length", "mm", "rod diameter", "0 mm"), _EFFICIENCY),
        outputs=(Output("push", "force", "kN"), Output("pull", "force", "kN")),
        source="pressure times area",
        validity="at rest, without back pressure or springs",
    ),
    Calculation(
        name="tandem-force",
        title="Force of several equal pistons on one rod",
        function=_tandem,
        inputs=(
            _PRESSURE,
            _BORE,
            Input("pistons", "k", "count", "1", "number of pistons, 1 to 6"),
            Input("rod", "d", "length", "mm", "rod diameter through the walls between the pistons", "0 mm"),
            _EFFICIENCY,
        ),
        outputs=(Output("push", "force", "kN"),),
        source="pressure times area",
        validity="at rest, the same pressure on every piston",
    ),
    Calculation(
        name="intensifier-force",
        title="Oil pressure and force of an air-over-oil intensifier",
        function=_intensifier,
        inputs=(
            _PRESSURE,
            Input("air-bore", "D_air", "length", "mm", "diameter of the air piston"),
            Input("plunger", "D_oil", "length", "mm", "diameter of the oil plunger"),
            Input("bore", "D", "length", "mm", "diameter of the oil cylinder's piston"),
            _EFFICIENCY,
        ),
        outputs=(Output("oil-pressure", "gauge-pressure", "bar(g)"), Output("push", "force", "kN")),
        source="balance of forces on the stepped piston",
        validity="at rest, oil free of air",
    ),
    Calculation(
        name="force-margin",
        title="What an actuator has left over the stack",
        function=_margin,
        inputs=(
            Input("force", "F", "force", "kN", "force of the actuator"),
            Input("needed", "F_needed", "force", "kN", "force that opens the stack, on its loading branch"),
        ),
        outputs=(Output("margin", "force", "kN"), Output("relative-margin", "ratio", "%")),
        source="common practice",
        validity="any actuator",
        cautions=_margin_cautions,
    ),
)
