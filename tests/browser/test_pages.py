"""What a reader sees in a browser: nothing overlaps, nothing is cut off, every word can be read, without colour too."""

import re

import pytest

from browser.looking import findings
from clampgraph.answers.book.binding import as_files
from clampgraph.answers.book.contents import BookRequest, book
from clampgraph.answers.draw import (
    DisassemblyRequest,
    DrawRequest,
    InfluenceRequest,
    draw,
    draw_disassembly,
    draw_influence,
)
from clampgraph.answers.stroke.simulate import SimulateRequest, simulate
from clampgraph.answers.table import TableRequest, render
from clampgraph.drawing.stroke_plot import stroke_svg

UNIT = "brannoch-30s"
TABLES = (
    "kit-contents",
    "checks-with-limits",
    "symptom-by-cause",
    "failure-modes-and-effects",
    "variants-side-by-side",
)
"""Tables of every width; the others look like one of them."""


def page(body, style=""):
    return (
        f'<!DOCTYPE html><html lang="en"><head><meta charset="utf-8"><title>t</title><style>{style}</style></head>'
        f'<body style="margin:0">{body}</body></html>'
    )


def circuits(library, unit):
    phases = library.assembly(unit).phases
    marked = f"{next(iter(library.assembly(unit).positions))}"
    yield from (draw(library, DrawRequest(assembly=unit, phase=phase), f"c-{phase}") for phase in phases)
    yield draw(library, DrawRequest(assembly=unit, highlight=("piston-seal", "piston", marked)), "suspects")
    yield draw_disassembly(library, DisassemblyRequest(assembly=unit), "d")


def test_nothing_overlaps_in_any_drawing(library, tmp_path):
    """Circuits of all units in all phases and with suspects, disassembly of all units."""
    pages = {unit: page("".join(circuits(library, unit))) for unit in sorted(library.assemblies)}
    assert findings(tmp_path, pages, (1500,)) == []


def test_narrow_drawings_are_read_on_a_telephone_and_on_a_desk(library, tmp_path):
    """Outlines shrink to the page; a plot of a stroke keeps its words apart."""
    fitting = "svg { display: block; max-width: 100%; height: auto }"
    narrow = [
        draw_influence(library, InfluenceRequest(assembly="brannoch-40t", cause="silencer:clogged"), "a"),
        draw_influence(library, InfluenceRequest(assembly="ulvedal-40c", cause="wet-air"), "b"),
        draw_disassembly(library, DisassemblyRequest(assembly="ulvedal-63h", positions=("piston-seal",)), "c"),
    ]
    plot = stroke_svg(simulate(library, SimulateRequest(assembly="brannoch-40t", trace=True)))
    assert findings(tmp_path, {"outlines": page("".join(narrow), fitting)}) == []
    assert findings(tmp_path, {"plot": page(plot)}, (900,)) == []


def test_the_book_is_read_at_every_width(library, tmp_path):
    """Every kind of page, on a telephone, a tablet and a desk, in grey."""
    files = as_files(book(library, BookRequest(assembly=UNIT, tables=TABLES)))
    (tmp_path / "book.css").write_bytes(files["book.css"])
    pages = {name: content.decode() for name, content in files.items() if name.endswith(".html")}
    symptoms = sorted(name for name in pages if name.startswith("symptom-"))
    for left_out in set(symptoms) - set(symptoms[::5]):
        del pages[left_out]
    assert len(pages) > 15
    assert findings(tmp_path, pages) == []


def test_the_widest_table_scrolls_in_its_own_box(library, tmp_path):
    """The matrix of all units stands on a telephone without moving the page."""
    content, _ = render(library, TableRequest(name="symptom-by-cause", assembly="ulvedal-63h"), "html")
    assert findings(tmp_path, {"matrix": content.decode()}, (360,)) == []


LINE = '<g class="connections"><polyline points="0,50 200,50" stroke="black"/></g>'
BAD = {
    "sideways": ("<div style='width:800px'>far</div>", "the page scrolls sideways"),
    "cut": ("<div style='width:60px;overflow:hidden;white-space:nowrap'>a sentence that is cut</div>", "cut off by"),
    "edge": ("<div style='position:absolute;left:-30px'>left of the page</div>", "cut off at the edge"),
    "overlap": (
        "<p style='position:absolute;top:9px'>one thing</p><p style='position:absolute;top:12px'>other</p>",
        "'one thing' overlaps 'other'",
    ),
    "faint": ("<p style='color:#999'>hardly there</p>", "too faint"),
    "green on red": ("<p style='color:#00a000;background:#d05050'>only by colour</p>", "too faint"),
    "empty": ("<p></p>", "nothing can be read"),
    "line": (
        f"<svg viewBox='0 0 200 100' width='200'><title>t</title>{LINE}<text x='20' y='54'>struck</text></svg>",
        "a line runs through 'struck'",
    ),
    "outside": (
        "<svg viewBox='0 0 200 100' width='200'><title>t</title><text x='190' y='54'>outside</text></svg>",
        "'outside' leaves the picture",
    ),
}  # fmt: skip


@pytest.fixture(scope="module")
def told(tmp_path_factory):
    """Return what is found at pages that are bad on purpose, and at one that is good."""
    pages = {name: page(body) for name, (body, _) in BAD.items()}
    return findings(tmp_path_factory.mktemp("bad"), {**pages, "good": page("<p>plain words</p>")}, (360,))


@pytest.mark.parametrize("name", sorted(BAD))
def test_a_bad_page_is_caught(name, told):
    """Each fault that these tests look for is found where it is, and not in the good page."""
    own = [line for line in told if line.startswith(f"{name} at 360: ")]
    assert any(BAD[name][1] in line for line in own), told
    assert not [line for line in told if re.match("good at", line)]
