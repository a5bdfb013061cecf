"""The circuit drawing: complete, readable, and true to the phase."""

import hashlib
import itertools
import subprocess
import sys
import xml.etree.ElementTree as ET

import networkx as nx
import pytest
from hypothesis import given
from hypothesis import strategies as st

from clampgraph.answers.draw import DrawRequest, draw
from clampgraph.answers.library import Library
from clampgraph.drawing.layout import CAPTION, DISC, Layout, lay_out
from clampgraph.drawing.ranking import ranked
from clampgraph.drawing.routing import junctions
from clampgraph.drawing.svg import extent
from clampgraph.drawing.symbols import SYMBOLS, geometry
from clampgraph.drawing.symbols import draw as parts_of
from clampgraph.errors import UnknownNameError

SVG = "{http://www.w3.org/2000/svg}"
UNITS = sorted(Library.open().assemblies)


@pytest.fixture(scope="module")
def library() -> Library:
    return Library.open()


def picture(library: Library, **question: object) -> ET.Element:
    return ET.fromstring(draw(library, DrawRequest.model_validate(question)))  # noqa: S314  # our own output


def plan(library: Library, unit: str) -> Layout:
    """Lay a unit out as `draw` does."""
    assembly = library.assembly(unit)
    known = {str(row["type"]): str(row["symbol"]) for row in library.graph.ask("drawing/list-symbols")}
    kinds = {p.id: next((known[k] for k in p.type.lineage if k in known), "box") for p in assembly.positions.values()}
    return lay_out(assembly, {position: geometry(kind) for position, kind in kinds.items()})


def runs(layout: Layout):
    """Give every straight run with its connection."""
    return [(a, b, w.connection) for w in layout.wires for a, b in itertools.pairwise(w.points) if a != b]


def boxed(a, b):
    return min(a[0], b[0]), min(a[1], b[1]), max(a[0], b[0]), max(a[1], b[1])


def meet(one, other, clear=0.0):
    return (
        one[0] < other[2] + clear
        and other[0] < one[2] + clear
        and one[1] < other[3] + clear
        and other[1] < one[3] + clear
    )


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
    layout = plan(library, unit)
    boxes = [caption(layout, position) for position in layout.centres]
    boxes += [(x - 24, y - 22, x + 24, y + 22) for x, y in layout.centres.values()]
    for one, other in itertools.combinations(boxes, 2):
        assert not meet(one, other)
    width, height = layout.size
    assert all(x1 >= 0 and x2 <= width and y1 >= 0 and y2 <= height for x1, y1, x2, y2 in boxes)


def caption(layout: Layout, position: str):
    (x, y), half = layout.centres[position], extent(position, CAPTION) / 2
    below = max((py - y for (owner, _), (_, py) in layout.ports.items() if owner == position), default=0.0)
    top = y + max(31.0, below + 16.0) - CAPTION
    return x - half, top, x + half, top + CAPTION + 10


@pytest.mark.parametrize("unit", UNITS)
def test_no_line_runs_through_words_or_marks(unit: str, library: Library) -> None:
    """Lines keep clear of every caption, and of every mark that stands for something else."""
    layout = plan(library, unit)
    marks = [(m.port[0] + (m.reach if m.right else -m.reach), m.port[1], m.port) for m in layout.marks]
    for a, b, _ in runs(layout):
        for position in layout.centres:
            assert not meet(boxed(a, b), caption(layout, position))
        for x, y, port in marks:
            disc = (x - DISC / 2, y - DISC / 2, x + DISC / 2, y + DISC / 2)
            assert port in (a, b) or not meet(boxed(a, b), disc)


