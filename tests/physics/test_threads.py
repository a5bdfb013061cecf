"""Threads: geometry, designations in both spellings, and the derived sense of self-loosening."""

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.integrate import dblquad
from scipy.spatial.transform import Rotation

from clampgraph.errors import QuantityError
from clampgraph.physics import threads
from clampgraph.physics.threads import ScrewThread, parse_designation, rubbing_sense, surviving_hand

vectors = st.tuples(*[st.floats(-10, 10)] * 3)
hands = st.sampled_from(["right", "left"])


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("M10×1-LH", ("M", 10, 1, "left", "")),  # noqa: RUF001 - the sign that standards print
        ("M10x1-LH-6g", ("M", 10, 1, "left", "6g")),
        ("M10x1-6g-LH", ("M", 10, 1, "left", "6g")),
        ("M16x1 LH-6G", ("M", 16, 1, "left", "6G")),
        ("M16x1.5", ("M", 16, 1.5, "right", "")),
        ("M16-6g", ("M", 16, 2, "right", "6g")),
        ("M20 x 1.5-LH", ("M", 20, 1.5, "left", "")),
        ("M6x0.75-5h6h", ("M", 6, 0.75, "right", "5h6h")),
        ("M20x2-6H/5g6g", ("M", 20, 2, "right", "6H/5g6g")),
        ("M12-LH", ("M", 12, 1.75, "left", "")),
        ("1/2-13 UNC-2A-LH", ("UN", 12.7, 25.4 / 13, "left", "2A")),
        ("1/4-20 UNC", ("UN", 6.35, 1.27, "right", "")),
        ("1 1/4-12 UNF-2B", ("UN", 31.75, 25.4 / 12, "right", "2B")),
    ],
)
def test_designations(text, expected):
    """LH behind the pitch or at the end means left-handed; no mark means right-handed."""
    told = parse_designation(text=text)
    family, d, P, hand, tolerance = expected
    assert (told.family, told.hand, told.tolerance) == (family, hand, tolerance)
    assert (told.d * 1e3, told.P * 1e3) == pytest.approx((d, P))


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "not a thread designation"),
        ("G1/2", "not a thread designation"),
        ("M16xPh3P1.5", "not a thread designation"),
        ("M10x1-RH", "not a thread designation"),
        ("M11", "no coarse pitch"),
        ("M10x1-LH-6g-LH", "LH twice"),
        ("M1x5", "at or above"),
    ],
)
def test_wrong_designations(text, said):
    """What is no designation is refused in one sentence."""
    with pytest.raises(QuantityError, match=said):
        parse_designation(text=text)


def test_a_usual_spindle_unscrews_a_right_hand_push_bolt():
    """Common practice; seen along +z, from ram to tool, the spindle turns clockwise, the bolt points back."""
    assert rubbing_sense(hand="right", spin=(0, 0, 100), into=(0, 0, -1)) == "loosens"
    assert rubbing_sense(hand="left", spin=(0, 0, 100), into=(0, 0, -1)) == "tightens"
    assert surviving_hand(spin=(0, 0, 100), into=(0, 0, -1)) == "left"
    assert surviving_hand(spin=(0, 0, -100), into=(0, 0, -1)) == "right"


def test_a_bench_grinder_has_a_left_hand_thread_on_its_left():
    """Common practice from another trade: the wheel that lags at start-up must tighten its nut at both ends.

    The operator looks along +y, +x lies to the right, and the top of the wheel comes towards the operator,
    so the shaft's rotation vector is +x. The wheel rests when the shaft starts.
    """
    assert surviving_hand(spin=(0, 0, 0), into=(-1, 0, 0), holder_spin=(9, 0, 0)) == "right"
    assert surviving_hand(spin=(0, 0, 0), into=(1, 0, 0), holder_spin=(9, 0, 0)) == "left"


