"""O-ring glands: definitions, limits, and the extremes of tolerances."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from clampgraph.errors import QuantityError
from clampgraph.physics import seal_gland as sg
from clampgraph.physics.seal_gland import Gland, Ring, Span

RING = Ring(inside=Span.about(37.69e-3, 0.38e-3), section=Span.about(3.53e-3, 0.10e-3))
GLAND = Gland(bore=Span(44.50e-3, 44.56e-3), groove=Span(38.30e-3, 38.36e-3), width=Span(4.7e-3, 4.8e-3))
shares = st.floats(0.0, 1.0)


def within(span, share):
    return span.low + share * (span.high - span.low)


@given(a=shares, b=shares, c=shares, d=shares, e=shares)
def test_no_ring_inside_the_tolerances_lies_outside_the_figures(a, b, c, d, e):
    """Whatever the tolerances give, squeeze, stretch and fill stay within the told spans."""
    ID, W = within(RING.inside, a), within(RING.section, b)
    bore, groove, width = within(GLAND.bore, c), within(GLAND.groove, d), within(GLAND.width, e)
    figures = sg.piston_gland(ring=RING, gland=GLAND)
    h = (bore - groove) / 2
    told = (figures.squeeze, figures.stretch, figures.fill)
    values = (sg.squeeze(W=W, h=h), sg.stretch(ID=ID, d=groove), sg.fill(W=W, g=width, h=h))
    for span, value in zip(told, values, strict=True):
        assert span.low - 1e-12 <= value <= span.high + 1e-12


def test_without_tolerances_the_spans_close():
    """Exact sizes give exact figures."""
    exact = sg.piston_gland(
        ring=Ring(Span.about(37.69e-3, 0.0), Span.about(3.53e-3, 0.0)),
        gland=Gland(Span(44.5e-3, 44.5e-3), Span(38.3e-3, 38.3e-3), Span(4.7e-3, 4.7e-3)),
    )
    assert all(span.low == span.high for span in exact)
    assert exact.squeeze.low == pytest.approx(sg.squeeze(W=3.53e-3, h=3.1e-3))


def test_a_loose_ring_shows_as_negative():
    """A gland deeper than the section does not squeeze; a groove below the inside diameter is loose."""
    assert sg.squeeze(W=3e-3, h=3.1e-3) < 0
    assert sg.stretch(ID=40e-3, d=39e-3) < 0


@given(W=st.floats(1e-3, 1e-2), epsilon=st.floats(0.0, 0.5))
def test_stretching_keeps_the_volume(W, epsilon):
    """Section area times length stays."""
    thin = sg.stretched_section(W=W, epsilon=epsilon)
    assert thin**2 * (1 + epsilon) == pytest.approx(W**2)


@given(scale=st.floats(0.01, 100))
def test_figures_have_no_dimension(scale):
    """Scaling all sizes changes nothing."""
    assert sg.fill(W=3.53 * scale, g=4.7 * scale, h=3.1 * scale) == pytest.approx(sg.fill(W=3.53, g=4.7, h=3.1))


def test_arrays():
    """Arrays keep their shape."""
    assert sg.squeeze(W=np.array([1.78e-3, 2.62e-3, 3.53e-3]), h=1.5e-3).shape == (3,)


@pytest.mark.parametrize(
    ("call", "said"),
    [
        (lambda: sg.squeeze(W=0.0, h=1e-3), "W = 0"),
        (lambda: sg.stretch(ID=0.0, d=1e-3), "ID = 0"),
        (lambda: sg.fill(W=1e-3, g=1e-3, h=0.0), "h = 0"),
        (lambda: sg.stretched_section(W=1e-3, epsilon=0.6), "most stretch"),
        (
            lambda: sg.piston_gland(ring=RING, gland=Gland(GLAND.groove, GLAND.bore, GLAND.width)),
            "stay below the bore",
        ),
        (lambda: sg.piston_gland(ring=Ring(Span(2.0, 1.0), RING.section), gland=GLAND), "least size"),
    ],
)
def test_refusals(call, said):
    """Sizes that make no gland are refused."""
    with pytest.raises(QuantityError, match=said):
        call()
