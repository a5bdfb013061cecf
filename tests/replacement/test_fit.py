"""The rules of fit, one by one, and that missing data never counts as a fit."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from clampgraph.errors import DataError
from clampgraph.replacement.facts import Feature, Requirement
from clampgraph.replacement.fit import compare
from replacement.sites import catalogue

MM, INCH, BAR = (lambda v: Feature(v, "mm")), (lambda v: Feature(v, "in")), (lambda v: Feature(v, "bar"))
TRADE = catalogue(matings=[("fit-class", "H8", "f7")])
RULES = ("equal", "at-least", "at-most", "within-tolerance", "complementary")


def holds(rule, required, offered, tolerance=None):
    return compare(TRADE, Requirement("c", "p", "fit-class", rule, tolerance=tolerance), required, offered)


@pytest.mark.parametrize(("rule", "required", "offered", "expected"), [
    ("equal", MM(25.4), INCH(1.0), True),
    ("equal", MM(25.4), MM(25.5), False),
    ("equal", Feature("G"), Feature("NPT"), False),
    ("equal", Feature("G"), Feature("G"), True),
    ("at-least", BAR(8.0), BAR(10.0), True),
    ("at-least", BAR(8.0), BAR(6.0), False),
    ("at-most", MM(50.0), MM(50.0), True),
    ("at-most", MM(50.0), MM(51.0), False),
    ("complementary", Feature("H8"), Feature("f7"), True),
    ("complementary", Feature("f7"), Feature("H8"), True),
    ("complementary", Feature("H8"), Feature("H8"), False),
    ("equal", MM(3.0), BAR(3.0), None),
    ("at-least", Feature("big"), MM(3.0), None),
    ("equal", Feature("3"), MM(3.0), None),
])  # fmt: skip
def test_rules(rule, required, offered, expected):
    """Each rule says yes, no, or that the two cannot be compared."""
    assert holds(rule, required, offered) is expected


@pytest.mark.parametrize(("offered", "expected"), [(24.99, True), (25.4, True), (25.41, False), (24.58, False)])
def test_within_tolerance_is_closed_at_both_ends(offered, expected):
    """A value on the limit is within it."""
    assert holds("within-tolerance", MM(25.0), MM(offered), MM(0.4)) is expected


def test_within_an_unstated_tolerance_is_unknown():
    """A tolerance that nobody states is a missing datum."""
    assert holds("within-tolerance", MM(25.0), MM(25.0)) is None


@given(st.sampled_from(RULES), st.one_of(st.floats(0.1, 100).map(MM), st.text(max_size=3).map(Feature)), st.booleans())
def test_a_missing_value_never_fits(rule, value, asked):
    """Whatever the rule, with one side missing the answer is: unknown."""
    assert holds(rule, None if asked else value, value if asked else None) is None


@given(st.floats(0.1, 1000), st.floats(0.1, 1000))
def test_equal_is_at_least_and_at_most(one, other):
    """A value is equal exactly where it is both not below and not above."""
    both = holds("at-least", MM(one), MM(other)) and holds("at-most", MM(one), MM(other))
    assert holds("equal", MM(one), MM(other)) is both


def test_an_unknown_rule_is_a_fault_of_the_data():
    """The sentence names the rule and the ones there are."""
    with pytest.raises(DataError, match="'nearly' of c is unknown; write one of equal, at-least"):
        holds("nearly", MM(1.0), MM(1.0))
