"""Restrictions in series and in parallel, joined to one: ISO 6358-3's rules, and refusal of a bridge."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from clampgraph.answers.stroke.circuits import Restriction, join
from clampgraph.errors import DataError
from clampgraph.physics import valve_flow
from clampgraph.physics.stroke import Orifice

C = st.floats(1e-9, 1e-7)


def way(start, end, size, share=0.3):
    return Restriction("valve", start, end, Orifice(size, share))


@given(C, C, C)
def test_series_and_parallel_follow_the_library_of_formulas(a, b, c):
    """Two in parallel, then one in series, as the functions of ISO 6358 say."""
    found = join([way("in", "middle", a), way("in", "middle", b), way("middle", "out", c)], "in", "out")
    both = valve_flow.parallel_conductance(a, b)
    assert pytest.approx(float(valve_flow.series_conductance(both, c)), rel=1e-12) == found.C
    assert found.b == pytest.approx(0.3, rel=1e-12)


@given(C, st.floats(0.1, 0.5), st.floats(0.1, 0.5))
def test_the_critical_ratio_of_the_whole_lies_between(size, low, high):
    """A mean is never outside what it is taken of."""
    found = join([way("in", "m", size, low), way("m", "out", size, high)], "in", "out")
    assert min(low, high) - 1e-12 <= found.b <= max(low, high) + 1e-12


def test_dead_ends_and_shut_ways_carry_nothing():
    """What leads nowhere or is shut changes nothing; no way at all is shut."""
    open_way = way("in", "out", 1e-8)
    assert join([open_way, way("in", "gauge", 1e-8), way("gauge", "plug", 1e-8)], "in", "out") == open_way.orifice
    assert join([way("in", "out", 0.0)], "in", "out").C == 0.0
    assert join([way("in", "elsewhere", 1e-8)], "in", "out").C == 0.0


def test_a_bridge_is_refused():
    """Neither series nor parallel: one clear sentence."""
    ends = [("in", "a"), ("in", "b"), ("a", "b"), ("a", "out"), ("b", "out")]
    with pytest.raises(DataError, match="neither series nor parallel"):
        join([way(p, q, 1e-8) for p, q in ends], "in", "out")