@pytest.mark.parametrize("unit", UNITS)
def test_lines_of_different_ports_do_not_lie_on_each_other(unit: str, library: Library) -> None:
    """Two lines share a run only where they begin or end at one port."""
    layout = plan(library, unit)
    for (a, b, one), (c, d, other) in itertools.combinations(runs(layout), 2):
        ends = {(x.from_position, x.from_port) for x in (one, other)}
        ends_too = {(x.to_position, x.to_port) for x in (one, other)}
        if 1 in (len(ends), len(ends_too)):
            continue
        level, upright = a[1] == b[1] == c[1] == d[1], a[0] == b[0] == c[0] == d[0]
        if level or upright:
            axis = 0 if level else 1
            assert max(a[axis], b[axis]) <= min(c[axis], d[axis]) or max(c[axis], d[axis]) <= min(a[axis], b[axis])


def test_lines_that_join_carry_a_dot(library: Library) -> None:
    """Where one pipe forks or two meet, a dot says so; where lines only cross, there is none."""
    layout = plan(library, "brannoch-40t")
    assert len(junctions(layout.wires)) == 2


@pytest.mark.parametrize("unit", UNITS)
def test_every_connection_is_a_line_or_a_pair_of_marks(unit: str, library: Library) -> None:
    """No connection is lost; lines run square and from port to port."""
    assembly = library.assembly(unit)
    layout = plan(library, unit)
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
    """A drawing can be kept under version control: another process draws the same."""
    program = (
        "import hashlib; from clampgraph.answers.draw import DrawRequest, draw\n"
        "from clampgraph.answers.library import Library\n"
        "svg = draw(Library.open(), DrawRequest(assembly='ulvedal-63h', phase='release'))\n"
        "print(hashlib.sha256(svg.encode()).hexdigest())"
    )
    found = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    own = draw(library, DrawRequest(assembly="ulvedal-63h", phase="release"))
    assert found.stdout.strip() == hashlib.sha256(own.encode()).hexdigest()


@given(st.lists(st.tuples(st.integers(0, 9), st.integers(0, 9)), max_size=18))
def test_everything_follows_from_left_to_right(links: list[tuple[int, int]]) -> None:
    """Whatever leads to whatever, layers rise along every line, and no two places are nearer than a row."""
    pairs = list(dict.fromkeys((f"n{min(p)}", f"n{max(p)}") for p in links if p[0] != p[1]))
    members = [f"n{i}" for i in range(10)]
    cells, chains = ranked(members, pairs)
    assert cells.keys() >= set(members)
    for start, end in pairs:
        trail = [cells[start], *(cells[w] for w in chains[start, end]), cells[end]]
        assert [layer for layer, _ in trail] == list(range(trail[0][0], trail[-1][0] + 1))
    for (layer, row), (other, beside) in itertools.combinations(cells.values(), 2):
        assert layer != other or abs(row - beside) >= 1.0


def test_what_need_not_cross_does_not() -> None:
    """A tree is drawn without crossings, and the peer counts as many layers."""
    tree = [("r", "a"), ("r", "b"), ("a", "c"), ("b", "d"), ("a", "e"), ("b", "f")]
    cells, _ = ranked(["r", "f", "a", "e", "b", "c", "d"], tree)
    at = [((cells[s][1], cells[e][1]), cells[s][0]) for s, e in tree]
    assert not [1 for ((a, b), g), ((c, d), h) in itertools.combinations(at, 2) if g == h and (a - c) * (b - d) < 0]
    assert 1 + max(layer for layer, _ in cells.values()) == nx.dag_longest_path_length(nx.DiGraph(tree)) + 1


def test_every_symbol_of_the_data_is_known(library: Library) -> None:
    """A misspelt symbol name would silently become a box."""
    named = {str(row["symbol"]) for row in library.graph.ask("drawing/list-symbols")}
    assert named <= set(SYMBOLS)


@pytest.mark.parametrize("name", sorted(SYMBOLS))
def test_symbols_keep_to_their_room(name: str) -> None:
    """Each symbol has parts and reaches no further than its layer allows."""
    assert parts_of(name)
    assert 0 < geometry(name).body <= geometry(name).edge <= 40


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
