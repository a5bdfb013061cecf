"""Recommended clamping forces of hollow shank tapers (DIN 69893-1, annex A.1, from memory) and the demo unit."""

import csv
import itertools

from clampgraph import paths
from clampgraph.answers.library import Library
from clampgraph.answers.replacing.replacements import SwapRequest
from clampgraph.answers.replacing.swap import swap


def forces() -> dict[int, float]:
    lines = (paths.data() / "standards" / "hsk-clamping-forces.csv").read_text("utf-8").splitlines()
    rows = csv.DictReader(line for line in lines if not line.startswith("#"))
    return {int(row["size"]): float(row["force_kN"]) for row in rows}


def test_forces_rise_with_the_size_and_by_no_leaps() -> None:
    """An internal rule for each row: a larger taper is pulled harder, at most twice as hard as the next smaller."""
    found = [force for _, force in sorted(forces().items())]
    assert len(found) == 9
    assert all(small < large <= 2 * small for small, large in itertools.pairwise(found))


def test_the_demo_unit_accepts_what_the_standard_recommends() -> None:
    """The acceptance band of the invented 63 unit holds the recommended force of its size."""
    answer = swap(Library.open(), SwapRequest(assembly="ulvedal-63h", positions=("rod-seal",)))
    reading = next(r for r in answer.verification if r.id == "clamping-force")
    assert reading.minimum is not None
    assert reading.maximum is not None
    assert reading.minimum.value <= forces()[63] <= reading.maximum.value
