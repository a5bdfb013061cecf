"""Whichever door a question comes through, the answer is the same."""

import json

import pytest
from fastapi.testclient import TestClient
from tests.api.service import listening
from typer.testing import CliRunner

from clampgraph.api.app import create_app
from clampgraph.cli.app import app
from clampgraph.errors import ClampgraphError

UNIT = "brannoch-40t"
QUESTIONS = {
    "assemblies": (["assemblies"], ("GET", "/assemblies", {})),
    "show": (["show", "brannoch-30s"], ("GET", "/assemblies/brannoch-30s", {})),
    "show-generation": (
        ["show", UNIT, "--generation", "gen-1"],
        ("GET", f"/assemblies/{UNIT}", {"generation": "gen-1"}),
    ),
    "network": (["show", UNIT, "--network", "json"], ("GET", f"/assemblies/{UNIT}/network", {})),
    "network-generation": (
        ["show", UNIT, "--network", "json", "--generation", "gen-1"],
        ("GET", f"/assemblies/{UNIT}/network", {"generation": "gen-1"}),
    ),
    "symptoms": (["symptoms"], ("GET", "/symptoms", {})),
    "symptoms-text": (["symptoms", "won't let go"], ("GET", "/symptoms", {"q": "won't let go"})),
    "symptoms-odd": (["symptoms", "a&b=c #?%"], ("GET", "/symptoms", {"q": "a&b=c #?%"})),
    "diagnose": (["diagnose", UNIT], ("POST", "/diagnoses", {"assembly": UNIT})),
    "diagnose-seen": (
        ["diagnose", UNIT, "--seen", "bang-at-release", "--unseen", "slow-return"],
        ("POST", "/diagnoses", {"assembly": UNIT, "seen": ["bang-at-release"], "unseen": ["slow-return"]}),
    ),
    "diagnose-everything": (
        [
            "diagnose", UNIT, "--generation", "gen-1", "--seen", "slow-return", "--seen", "slow-release",
            "--reading", "read-supply-pressure=normal", "--age", "piston-seal=12", "--age", "rod=0.5yr",
            "--condition", "wet-air", "--condition", "dirty-air=absent", "--labour-rate", "95", "--all",
        ],
        (
            "POST", "/diagnoses",
            {
                "assembly": UNIT, "generation": "gen-1", "seen": ["slow-return", "slow-release"],
                "readings": {"read-supply-pressure": "normal"}, "ages": {"piston-seal": 12, "rod": 0.5},
                "conditions": {"wet-air": True, "dirty-air": False}, "labour_rate": 95, "all": True,
            },
        ),
    ),
}  # fmt: skip

MISTAKES = {
    "assembly": (3, ["show", "branoch-40t"], ("GET", "/assemblies/branoch-40t", {})),
    "generation": (3, ["show", UNIT, "--generation", "gen-9"], ("GET", f"/assemblies/{UNIT}", {"generation": "gen-9"})),
    "network": (3, ["show", "nix", "--network", "json"], ("GET", "/assemblies/nix/network", {})),
    "symptom": (
        3, ["diagnose", UNIT, "--seen", "bang-at-relaese"],
        ("POST", "/diagnoses", {"assembly": UNIT, "seen": ["bang-at-relaese"]}),
    ),
    "check": (
        3, ["diagnose", UNIT, "--reading", "read-suply=low"],
        ("POST", "/diagnoses", {"assembly": UNIT, "readings": {"read-suply": "low"}}),
    ),
    "outcome": (
        3, ["diagnose", UNIT, "--reading", "time-return=sloow"],
        ("POST", "/diagnoses", {"assembly": UNIT, "readings": {"time-return": "sloow"}}),
    ),
    "position": (
        3, ["diagnose", UNIT, "--age", "pistn=3"], ("POST", "/diagnoses", {"assembly": UNIT, "ages": {"pistn": 3}})
    ),
    "condition": (
        3, ["diagnose", UNIT, "--condition", "wet-ar"],
        ("POST", "/diagnoses", {"assembly": UNIT, "conditions": {"wet-ar": True}}),
    ),
    "both": (
        2, ["diagnose", UNIT, "--seen", "slow-return", "--unseen", "slow-return"],
        ("POST", "/diagnoses", {"assembly": UNIT, "seen": ["slow-return"], "unseen": ["slow-return"]}),
    ),
    "negative-age": (
        2, ["diagnose", UNIT, "--age", "rod=-1"], ("POST", "/diagnoses", {"assembly": UNIT, "ages": {"rod": -1}})
    ),
    "labour-rate": (
        2, ["diagnose", UNIT, "--labour-rate", "-5"], ("POST", "/diagnoses", {"assembly": UNIT, "labour_rate": -5})
    ),
    "does-not-apply": (
        2, ["diagnose", "brannoch-30s", "--reading", "read-approach-pressure=low"],
        ("POST", "/diagnoses", {"assembly": "brannoch-30s", "readings": {"read-approach-pressure": "low"}}),
    ),
}  # fmt: skip


