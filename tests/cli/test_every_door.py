"""The same question has the same answer at both doors, whichever question it is."""

import json

import pytest
from fastapi.testclient import TestClient
from typer.testing import CliRunner

from clampgraph.api.app import create_app
from clampgraph.api.settings import EMBEDDED
from clampgraph.cli.app import app

UNIT = "brannoch-40t"
SEEN = ["slow-release", "slow-return"]
QUESTIONS = [
    ("identify --feature taper=BT40", "POST", "/identifications", {"features": {"taper": "BT40"}}),
    (f"fits BR-4012-2 {UNIT} rod", "GET", "/items/BR-4012-2/fits", {"assembly": UNIT, "position": "rod"}),
    (f"fits any {UNIT} push-bolt", "GET", "/fits", {"assembly": UNIT, "position": "push-bolt"}),
    (f"swap {UNIT} rod --with BR-4012-2 --generation gen-1 --stock BR-4014=1", "POST", "/replacements",
     {"assembly": UNIT, "positions": ["rod"], "with_mpn": "BR-4012-2", "generation": "gen-1", "stock": {"BR-4014": 1}}),
    (f"swap {UNIT} --cause piston-seal:worn --age main-valve=12", "POST", "/replacements",
     {"assembly": UNIT, "cause": "piston-seal:worn", "ages": {"main-valve": 12}}),
    ("calc", "GET", "/calculations", {}),
    ("calc cylinder-force --pressure 6bar --bore 100mm", "POST", "/calculations/cylinder-force",
     {"pressure": "6bar", "bore": "100mm"}),
    (f"simulate {UNIT} --fault quick-exhaust-valve:diaphragm-sticks", "POST", "/simulations",
     {"assembly": UNIT, "faults": ["quick-exhaust-valve:diaphragm-sticks"]}),
    ("tables", "GET", "/tables", {}),
    (f"table checks-with-limits --assembly {UNIT}", "GET", "/tables/checks-with-limits", {"assembly": UNIT}),
    ("query", "GET", "/queries", {}),
    (f"query assembly/list-positions --bind assembly={UNIT}", "GET", "/queries/assembly/list-positions",
     {"assembly": UNIT}),
    (f"diagnose {UNIT} --seen slow-release --reading read-supply-pressure=4.1bar", "POST", "/diagnoses",
     {"assembly": UNIT, "seen": ["slow-release"], "readings": {"read-supply-pressure": "4.1bar"}}),
    (f"diagnose {UNIT} --seen slow-release --seen slow-return --lang de", "POST", "/diagnoses",
     {"assembly": UNIT, "seen": SEEN}),
    (f"record {UNIT} --seen slow-return --found silencer:clogged --replaced PF-SIL-38=1 --minutes 25 --key one", "POST",
     "/cases", {"assembly": UNIT, "seen": ["slow-return"], "found": ["silencer:clogged"], "replaced": {"PF-SIL-38": 1},
                "minutes": 25, "key": "one"}),
    ("cases", "GET", "/cases", {}),
    (f"cases --assembly {UNIT} --author Nobody", "GET", "/cases", {"assembly": UNIT, "author": "Nobody"}),
    ("cases 1", "GET", "/cases/1", {}),
    ("cases --figures", "GET", "/cases/figures", {}),
    ("cases --calibration", "GET", "/cases/calibration", {}),
]  # fmt: skip


@pytest.fixture(scope="module")
def client(library, tmp_path_factory):
    """Return a service; both doors share a case store that holds one case."""
    cases = str(tmp_path_factory.mktemp("doors") / "cases.sqlite")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("CLAMPGRAPH_CASES", cases)
        with TestClient(create_app(library, settings=EMBEDDED.model_copy(update={"cases": cases}))) as found:
            assert found.post("/cases", json={"assembly": UNIT, "seen": SEEN, "found": "nothing"}).json()["id"] == 1
            yield found


@pytest.mark.parametrize(("line", "method", "path", "body"), QUESTIONS, ids=[q[0] for q in QUESTIONS])
def test_command_and_route_agree(line, method, path, body, client):
    """What `--json` prints is what HTTP sends."""
    printed = CliRunner().invoke(app, [*line.split(), "--json"])
    headers = {"accept-language": "de"} if "--lang de" in line else {}
    sent = {"params": body} if method == "GET" else {"json": body}
    reply = client.request(method, path, headers=headers, **sent)
    assert reply.status_code == 200, reply.text
    assert json.loads(printed.stdout) == reply.json()


def test_a_drawing_is_the_same_at_both_doors(client):
    """Pictures too come out the same, byte for byte."""
    line = f"draw {UNIT} --phase release --highlight piston-seal:worn"
    params = {"phase": "release", "highlight": "piston-seal:worn"}
    reply = client.get(f"/assemblies/{UNIT}/drawing.svg", params=params)
    assert CliRunner().invoke(app, line.split()).stdout == reply.text


def test_a_language_changes_words_and_no_figures(client):
    """In German the labels differ and every probability is the same."""
    body = {"assembly": UNIT, "seen": SEEN}
    english = client.post("/diagnoses", json=body).json()["causes"]
    german = client.post("/diagnoses", json=body, headers={"accept-language": "de-CH"}).json()["causes"]
    assert [c["probability"] for c in english] == [c["probability"] for c in german]
    assert all(e["label"] != g["label"] for e, g in zip(english, german, strict=True))


@pytest.mark.parametrize(
    ("method", "path", "body", "status"),
    [
        ("GET", "/items/PF-NOPE/fits", {}, 404),
        ("POST", "/replacements", {"assembly": UNIT, "positions": ["main-valv"]}, 404),
        ("POST", "/replacements", {"assembly": UNIT, "positions": ["silencer"], "stock": {"PF-SIL-38": -1}}, 422),
        ("POST", "/calculations/cylinder-forc", {"pressure": "6bar"}, 404),
        ("POST", "/calculations/cylinder-force", {"pressure": "6"}, 422),
        ("POST", "/simulations", {"assembly": UNIT, "faults": ["main-valve:nope"]}, 404),
        ("POST", "/identifications", {"features": {"tapr": "BT40"}}, 404),
        ("GET", "/tables/nope", {}, 404),
        ("GET", "/tables/cautions", {"format": "pdf"}, 404),
    ],
)
def test_refusals_are_problems_in_one_sentence(method, path, body, status, client):
    """A wrong question over HTTP gets a problem document, never a bare error."""
    sent = {"params": body} if method == "GET" else {"json": body}
    reply = client.request(method, path, **sent)
    assert (reply.status_code, reply.headers["content-type"]) == (status, "application/problem+json")
    assert reply.json()["detail"].endswith(".")
