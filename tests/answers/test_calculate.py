"""Calculations at the doors: trade text in, described figures out."""

import pytest

from clampgraph.answers.calculate import calculate, calculations
from clampgraph.errors import QuantityError, UnknownNameError
from clampgraph.physics.catalogue import CALCULATIONS


def test_a_100_mm_piston_pushes_4_7_kn_at_6_bar():
    """Catalogues print 4712 N for 100 mm at 6 bar (from memory)."""
    answer = calculate("cylinder-force", {"pressure": "6bar", "bore": "100mm"})
    assert answer.results["push"].value == pytest.approx(4.712, abs=5e-4)
    assert answer.results["push"].unit == "kN"
    assert answer.inputs["pressure"].unit == "bar(g)"
    assert answer.source


def test_every_calculation_is_listed_with_what_it_needs():
    """The list names each calculation once, sorted, with its inputs and results."""
    listed = calculations().calculations
    assert [c.name for c in listed] == sorted(CALCULATIONS)
    for found in listed:
        assert [i.name for i in found.inputs] == [i.name for i in CALCULATIONS[found.name].inputs]
        assert found.results


@pytest.mark.parametrize(
    ("name", "inputs", "error", "words"),
    [
        ("cylinder-forse", {}, UnknownNameError, "cylinder-force"),
        ("cylinder-force", {"pressure": "6bar"}, QuantityError, "bore"),
        ("cylinder-force", {"pressure": "6", "bore": "100mm"}, QuantityError, "no unit"),
        ("cylinder-force", {"pressure": "6bar", "bore": "-1mm"}, QuantityError, "above zero"),
    ],
)
def test_what_cannot_be_calculated_is_told_in_one_sentence(name, inputs, error, words):
    """A typing error, a missing input, a bare number and a negative length each say what would be right."""
    with pytest.raises(error, match=words):
        calculate(name, inputs)
