"""Scores of predictions, against examples worked by hand."""

import pytest
from scipy import stats

from clampgraph.cases.calibration import brier_score, reliability
from clampgraph.errors import WrongCallError


def test_the_brier_score_of_a_hand_worked_example():
    """(0.9 - 1)² + (0.2 - 0)² + (0.6 - 0)² = 0.01 + 0.04 + 0.36, over 3."""
    assert brier_score([0.9, 0.2, 0.6], [True, False, False]) == pytest.approx(0.41 / 3, rel=1e-14)


def test_the_brier_score_knows_its_ends():
    """Certain and right scores 0, certain and wrong 1, one half always a quarter; nothing cannot be scored."""
    assert brier_score([1.0, 0.0], [True, False]) == 0.0
    assert brier_score([1.0, 0.0], [False, True]) == 1.0
    assert brier_score([0.5] * 7, [True] * 3 + [False] * 4) == 0.25
    with pytest.raises(WrongCallError, match="nothing to score"):
        brier_score([], [])


def test_bins_of_a_hand_worked_example():
    """0.05 and 0.07 share the lowest bin, 0.1 opens the next, 1 belongs to the last; empty bins are left out."""
    bins = reliability([0.05, 0.07, 0.1, 0.95, 1.0], [False, True, False, True, True])
    assert [(b.low, b.high, b.count, b.found) for b in bins] == [
        (0.0, 0.1, 2, 0.5), (0.1, 0.2, 1, 0.0), (0.9, 1.0, 2, 1.0),
    ]  # fmt: skip
    assert [b.predicted for b in bins] == pytest.approx([0.06, 0.1, 0.975])
    for b, hits in zip(bins, (1, 0, 2), strict=True):
        assert b.bounds == pytest.approx(stats.beta(hits + 0.5, b.count - hits + 0.5).ppf([0.05, 0.95]))
    assert reliability([], []) == ()
