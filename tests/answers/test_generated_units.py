"""Units nobody drew, of 25 to 200 positions: cut sets, swaps and drawings work on all of them."""

import itertools
import xml.etree.ElementTree as ET

import pytest

from assembly.topologies import Shape, build, grown
from clampgraph.answers.library import Library
from clampgraph.answers.replacing.replacements import SwapRequest
from clampgraph.answers.replacing.swap import swap
from clampgraph.assembly import derive
from clampgraph.diagnosis.derive import network_of
from clampgraph.diagnosis.fault_tree import fault_tree
from clampgraph.drawing.circuit import CircuitStyle, circuit
from clampgraph.drawing.layout import lay_out
from clampgraph.drawing.symbols import geometry

SIZES = [(25, 0), (25, 1), (40, 2), (80, 3), (120, 4), (200, 5)]
SHAPES = [
    Shape(),
    Shape(mains=2),
    Shape(mains=2, exhausts=1, approach=True),
    Shape(supply=("filter", (("filter",), ("supply-regulator", "lubricator"))), branches=(("filter",),), spindle=False),
]


class Drawn(Library):
    """A library that also knows one assembly described nowhere."""

    def __init__(self, library, assembly):
        super().__init__(library.graph)
        self.__dict__["knowledge"] = library.knowledge
        self.drawn = assembly
        self.__dict__["assemblies"] = {**library.assemblies, assembly.id: {}}

    def assembly(self, name, generation=None):
        """Return the drawn assembly by its name, any other one as described."""
        return self.drawn if name == self.drawn.id else super().assembly(name, generation)


@pytest.fixture(params=[*SIZES, *SHAPES], ids=str)
def unit(request, library):
    shape = request.param
    return build(library.knowledge, shape) if isinstance(shape, Shape) else grown(library.knowledge, *shape)


def test_cut_sets_of_a_generated_unit_are_minimal(unit, library):
    """Every symptom that can show has cut sets, and none of them contains another."""
    network = network_of(derive(unit, library.knowledge), library.knowledge)
    tops = [node.id for node in network.of_kind("symptom") if "hiss" in node.id or "water" in node.id]
    assert tops
    for top in tops:
        sets = [frozenset(found.events) for found in fault_tree(network, top, 2).cut_sets]
        assert sets
        assert not any(one < other for one, other in itertools.permutations(sets, 2))


def test_a_generated_unit_is_drawn_whole(unit, library):
    """Every position and connection is drawn, no two symbols share their place, and the picture is well formed."""
    layout = lay_out(unit, dict.fromkeys(unit.positions, geometry("box")))
    assert set(layout.centres) == set(unit.positions)
    drawn = {wire.connection.iri for wire in layout.wires} | {mark.connection.iri for mark in layout.marks}
    assert drawn == {c.iri for c in unit.connections}
    assert len(set(layout.centres.values())) == len(unit.positions)
    style = CircuitStyle("clamped", dict.fromkeys(unit.positions, "box"))
    assert ET.fromstring(circuit(unit, library.knowledge, style)).tag.endswith("svg")  # noqa: S314  # our own output


def test_every_position_of_a_generated_unit_can_be_renewed(unit, library):
    """A swap answers for each position, with the position among what must be renewed, and with steps."""
    drawn = Drawn(library, unit)
    for position in list(unit.positions)[:40]:
        answer = swap(drawn, SwapRequest(assembly=unit.id, positions=(position,)))
        assert position in {line.position for line in answer.lines if line.level == "must"}
        assert answer.steps
        assert answer.cautions


def test_every_position_of_the_demo_can_be_renewed(library):
    """For every position of every generation there are lines, steps, verification and a proven order."""
    for name in library.assemblies:
        for generation in library.assembly(name).generations:
            for position in library.assembly(name, generation.id).positions:
                question = SwapRequest(assembly=name, generation=generation.id, positions=(position,))
                answer = swap(library, question)
                assert position in {line.position for line in answer.lines if line.level == "must"}
                assert answer.steps
                assert answer.verification
                assert answer.order.optimal