@given(hand=hands, spin=vectors, into=vectors, turn=vectors)
def test_the_view_does_not_matter(hand, spin, into, turn):
    """Turning the whole scene changes nothing."""
    assume(np.linalg.norm(into) > 1e-3)
    assume(abs(np.dot(spin, into)) > 1e-3 * np.linalg.norm(spin) * np.linalg.norm(into))
    turned = Rotation.from_rotvec(turn)
    seen = rubbing_sense(hand=hand, spin=turned.apply(spin), into=turned.apply(into))
    assert seen == rubbing_sense(hand=hand, spin=spin, into=into)


@given(spin=vectors, into=vectors)
def test_mirror_swaps_the_hands(spin, into):
    """One hand tightens exactly where the other loosens, and reversing the spindle swaps them."""
    assume(np.linalg.norm(into) > 1e-3)
    right, left = (rubbing_sense(hand=hand, spin=spin, into=into) for hand in ("right", "left"))
    back = rubbing_sense(hand="right", spin=[-part for part in spin], into=into)
    swapped = {"tightens": "loosens", "loosens": "tightens", "neither": "neither"}
    assert left == back == swapped[right]


@given(hand=hands, spin=vectors, into=vectors)
def test_turning_together_drags_nothing(hand, spin, into):
    """A holder that turns with the rubbing body leaves the screw alone; so does a sideways spin."""
    assume(np.linalg.norm(into) > 1e-3)
    assert rubbing_sense(hand=hand, spin=spin, into=into, holder_spin=spin) == "neither"
    assert rubbing_sense(hand=hand, spin=(1, 0, 0), into=(0, 0, 1)) == "neither"
    assert surviving_hand(spin=(1, 0, 0), into=(0, 0, 1)) is None


def test_drag_torque_equals_the_integral():
    """Closed form against SciPy's integral of friction over the ring."""
    r_i, r_o = 0.003, 0.008
    pressure = 1000.0 / (np.pi * (r_o**2 - r_i**2))
    torque, _ = dblquad(lambda r, _: 0.15 * pressure * r * r, 0, 2 * np.pi, r_i, r_o)
    assert threads.drag_torque(N=1000.0, mu=0.15, r_o=r_o, r_i=r_i) == pytest.approx(torque)


@given(r_o=st.floats(1e-3, 0.1), share=st.floats(0, 0.999))
def test_drag_acts_between_the_radii(r_o, share):
    """The mean radius lies between two thirds of the outer radius and that radius."""
    mean = threads.drag_torque(N=1.0, mu=1.0, r_o=r_o, r_i=share * r_o)
    assert r_o * 2 / 3 * (1 - 1e-12) <= mean <= r_o


@given(d=st.floats(3e-3, 0.1), share=st.floats(0.02, 0.25), scale=st.floats(0.1, 10))
def test_geometry(d, share, scale):
    """The diameters are nested, and areas grow with the square."""
    thread = ScrewThread(d=d, P=share * d)
    assert thread.d3 < thread.D1 < thread.d2 < thread.d
    assert ScrewThread(d=scale * d, P=scale * share * d).A_s == pytest.approx(scale**2 * thread.A_s)


@pytest.mark.parametrize(
    ("call", "said"),
    [
        (lambda: ScrewThread(d=0.0, P=1e-3), "d = 0"),
        (lambda: threads.drag_torque(N=1.0, mu=0.1, r_o=0.01, r_i=0.01), "at or above r_o"),
        (lambda: threads.unified_stress_area(d=0.001, n=4), "at or above d"),
        (lambda: rubbing_sense(hand="both", spin=(0, 0, 1), into=(0, 0, 1)), "'right' or 'left'"),
        (lambda: rubbing_sense(hand="left", spin=(0, 0, 1), into=(0, 0, 0)), "no length"),
        (lambda: rubbing_sense(hand="left", spin=(0, 1), into=(0, 0, 1)), "three finite parts"),
        (lambda: rubbing_sense(hand="left", spin=(0, 0, float("nan")), into=(0, 0, 1)), "three finite parts"),
    ],
)
def test_refusals(call, said):
    """Impossible threads and vectors are refused."""
    with pytest.raises(QuantityError, match=said):
        call()
