"""Calculations of seals, threads, tapers and rings."""

from collections.abc import Iterator, Mapping
from typing import Any, Final

from clampgraph.errors import QuantityError
from clampgraph.physics import preload, retaining_rings, seal_gland, tapers, threads
from clampgraph.physics.calculation import Calculation, Input, Output
from clampgraph.physics.seal_gland import Gland, Ring, Span

__all__ = ["CALCULATIONS"]

_MOST_FILL: Final = 0.85
_MOST_STRETCH: Final = 0.05
_LEAST_SQUEEZE: Final = 0.08
_MOST_SQUEEZE: Final = 0.20
_TOOL: Final = (0.0, 0.0, 1.0)
_RAM: Final = (0.0, 0.0, -1.0)


def _size(name: str, symbol: str, description: str, default: str | None = None) -> Input:
    return Input(name, symbol, "length", "mm", description, default)


def _gland(**given: float) -> dict[str, Any]:
    ring = Ring(Span.about(given["ID"], given["ID_tol"]), Span.about(given["W"], given["W_tol"]))
    gland = Gland(
        bore=Span(given["bore"], given["bore"] + given["bore_tol"]),
        groove=Span(given["groove"] - given["groove_tol"], given["groove"]),
        width=Span(given["g"], given["g"] + given["g_tol"]),
    )
    figures = seal_gland.piston_gland(ring=ring, gland=gland)._asdict()
    return {
        f"{name}-{end}": value
        for name, span in figures.items()
        for end, value in zip(("least", "most"), span, strict=True)
    }


def _gland_cautions(_given: Mapping[str, Any], found: Mapping[str, Any]) -> Iterator[str]:
    if found["squeeze-least"] <= 0:
        yield "At one end of the tolerances the ring does not touch, and leaks."
    elif found["squeeze-least"] < _LEAST_SQUEEZE:
        yield "Below 8 per cent of squeeze a moving seal may leak at low pressure."
    if found["squeeze-most"] > _MOST_SQUEEZE:
        yield "Above 20 per cent of squeeze a moving seal drags and wears."
    if found["fill-most"] > _MOST_FILL:
        yield "Above 85 per cent of fill nothing is left for swelling."
    if found["stretch-least"] < 0:
        yield "At one end of the tolerances the ring is loose in its groove."
    if found["stretch-most"] > _MOST_STRETCH:
        yield "Above 5 per cent of stretch the ring ages fast."


def _sense(*, hand: threads.Hand, spindle: str, head: str) -> dict[str, Any]:
    spin = _TOOL if spindle == "clockwise" else _RAM
    into = _RAM if head == "tool" else _TOOL
    return {
        "sense": threads.rubbing_sense(hand=hand, spin=spin, into=into),
        "surviving-hand": threads.surviving_hand(spin=spin, into=into),
    }


def _sense_cautions(given: Mapping[str, Any], found: Mapping[str, Any]) -> Iterator[str]:
    if found["sense"] == "loosens":
        yield f"Contact while the spindle turns unscrews this {given['hand']}-hand thread."


def _designation(*, text: str) -> dict[str, Any]:
    told = threads.parse_designation(text=text)
    thread = threads.ScrewThread(told.d, told.P)
    unified = threads.unified_stress_area(d=told.d, n=0.0254 / told.P)
    return {
        "hand": told.hand,
        "diameter": told.d,
        "pitch": told.P,
        "pitch-diameter": thread.d2,
        "stress-area": thread.A_s if told.family == "M" else unified,
    }


def _preload(*, text: str, M: float, mu: float, dW: float, dh: float, R_p: float) -> dict[str, Any]:  # noqa: PLR0913 - one for each input
    told = threads.parse_designation(text=text)
    if told.family != "M":
        raise QuantityError(f"preload takes metric threads such as M12x1.25, not '{text}'.")
    if dW <= dh:
        raise QuantityError(f"The head's face of {dW:.6g} m must be wider than the hole of {dh:.6g} m.")
    thread, D_Km = threads.ScrewThread(told.d, told.P), (dW + dh) / 2
    F = preload.preload_from_torque(thread, M=M, mu_G=mu, mu_K=mu, D_Km=D_Km)
    most = preload.assembly_preload(thread, R_p=R_p, mu_G=mu)
    return {
        "preload": F,
        "allowed-preload": most,
        "allowed-torque": preload.tightening_torque(thread, F=most, mu_G=mu, mu_K=mu, D_Km=D_Km),
        "loosening-torque": preload.loosening_torque(thread, F=F, mu_G=mu, mu_K=mu, D_Km=D_Km),
        "nut-factor": preload.nut_factor(thread, mu_G=mu, mu_K=mu, D_Km=D_Km),
    }


def _preload_cautions(_given: Mapping[str, Any], found: Mapping[str, Any]) -> Iterator[str]:
    if found["preload"] > found["allowed-preload"]:
        yield "The torque takes the screw past nine tenths of its yield strength."


def _short(**given: float) -> dict[str, Any]:
    return {"torque": preload.short_form_torque(**given)}


def _taper(*, F: float, mu: float) -> dict[str, Any]:
    force = float(tapers.release_force(F=F, mu=mu))
    return {
        "friction-limit": tapers.self_release_limit(),
        "release-force": max(force, 0.0),
        "verdict": "sticks" if force > 0 else "lets go by itself",
    }


def _groove(**given: float) -> dict[str, Any]:
    return {"capacity": retaining_rings.groove_capacity(**given)}


