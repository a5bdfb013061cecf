"""The circuit drawing: complete, readable, and true to the phase."""

import itertools
import xml.etree.ElementTree as ET

import pytest

from clampgraph.answers.draw import DrawRequest, draw
from clampgraph.answers.library import Library
from clampgraph.drawing.layout import lay_out
from clampgraph.drawing.symbols import SYMBOLS, body, edge
from clampgraph.drawing.symbols import draw as parts_of
from clampgraph.errors import UnknownNameError

SVG = "{http://www.w3.org/2000/svg}"
UNITS = sorted(Library.open().assemblies)


@pytest.fixture(scope="module")
def library() -> Library:
    return Library.open()


def picture(library: Library, **question: object) -> ET.Element:
    return ET.fromstring(draw(library, DrawRequest.model_validate(question)))  # noqa: S314  # our own output


def words(svg: ET.Element) -> list[str]:
    return [t.text or "" for t in svg.iter(f"{SVG}text")]


@pytest.mark.parametrize("unit", UNITS)
def test_every_position_stands_with_its_designation(unit: str, library: Library) -> None:
    """Each position is drawn once, named by its reference designation."""
    svg = picture(library, assembly=unit)
    shown = words(svg)
    for position in library.assembly(unit).positions.values():
        assert shown.count(position.designation) == 1
        assert len([g for g in svg.iter(f"{SVG}g") if g.get("id") == f"position-{position.id}"]) == 1


@pytest.mark.parametrize("unit", UNITS)
def test_symbols_do_not_overlap(unit: str, library: Library) -> None:
    """No two symbols with their captions share space, and all lie inside the picture."""
    assembly = library.assembly(unit)
    layout = lay_out(assembly, dict.fromkeys(assembly.positions, 30.0))
    for (_, (x1, y1)), (_, (x2, y2)) in itertools.combinations(layout.centres.items(), 2):
        assert abs(x1 - x2) >= 100 or abs(y1 - y2) >= 70
    width, height = layout.size
    assert all(30 < x < width and 0 < y < height for x, y in layout.centres.values())


@pytest.mark.parametrize("unit", UNITS)
def test_every_connection_is_a_line_or_a_pair_of_marks(unit: str, library: Library) -> None:
    """No connection is lost; lines run square and from port to port."""
    assembly = library.assembly(unit)
    layout = lay_out(assembly, dict.fromkeys(assembly.positions, 30.0))
    drawn = {w.connection.iri for w in layout.wires}
    marked = [m.connection.iri for m in layout.marks]
    assert drawn | set(marked) == {c.iri for c in assembly.connections}
    assert all(marked.count(iri) == 2 for iri in marked)
    for wire in layout.wires:
        c = wire.connection
        assert wire.points[0] == layout.ports[c.from_position, c.from_port]
        assert wire.points[-1] == layout.ports[c.to_position, c.to_port]
        assert all(a[0] == b[0] or a[1] == b[1] for a, b in itertools.pairwise(wire.points))


@pytest.mark.parametrize("unit", UNITS)
def test_marks_stand_clear_of_each_other(unit: str, library: Library) -> None:
    """No mark covers another, also where several connections end at one port."""
    lines = next(g for g in picture(library, assembly=unit).iter(f"{SVG}g") if g.get("class") == "connections")
    marks = [
        (float(c.get("cx", "0")), float(c.get("cy", "0"))) for c in lines.iter(f"{SVG}circle") if c.get("r") == "6.5"
    ]
    assert marks
    for (x1, y1), (x2, y2) in itertools.combinations(marks, 2):
        assert abs(x1 - x2) >= 13 or abs(y1 - y2) >= 13


def thickness(library: Library, phase: str) -> dict[float, int]:
    svg = picture(library, assembly="brannoch-40t", phase=phase)
    lines = next(g for g in svg.iter(f"{SVG}g") if g.get("class") == "connections")
    found: dict[float, int] = {}
    for line in lines.iter(f"{SVG}polyline"):
        width = float(line.get("stroke-width", "1.2"))
        found[width] = found.get(width, 0) + 1
    return found


def test_more_lines_carry_pressure_on_release_than_at_rest(library: Library) -> None:
    """The phase decides which lines are thick (pressure) and which are dashed (venting)."""
    rest, release = thickness(library, "clamped"), thickness(library, "release")
    assert release[2.8] > rest[2.8]
    assert thickness(library, "reclamp")[1.6] > release.get(1.6, 0)


def test_suspects_are_numbered_and_explained(library: Library) -> None:
    """A suspect has a number at its place and a line in the legend, and screen readers hear of it."""
    svg = picture(library, assembly="brannoch-40t", highlight=["approach-valve:stuck-shut", "piston-seal"])
    assert "approach-valve: stuck shut" in words(svg)
    assert words(svg).count("1") >= 2
    assert "suspect 1: approach-valve" in (svg.findtext(f"{SVG}desc") or "")
    assert svg.findtext(f"{SVG}title")


def test_the_same_question_gives_the_same_bytes(library: Library) -> None:
    """A drawing can be kept under version control."""
    question = DrawRequest(assembly="brannoch-40t", phase="release")
    assert draw(library, question) == draw(Library.open(), question)


def test_every_symbol_of_the_data_is_known(library: Library) -> None:
    """A misspelt symbol name would silently become a box."""
    named = {str(row["symbol"]) for row in library.graph.ask("drawing/list-symbols")}
    assert named <= set(SYMBOLS)


@pytest.mark.parametrize("name", sorted(SYMBOLS))
def test_symbols_keep_to_their_room(name: str) -> None:
    """Each symbol has parts and reaches no further than its layer allows."""
    assert parts_of(name)
    assert 0 < body(name) <= edge(name) <= 40


@pytest.mark.parametrize(
    ("question", "said"),
    [
        ({"assembly": "brannoch-40"}, "brannoch-40t"),
        ({"assembly": "brannoch-40t", "phase": "releas"}, "nearest: release"),
        ({"assembly": "brannoch-30s", "phase": "approach"}, "in the cycle of brannoch-30s"),
        ({"assembly": "brannoch-40t", "highlight": ["main-valv"]}, "nearest: main-valve"),
        ({"assembly": "brannoch-40t", "highlight": ["main-valve:stuck"]}, "stuck-shut"),
    ],
)
def test_unknown_names_are_told_with_the_nearest(question: dict[str, object], said: str, library: Library) -> None:
    """Each wrong name gets one sentence that helps."""
    with pytest.raises(UnknownNameError, match=said):
        draw(library, DrawRequest.model_validate(question))
