"""Cylinder forces and their margin over a stack."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from clampgraph.errors import QuantityError
from clampgraph.physics import cylinders

pressures = st.floats(0.0, 1e7)
bores = st.floats(0.01, 0.5)


def test_one_piston_cannot_open_a_usual_stack():
    """Common practice: one 100 mm piston at 6 bar cannot open a 40-taper stack, four on one rod can."""
    single = cylinders.push_force(p=6e5, D=0.1)
    tandem = cylinders.tandem_force(p=6e5, D=0.1, k=4, d=0.03)
    assert single == pytest.approx(4712, abs=1)
    for stack in (8e3, 12e3):
        assert cylinders.margin(F=single, F_needed=stack).force < 0
        assert cylinders.margin(F=tandem, F_needed=stack).relative > 0.4


@given(p=pressures, D=bores, share=st.floats(0.0, 0.99))
def test_pull_is_never_more_than_push(p, D, share):
    """The rod takes area away."""
    assert cylinders.pull_force(p=p, D=D, d=share * D) <= cylinders.push_force(p=p, D=D) * (1 + 1e-12)


@given(p=pressures, D=bores, k=st.integers(1, 6))
def test_tandem_is_a_multiple(p, D, k):
    """Without a rod k pistons push k times as hard."""
    assert cylinders.tandem_force(p=p, D=D, k=k) == pytest.approx(k * cylinders.push_force(p=p, D=D))


@given(p=pressures, D=bores, scale=st.floats(0.1, 10))
def test_dimension_law(p, D, scale):
    """Force grows with the square of the bore and with the pressure."""
    assert cylinders.push_force(p=p, D=scale * D) == pytest.approx(scale**2 * cylinders.push_force(p=p, D=D))


@given(p=pressures, D=bores, ratio=st.floats(1.0, 10.0))
def test_intensifier_keeps_the_work(p, D, ratio):
    """Pressure times area is the same on both sides of the stepped piston."""
    oil = cylinders.intensified_pressure(p=p, D_air=ratio * D, D_oil=D)
    assert cylinders.push_force(p=oil, D=D) == pytest.approx(cylinders.push_force(p=p, D=ratio * D))


def test_arrays():
    """Arrays broadcast."""
    forces = cylinders.push_force(p=np.array([[1e5], [6e5]]), D=np.array([0.05, 0.1]))
    assert forces.shape == (2, 2)
    assert forces[1, 1] == pytest.approx(4712.4, abs=0.1)


@pytest.mark.parametrize(
    ("call", "said"),
    [
        (lambda: cylinders.push_force(p=-1.0, D=0.1), "zero or more"),
        (lambda: cylinders.push_force(p=6e5, D=0.0), "above zero"),
        (lambda: cylinders.push_force(p=6e5, D=0.1, eta=1.2), "outside its range"),
        (lambda: cylinders.pull_force(p=6e5, D=0.1, d=0.1), "at or above D"),
        (lambda: cylinders.tandem_force(p=6e5, D=0.1, k=0), "k = 0"),
        (lambda: cylinders.intensified_pressure(p=6e5, D_air=0.02, D_oil=0.05), "must not lie above"),
        (lambda: cylinders.margin(F=1.0, F_needed=0.0), "above zero"),
    ],
)
def test_refusals(call, said):
    """Sizes that no cylinder has are refused."""
    with pytest.raises(QuantityError, match=said):
        call()