CALCULATIONS: Final = (
    Calculation(
        name="o-ring-gland",
        title="Squeeze, stretch and fill of a piston O-ring over its tolerances",
        function=_gland,
        inputs=(
            _size("inside-diameter", "ID", "inside diameter of the ring"),
            _size("inside-tolerance", "ID_tol", "its tolerance, either way", "0 mm"),
            _size("section", "W", "section diameter of the ring"),
            _size("section-tolerance", "W_tol", "its tolerance, either way", "0 mm"),
            _size("bore", "bore", "bore of the cylinder, least size"),
            _size("bore-tolerance", "bore_tol", "how much wider the bore may be", "0 mm"),
            _size("groove", "groove", "groove diameter, greatest size"),
            _size("groove-tolerance", "groove_tol", "how much smaller the groove may be", "0 mm"),
            _size("width", "g", "groove width, least size"),
            _size("width-tolerance", "g_tol", "how much wider the groove may be", "0 mm"),
        ),
        outputs=tuple(
            Output(f"{name}-{end}", "ratio", "%")
            for name in ("squeeze", "stretch", "fill")
            for end in ("least", "most")
        ),
        source="ISO 3601-2 for the housing; limits common practice for moving seals",
        validity="piston seal, centred, free section",
        cautions=_gland_cautions,
    ),
    Calculation(
        name="thread-sense",
        title="Whether contact with the turning spindle tightens or loosens a screw in the resting ram",
        function=_sense,
        inputs=(
            Input("hand", "hand", "choice", "", "hand of the thread", None, ("right", "left")),
            Input(
                "spindle",
                "spindle",
                "choice",
                "",
                "sense of the spindle seen from the ram towards the tool",
                "clockwise",
                ("clockwise", "counterclockwise"),
            ),
            Input("head", "head", "choice", "", "which way the screw's head points", "tool", ("tool", "ram")),
        ),
        outputs=(Output("sense", "text", ""), Output("surviving-hand", "text", "")),
        source="derived from the helix and Coulomb friction",
        validity="contact about the spindle's axis; looking from the ram towards the tool",
        cautions=_sense_cautions,
    ),
    Calculation(
        name="thread-designation",
        title="What a thread designation says",
        function=_designation,
        inputs=(Input("thread", "text", "text", "", "designation such as M16x1.5-LH"),),
        outputs=(
            Output("hand", "text", ""),
            Output("diameter", "length", "mm"),
            Output("pitch", "length", "mm"),
            Output("pitch-diameter", "length", "mm"),
            Output("stress-area", "area", "mm2"),
        ),
        source="ISO 965-1, ISO 724, ISO 898-1; ASME B1.1",
        validity="metric and unified threads with one start",
    ),
    Calculation(
        name="preload",
        title="Preload that a tightening torque gives",
        function=_preload,
        inputs=(
            Input("thread", "text", "text", "", "metric designation such as M12x1.25"),
            Input("torque", "M", "torque", "N·m", "tightening torque"),
            Input("friction", "mu", "ratio", "1", "friction in the thread and under the head", "0.12"),
            _size("head", "dW", "outside diameter of the head's bearing face"),
            _size("hole", "dh", "diameter of the clearance hole"),
            Input("yield", "R_p", "pressure", "N/mm2", "yield strength of the screw", "640 N/mm2"),
        ),
        outputs=(
            Output("preload", "force", "kN"),
            Output("allowed-preload", "force", "kN"),
            Output("allowed-torque", "torque", "N·m"),
            Output("loosening-torque", "torque", "N·m"),
            Output("nut-factor", "ratio", "1"),
        ),
        source="VDI 2230 Part 1",
        validity="metric thread, shank screw, nine tenths of the yield strength; 8.8 if nothing is said",
        cautions=_preload_cautions,
    ),
    Calculation(
        name="torque-short-form",
        title="Tightening torque by the short form",
        function=_short,
        inputs=(
            Input("preload", "F", "force", "kN", "preload"),
            _size("diameter", "d", "major diameter of the thread"),
            Input("nut-factor", "K", "ratio", "1", "0.16 oiled, 0.20 as received, 0.30 unplated", "0.2"),
        ),
        outputs=(Output("torque", "torque", "N·m"),),
        source="Shigley, from memory",
        validity="to a quarter either way",
    ),
    Calculation(
        name="taper-release",
        title="Whether a steep taper lets go by itself, and the push that frees it",
        function=_taper,
        inputs=(
            Input("pull", "F", "force", "kN", "force that drew the taper in"),
            Input("friction", "mu", "ratio", "1", "friction on the cone"),
        ),
        outputs=(
            Output("friction-limit", "ratio", "1"),
            Output("release-force", "force", "kN"),
            Output("verdict", "text", ""),
        ),
        source="balance of forces on the cone; taper 7:24 of ISO 7388-1",
        validity="cone carries all, clean and settled by nothing but the pull",
    ),
    Calculation(
        name="ring-groove",
        title="Axial force that a retaining ring's groove carries",
        function=_groove,
        inputs=(
            _size("diameter", "d1", "diameter of the shaft or bore"),
            _size("groove", "d2", "groove diameter"),
            _size("shoulder", "n", "shoulder between groove and end, at least three groove depths"),
            Input("yield", "sigma_s", "pressure", "N/mm2", "yield strength of the grooved part", "200 N/mm2"),
        ),
        outputs=(Output("capacity", "force", "kN"),),
        source="DIN 471, DIN 472; safety factor from memory",
        validity="sharp edges; within ten per cent of the tables; the ring itself may carry less",
    ),
)
