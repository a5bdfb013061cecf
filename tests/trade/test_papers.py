"""The machine papers of the demo and its simulated stroke speak of the same machine."""

import pytest

from clampgraph.answers.library import Library
from clampgraph.answers.replacing.replacements import SwapRequest
from clampgraph.answers.replacing.swap import swap
from clampgraph.answers.stroke.simulate import SimulateRequest, simulate

LIBRARY = Library.open()
READINGS = ("gap-at-rest", "push-out", "clamping-force")


@pytest.mark.parametrize("unit", sorted(LIBRARY.assemblies))
def test_a_healthy_stroke_passes_the_verification(unit: str) -> None:
    """What a sound unit shows in simulation lies within the acceptance values a technician verifies."""
    results = simulate(LIBRARY, SimulateRequest(assembly=unit)).results
    fitted = next(p.id for p in LIBRARY.assembly(unit).positions.values() if p.items)
    readings = {r.id: r for r in swap(LIBRARY, SwapRequest(assembly=unit, positions=(fitted,))).verification}
    compared = 0
    for name in READINGS:
        reading = readings.get(name)
        if reading is None or reading.minimum is None or reading.maximum is None:
            continue
        assert results[name].unit == reading.minimum.unit
        assert reading.minimum.value <= results[name].value <= reading.maximum.value, name
        compared += 1
    assert compared == len(READINGS)
