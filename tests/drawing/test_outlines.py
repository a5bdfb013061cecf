"""The influence of a cause and the order of disassembly as pictures: complete, true, readable."""

import re
import xml.etree.ElementTree as ET

import pytest
from fastapi.testclient import TestClient
from typer.testing import CliRunner

from clampgraph.answers.draw import DisassemblyRequest, InfluenceRequest, draw_disassembly, draw_influence
from clampgraph.answers.library import Library
from clampgraph.answers.replacing.workshop import workshop
from clampgraph.api.app import create_app
from clampgraph.cli.app import app
from clampgraph.diagnosis.explanation import influence_paths
from clampgraph.drawing.disassembly import Warned, disassembly
from clampgraph.drawing.outline import WIDTH
from clampgraph.drawing.svg import extent, wrapped
from clampgraph.errors import UnknownNameError, WrongCallError
from clampgraph.replacement.access import least_opening
from clampgraph.replacement.facts import Joint

SVG = "{http://www.w3.org/2000/svg}"
UNITS = sorted(Library.open().assemblies)


def influence(library, **question):
    return ET.fromstring(draw_influence(library, InfluenceRequest.model_validate(question)))  # noqa: S314  # ours


def apart(library, **question):
    return ET.fromstring(draw_disassembly(library, DisassemblyRequest.model_validate(question)))  # noqa: S314  # ours


def words(svg):
    return ["".join(t.itertext()) for t in svg.iter(f"{SVG}text")]


def test_a_path_names_every_port_from_the_cause_to_the_symptom(library):
    """Each position and port of the most probable path stands in the picture, in order, with both ends."""
    unit = library.assembly("brannoch-40t")
    path = influence_paths(library.network(unit), ["symptom/slow-return"])["symptom/slow-return"]["silencer:clogged"]
    told = words(influence(library, assembly="brannoch-40t", cause="silencer:clogged", symptom="slow-return"))
    told = " ".join(told)
    places = [library.influence(unit).nodes[s.node.id].deviation for s in path]
    found = [told.index(f"{d.position} port") for d in places if d is not None]
    assert found == sorted(found)
    assert "silencer clogged" in told
    assert "return is slow" in told


def test_the_figure_of_a_path_is_the_product_of_its_strengths(library):
    """What stands behind the symptom is what the strengths along the path multiply to."""
    path = influence_paths(library.network(library.assembly("brannoch-40t")), ["symptom/slow-return"])
    product = 1.0
    for step in path["symptom/slow-return"]["silencer:clogged"]:
        product *= step.strength
    told = words(influence(library, assembly="brannoch-40t", cause="silencer:clogged", symptom="slow-return"))
    assert any(f"{product:.2g} along this path" in text for text in told)


def test_without_a_symptom_all_that_a_cause_leads_to_is_drawn(library):
    """Every symptom that the cause reaches stands there once, and what the paths share is drawn once."""
    unit = library.assembly("brannoch-40t")
    network = library.network(unit)
    tops = [n.id for n in network.of_kind("symptom")]
    reached = [t for t, of in influence_paths(network, tops).items() if "silencer:clogged" in of]
    told = words(influence(library, assembly="brannoch-40t", cause="silencer:clogged"))
    ends = [text for text in told if "along this path" in text]
    assert len(ends) == len(reached) > 2
    assert len([t for t in told if t.startswith("barrel port") and "venting less" in t]) == 1


def test_phases_are_bands_in_words(library):
    """A path that is handed over to another phase shows both, and the description tells both."""
    svg = influence(library, assembly="brannoch-40t", cause="silencer:clogged", symptom="clamp-not-confirmed")
    assert [t for t in words(svg) if t in ("reclamp", "clamped")] == ["reclamp", "clamped"]
    assert "reclamp: silencer port 1, venting less" in (svg.findtext(f"{SVG}desc") or "")


def test_a_condition_is_a_cause_too(library):
    """Wet air has a picture of its own."""
    assert "along this path" in " ".join(words(influence(library, assembly="brannoch-40t", cause="wet-air")))


@pytest.mark.parametrize("unit", UNITS)
def test_every_joint_stands_in_the_picture_with_its_minutes(unit, library):
    """No joint is lost, and the sum is told."""
    joints = workshop(library).site(library.assembly(unit)).joints
    svg = apart(library, assembly=unit)
    told = words(svg)
    numbered = [text for text in told if re.match(r"\d+ ", text)]
    assert len(numbered) >= len(joints)
    for joint in joints.values():
        assert any(joint.label.partition(" (")[0] in text for text in numbered)
    assert f"{sum(j.minutes for j in joints.values()):g} min" in " ".join(told)


@pytest.mark.parametrize("unit", UNITS)
def test_what_comes_first_stands_above(unit, library):
    """Every joint stands below all that must be open before it."""
    joints = workshop(library).site(library.assembly(unit)).joints
    told = apart(library, assembly=unit).findtext(f"{SVG}desc") or ""
    place = {joint: told.index(f": {j.label}, ") for joint, j in joints.items() if j.after}
    for joint, at in place.items():
        for first in joints[joint].after:
            assert told.index(f": {joints[first].label}, ") < at