@pytest.fixture(scope="module")
def client(library):
    """Return a client of the application, in this process."""
    with TestClient(create_app(library)) as found:
        yield found


@pytest.fixture(scope="module")
def service(library):
    """Return the address of a service that really listens."""
    with listening(library) as url:
        yield url


@pytest.fixture
def run(library, monkeypatch):
    """Return a way to run a command in this process on the shipped packs, already loaded."""
    for module in ("doors", "options", "looking"):
        monkeypatch.setattr(f"clampgraph.cli.{module}.open_library", lambda _: library)
    return lambda *words: CliRunner().invoke(app, words)


def sent(client, call):
    method, path, body = call
    return client.request(method, path, **({"params": body} if method == "GET" else {"json": body}))


@pytest.mark.parametrize("name", QUESTIONS)
def test_one_answer_through_three_doors(run, client, service, name):
    """The command prints the body that HTTP sends, byte for byte, and so does a command that asks a service."""
    words, call = QUESTIONS[name]
    extra = [] if "--network" in words else ["--json"]
    printed = run(*words, *extra)
    assert (printed.exit_code, printed.stderr) == (0, "")
    reply = sent(client, call)
    assert reply.status_code == 200
    assert reply.headers["content-type"] == "application/json"
    assert printed.stdout == reply.text + "\n"
    remote = run(*words, *extra, "--server", service)
    assert (remote.exit_code, remote.stderr) == (0, "")
    assert remote.stdout == printed.stdout
    assert json.loads(printed.stdout)


@pytest.mark.parametrize("name", MISTAKES)
def test_one_sentence_through_three_doors(run, client, service, name):
    """A mistake has one sentence and one exit code; HTTP carries the sentence as a problem document (RFC 9457)."""
    code, words, call = MISTAKES[name]
    local, remote = run(*words, "--json"), run(*words, "--json", "--server", service)
    assert isinstance(local.exception, ClampgraphError)
    assert local.exception.exit_code == code
    assert type(remote.exception) is type(local.exception)
    assert str(remote.exception) == str(local.exception)
    assert local.stdout == remote.stdout == ""
    reply = sent(client, call)
    problem = reply.json()
    assert reply.headers["content-type"] == "application/problem+json"
    assert problem["detail"] == str(local.exception)
    assert problem["status"] == reply.status_code == {2: 422, 3: 404}[code]
    assert problem["type"] == f"https://w3id.org/clampgraph/problems#{local.exception.slug}"
    assert problem["title"] == local.exception.title
    if code == 3:
        assert problem["nearest"] == list(local.exception.nearest)
        assert problem["nearest"]


