"""Stacks: series and parallel, and both friction branches."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from clampgraph.errors import QuantityError
from clampgraph.physics import stacks

loads = st.floats(0.0, 1e5)
parallel = st.integers(1, 5)
surface = st.floats(0.0, 0.03)
edge = st.floats(0.0, 0.05)


def test_branches_of_a_usual_packet():
    """Regression values: two discs 50 x 25.4 x 3 differ by about a tenth between the branches."""
    band = stacks.FRICTION["A"]
    pairs = zip(band.surface, band.edge, strict=True)
    ends = [
        (stacks.loading_force(F=11976.5, n=2, wM=m, wR=r), stacks.unloading_force(F=11976.5, n=2, wM=m, wR=r))
        for m, r in pairs
    ]
    (load_low, unload_high), (load_high, unload_low) = ends
    assert (load_low / 1e3, load_high / 1e3) == pytest.approx((24.8, 26.0), abs=0.1)
    assert (unload_low / 1e3, unload_high / 1e3) == pytest.approx((22.2, 23.1), abs=0.1)


@given(F=loads, n=parallel, wM=surface, wR=edge)
def test_friction_stands_on_both_sides(F, n, wM, wR):
    """Without friction lies between the branches."""
    assert stacks.unloading_force(F=F, n=n, wM=wM, wR=wR) <= n * F <= stacks.loading_force(F=F, n=n, wM=wM, wR=wR)


@given(F=st.floats(1.0, 1e5), n=st.integers(1, 4), wM=surface, wR=edge)
def test_more_discs_press_harder(F, n, wM, wR):
    """Each further disc in parallel raises both branches."""
    for branch in (stacks.loading_force, stacks.unloading_force):
        assert branch(F=F, n=n + 1, wM=wM, wR=wR) > branch(F=F, n=n, wM=wM, wR=wR)


def test_single_disc_without_friction():
    """One disc without friction is just that disc."""
    assert stacks.loading_force(F=100.0, n=1) == stacks.unloading_force(F=100.0, n=1) == 100.0
    assert stacks.travel(s=1e-3, i=1) == 1e-3
    assert stacks.free_length(l0=4.1e-3, t=3e-3, n=1, i=1) == 4.1e-3
    assert stacks.energy(W=5.0, n=1, i=1) == 5.0


@pytest.mark.parametrize(
    ("call", "said"),
    [
        (lambda: stacks.loading_force(F=-1.0, n=1), "zero or more"),
        (lambda: stacks.loading_force(F=1.0, n=6), "n = 6 is outside"),
        (lambda: stacks.loading_force(F=1.0, n=1.5), "whole number"),
        (lambda: stacks.loading_force(F=1.0, n=2, wM=0.2), "wM = 0.2 is outside"),
        (lambda: stacks.travel(s=1e-3, i=0), "i = 0 is outside"),
        (lambda: stacks.free_length(l0=2e-3, t=3e-3, n=1, i=1), "cone height"),
    ],
)
def test_refusals(call, said):
    """What cannot be stacked is refused."""
    with pytest.raises(QuantityError, match=said):
        call()
