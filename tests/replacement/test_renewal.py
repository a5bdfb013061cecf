"""Renewal: the chance to fail against its closed form and its limits, and the verdict against its arithmetic."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from clampgraph.assembly.knowledge import ComponentType, FailureMode, Remedy
from clampgraph.replacement.facts import Wear
from clampgraph.replacement.renewal import chance_to_fail

RATE = 0.02
YEARS = st.floats(0.0, 40.0)


def kind(action="replace-item", mechanism="wear"):
    mode = FailureMode("", "worn", "worn", mechanism, RATE, 5, "", (), (), (Remedy(action, "", 10.0),))
    return ComponentType("", "part", "part", "", "", "", ("part",), modes={"worn": mode})


def wear(shape):
    return {"wear": Wear(shape, 10.0, "")}


@given(YEARS, st.floats(0.1, 10.0))
def test_shape_one_knows_no_age(age, horizon):
    """With shape 1 the chance is 1 - exp(-rate x horizon), whatever the age."""
    assert chance_to_fail(kind(), wear(1.0), age, horizon) == pytest.approx(-math.expm1(-RATE * horizon), rel=1e-9)


@given(st.floats(1.0, 4.0))
def test_over_one_service_life_the_rate_is_the_average(shape):
    """From new to the end of the service life the failures to expect are rate times life, for every shape."""
    assert chance_to_fail(kind(), wear(shape), 0.0, 10.0) == pytest.approx(-math.expm1(-RATE * 10.0))


@given(YEARS, YEARS, st.floats(1.1, 4.0))
def test_wear_makes_the_old_fail_sooner(one, other, shape):
    """With a shape above 1 the older part has the greater chance."""
    young, old = sorted((one, other))
    assert chance_to_fail(kind(), wear(shape), young, 3.0) <= chance_to_fail(kind(), wear(shape), old, 3.0) + 1e-12


@pytest.mark.parametrize("part", [kind(action="adjust"), kind(mechanism="maladjustment")])
def test_what_no_new_part_ends_counts_not(part):
    """A setting is not renewed, and a mechanism without a wear pattern does not age."""
    assert chance_to_fail(part, wear(2.0), 20.0, 3.0) == 0.0