@pytest.mark.parametrize("name", ["a b", "a?b", "a#b", "100%", "é", "x&y=z"])
def test_odd_names_reach_the_service_whole(run, service, name):
    """A name with characters that mean something in an address is quoted on the way."""
    for words in (["show", name], ["show", name, "--network", "json"]):
        local, remote = run(*words), run(*words, "--server", service)
        assert str(remote.exception) == str(local.exception)
        assert f"'{name}'" in str(remote.exception)


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (["--age", "rod"], "--age 'rod' is incomplete; write POSITION=YEARS."),
        (["--age", "=3"], "--age '=3' is incomplete; write POSITION=YEARS."),
        (["--age", "rod=old"], "--age rod=old is no number of years; write rod=12."),
        (["--age", "rod=nan"], "--age rod=nan is no number of years; write rod=12."),
        (["--age", "rod=inf"], "--age rod=inf is no number of years; write rod=12."),
        (["--age", "rod=1", "--age", "rod=2"], "--age names 'rod' twice; say it once."),
        (["--reading", "time-return"], "--reading 'time-return' is incomplete; write CHECK=OUTCOME."),
        (["--reading", "time-return="], "--reading 'time-return=' is incomplete; write CHECK=OUTCOME."),
        (["--condition", "wet-air=maybe"], "--condition 'wet-air=maybe' is unclear; write wet-air, "),
        (["--condition", "wet-air", "--condition", "wet-air=absent"], "--condition says that wet-air holds and"),
        (["--labour-rate", "nan"], "The field 'labour_rate' is wrong"),
        (["--labour-rate", "inf"], "The field 'labour_rate' is wrong"),
    ],
)
def test_options_are_read_before_any_door(run, words, sentence):
    """A malformed option is refused the same way with and without a service, even one that is not there."""
    for server in ([], ["--server", "http://127.0.0.1:9"]):
        found = run("diagnose", UNIT, *words, *server)
        assert found.exception.exit_code == 2
        assert str(found.exception).startswith(sentence)


def test_a_service_that_is_not_there(run):
    """No answer from a service is a fault of the store, told with its address."""
    for address in ("http://127.0.0.1:9", "nowhere", ""):
        found = run("assemblies", "--server", address)
        assert getattr(found.exception, "exit_code", None) == 4, address
        assert f"The service at {address} does not answer" in str(found.exception)


def test_packs_and_service_exclude_each_other(run):
    """A further pack cannot be loaded into a service from outside; BIF is written here."""
    found = run("assemblies", "--server", "http://127.0.0.1:9", "--data", "x.ttl")
    assert found.exception.exit_code == 2
    bif = run("show", UNIT, "--network", "bif", "--server", "http://127.0.0.1:9")
    assert bif.exception.exit_code == 2


def test_network_as_bif(run, client):
    """The interchange file is the same through both doors; another format is refused by both."""
    printed = run("show", "brannoch-30s", "--network", "bif")
    assert printed.exit_code == 0
    assert printed.stdout == client.get("/assemblies/brannoch-30s/network", params={"format": "bif"}).text
    assert run("show", "brannoch-30s", "--network", "xml").exception.exit_code == 2
    assert client.get("/assemblies/brannoch-30s/network", params={"format": "xml"}).status_code == 422


def test_all_and_nodes(run):
    """`diagnose --all` lists every failure mode of the exported network, and each cause names its node there."""
    nodes = json.loads(run("show", UNIT, "--network", "json").stdout)["nodes"]
    modes = {node["id"] for node in nodes if node["kind"] == "failure-mode"}
    every = json.loads(run("diagnose", UNIT, "--seen", "slow-return", "--all", "--json").stdout)["causes"]
    dozen = json.loads(run("diagnose", UNIT, "--seen", "slow-return", "--json").stdout)["causes"]
    assert {cause["node"] for cause in every} == modes
    assert [cause["node"] for cause in dozen] == [c["node"] for c in every if c["explains"]][:12]
    assert len(dozen) == 12


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["assemblies"], ["brannoch-30s", "brannoch-40t", "gen-2"]),
        (["show", UNIT], ["=P1-QM3", "push-bolt", "width"]),
        (["symptoms", "bang"], ["bang-at-release", "100"]),
        (["diagnose", UNIT, "--seen", "bang-at-release"], ["Behind it", "Next check", "Plan", "Cautions", "%", "→"]),
        (["diagnose", UNIT], ["nothing found yet", "Cautions"]),
    ],
)
def test_screens_for_people(run, words, told):
    """Without --json a person gets a table that shows the main points."""
    found = run(*words)
    assert (found.exit_code, found.stderr) == (0, "")
    assert all(text in found.stdout for text in told)