def test_a_position_shows_only_the_quickest_way_to_it(library):
    """The joints drawn are those that replacement opens."""
    site = workshop(library).site(library.assembly("brannoch-40t"))
    wanted = least_opening(site, ["piston-seal"]).joints
    told = (apart(library, assembly="brannoch-40t", positions=["piston-seal"]).findtext(f"{SVG}desc") or "").split(". ")
    assert len(told) == len(wanted) < len(site.joints)


def test_stored_energy_is_told_where_it_waits(library):
    """The end cap ring carries the caution of the return spring, in words below."""
    told = words(apart(library, assembly="brannoch-40t", positions=["piston-seal"]))
    letter = next(t for t in told if "end cap ring" in t).rsplit("caution ", 1)[1].split()
    spring = next(i for i, t in enumerate(told) if t.startswith("The return spring is preloaded"))
    assert told[spring - 1] in letter


def test_ways_to_choose_from_are_told_and_dashed():
    """A joint behind one of two others says so; joints that wait for each other still end in a picture."""
    a, b = Joint("a", "guard", "cover", frozenset()), Joint("b", "mount", "screws", frozenset())
    c = Joint("c", "bolt", "thread", frozenset(), routes=(frozenset("a"), frozenset("b")))
    svg = disassembly("t", "u", {"a": a, "b": b, "c": c}, Warned({}, {}))
    assert "after 1 or after 2" in svg or "after 2 or after 1" in svg
    assert "stroke-dasharray" in svg
    d, e = (Joint(n, n, "thread", frozenset(), after=frozenset(o)) for n, o in ("de", "ed"))
    stuck = disassembly("t", "u", {"d": d, "e": e}, Warned({}, {}))
    assert all(f">{number} " in stuck for number in (1, 2))
    assert "also after 2" in stuck


def test_words_are_broken_to_fit():
    """No line is longer than its room, and no word is lost."""
    text = "fitting at the cylinder port of quick-exhaust-valve-a and its neighbour"
    lines = list(wrapped(text, 90, 10))
    assert all(extent(line, 10) <= 90 for line in lines)
    assert "".join("".join(lines).split()) == text.replace(" ", "")


@pytest.mark.parametrize("svg", ["influence", "disassembly"])
def test_pictures_are_narrow_and_described(svg, library):
    """Each fits a telephone, has title and description, and comes out the same twice."""
    draw = {
        "influence": lambda: draw_influence(library, InfluenceRequest(assembly="ulvedal-40c", cause="wet-air")),
        "disassembly": lambda: draw_disassembly(library, DisassemblyRequest(assembly="ulvedal-40c")),
    }[svg]
    root = ET.fromstring(draw())  # noqa: S314  # our own output
    assert float(root.get("width", "0")) == WIDTH
    assert root.findtext(f"{SVG}title")
    assert root.findtext(f"{SVG}desc")
    assert draw() == draw()


@pytest.mark.parametrize(
    ("line", "route", "params"),
    [
        ("--cause silencer:clogged", "influence", {"cause": "silencer:clogged"}),
        ("--cause wet-air --symptom slow-return", "influence", {"cause": "wet-air", "symptom": "slow-return"}),
        ("--disassembly", "disassembly", {}),
        ("--disassembly rod piston-seal --generation gen-1", "disassembly",
         {"positions": ["rod", "piston-seal"], "generation": "gen-1"}),
    ],
)  # fmt: skip
def test_both_doors_draw_the_same(line, route, params, library):
    """The command and the route give the same bytes."""
    with TestClient(create_app(library)) as client:
        reply = client.get(f"/assemblies/brannoch-40t/{route}.svg", params=params)
    assert reply.headers["content-type"] == "image/svg+xml"
    assert CliRunner().invoke(app, f"draw brannoch-40t {line}".split()).stdout == reply.text


@pytest.mark.parametrize(
    ("question", "error", "said"),
    [
        ({"cause": "silencr:clogged"}, UnknownNameError, "nearest: silencer"),
        ({"cause": "silencer:cloged"}, UnknownNameError, "nearest: clogged"),
        ({"cause": "wett-air"}, UnknownNameError, "wet-air"),
        ({"cause": "silencer:clogged", "symptom": "slow-retun"}, UnknownNameError, "nearest: slow-return"),
        ({"cause": "silencer:clogged", "symptom": "no-release"}, WrongCallError, "it leads to clamp-not-confirmed"),
    ],
)
def test_what_cannot_be_drawn_is_told(question, error, said, library):
    """A wrong name gets the nearest, a cause that does not lead there gets what it leads to."""
    with pytest.raises(error, match=said):
        influence(library, assembly="brannoch-40t", **question)


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("--cause silencer:clogged --disassembly", "two pictures"),
        ("rod", "add --disassembly"),
        ("--symptom slow-return", "needs the cause"),
    ],
)
def test_options_of_two_pictures_do_not_mix(line, said):
    """A call that asks for two pictures at once is refused in one sentence."""
    with pytest.raises(WrongCallError, match=said):
        CliRunner().invoke(app, f"draw brannoch-40t {line}".split(), catch_exceptions=False)
