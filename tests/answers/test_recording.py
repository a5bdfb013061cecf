"""What it really was: checked before it is kept, and told again as it was told."""

import json
from pathlib import Path

import pytest
from fastapi.testclient import TestClient
from typer.testing import CliRunner

from clampgraph.answers.diagnosing.diagnose import diagnose
from clampgraph.answers.diagnosing.diagnosis import DiagnoseRequest
from clampgraph.answers.models import parse
from clampgraph.answers.recording.cases import CasesRequest, RecordRequest
from clampgraph.answers.recording.lessons import Teacher
from clampgraph.answers.recording.listing import cases, forget, one_case
from clampgraph.answers.recording.record import record
from clampgraph.api.app import create_app
from clampgraph.api.settings import Settings
from clampgraph.api.tokens import TokenFile
from clampgraph.cases.store import CaseStore
from clampgraph.cli.app import app
from clampgraph.errors import ClampgraphError, UnknownNameError

UNIT = "brannoch-40t"
JOB = {
    "assembly": UNIT,
    "evidence": {"seen": ["slow-return"], "unseen": ["bang-at-release"], "readings": {"drain-filter-bowl": "normal"}},
    "found": ["silencer:clogged"],
    "replaced": {"PF-SIL-38": 1},
    "minutes": 25,
    "note": "black",
    "author": "Ada",
}
LINE = [
    "record", UNIT, "--seen", "slow-return", "--unseen", "bang-at-release", "--reading", "drain-filter-bowl=normal",
    "--found", "silencer:clogged", "--replaced", "PF-SIL-38=1", "--minutes", "25", "--note", "black", "--author", "Ada",
]  # fmt: skip


@pytest.fixture
def place(tmp_path, monkeypatch):
    """Return the file of an empty case store, which both doors use."""
    file = tmp_path / "cases.sqlite"
    monkeypatch.setenv("CLAMPGRAPH_CASES", str(file))
    return str(file)


@pytest.fixture
def store(place):
    found = CaseStore(place)
    yield found
    found.close()


@pytest.fixture
def client(library, place):
    with TestClient(create_app(library, settings=Settings(cases=place, log="off", hosts="*"))) as found:
        yield found


def run(*words):
    """Return what a command printed as JSON."""
    done = CliRunner().invoke(app, [*map(str, words), "--json"], catch_exceptions=False)
    assert done.exit_code == 0, done.output
    return json.loads(done.stdout)


def test_a_job_is_told_again_as_it_was_told(library, store):
    """All fields of the question come back in the answer, with a number and a time."""
    kept = record(library, store, parse(RecordRequest, JOB))
    body = kept.body()
    assert body["evidence"] == {**JOB["evidence"], "ages": {}, "conditions": {}}
    assert body["found"] == [{"position": "silencer", "failure_mode": "clogged"}]
    assert body["replaced"] == [{"mpn": "PF-SIL-38", "quantity": 1}]
    assert (body["minutes"], body["note"], body["author"], body["generation"]) == (25.0, "black", "Ada", "gen-2")
    assert body["recorded"].endswith("Z")
    assert one_case(store, kept.id) == kept
    assert cases(library, store, CasesRequest()).cases == (kept,)


def test_findings_may_stand_beside_the_assembly(library, store):
    """The body of a diagnosis with what was found added is a job."""
    flat = {"assembly": UNIT, "seen": ["slow-return"], "conditions": {"wet-air": True}, "found": "nothing"}
    kept = record(library, store, parse(RecordRequest, flat))
    assert kept.evidence.seen == ("slow-return",)
    assert kept.evidence.conditions == {"wet-air": True}
    assert kept.found == ()


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"assembly": "brannoch-40"}, "no assembly 'brannoch-40'; nearest: brannoch-40t"),
        ({"evidence": {"seen": ["slow-retrun"]}}, "no symptom 'slow-retrun'; nearest: slow-return"),
        ({"evidence": {"seen": ["no-return"], "unseen": ["no-return"]}}, "given as seen and as unseen"),
        ({"evidence": {"readings": {"drain-filter-bowl": "norml"}}}, "no outcome 'norml' of drain-filter-bowl"),
        ({"evidence": {"ages": {"rodd": 3}}}, "no position 'rodd' in brannoch-40t; nearest: rod"),
        ({"found": ["silencr:clogged"]}, "no position 'silencr' in brannoch-40t; nearest: silencer"),
        ({"found": ["silencer:cloged"]}, "no failure mode 'cloged' of silencer; nearest: clogged"),
        ({"found": ["silencer"]}, "'silencer' is no cause; write POSITION:MODE"),
        ({"found": None}, "The field 'found' is wrong"),
        ({"found": ["nothing", "silencer:clogged"]}, "cannot both be found"),
        ({"replaced": {"PF-SIL-39": 1}}, "no item 'PF-SIL-39'; nearest: PF-SIL-38"),
        ({"replaced": {"PF-SIL-38": 0}}, "The field 'replaced.PF-SIL-38' is wrong"),
        ({"minutes": -1}, "The field 'minutes' is wrong"),
        ({"minutes": float("nan")}, "The field 'minutes' is wrong"),
        ({"note": "a\0b"}, "null character"),
        ({"corrects": 12}, "no case '12'"),
        ({"mintues": 3}, "The field 'mintues' is wrong"),
    ],
)
def test_what_is_wrong_is_said_and_nothing_is_kept(library, store, change, sentence):
    """One sentence says what is wrong; the store stays as it was."""
    with pytest.raises(ClampgraphError) as refusal:
        record(library, store, parse(RecordRequest, JOB | change))
    assert sentence in str(refusal.value)
    assert store.cases() == []


def test_a_diagnosis_without_cases_is_the_packs(library, store):
    """An empty store changes no digit of any answer."""
    request = DiagnoseRequest(assembly=UNIT, seen=("slow-return",), all=True)
    taught = Teacher(store).taught(library)
    assert diagnose(taught, request) == diagnose(library, request)
    assert {c.figure.origin for c in diagnose(library, request).causes} == {"pack"}


def test_pages_of_both_doors_join(client, library, store):
    """The service gives pages of a limit, the command the whole; an unknown assembly is named."""
    for _ in range(5):
        record(library, store, parse(RecordRequest, JOB))
    first = client.get("/cases", params={"limit": 2}).json()
    second = client.get("/cases", params={"limit": 3, "after": first["after"]}).json()
    assert second["after"] is None
    assert [c["id"] for c in first["cases"] + second["cases"]] == [c["id"] for c in run("cases")["cases"]]
    assert run("cases", "--limit", 2) == first
    assert client.get("/cases", params={"limit": 0}).status_code == 422
    assert client.get("/cases", params={"assembly": "brannoch-50"}).json()["nearest"]


def test_the_key_may_come_as_a_header(client):
    """A client that sends twice under one Idempotency-Key gets the same record, with another body a refusal."""
    first = client.post("/cases", json=JOB, headers={"Idempotency-Key": "job-1"})
    assert client.post("/cases", json=JOB, headers={"Idempotency-Key": "job-1"}).json() == first.json()
    changed = client.post("/cases", json=JOB | {"minutes": 26}, headers={"Idempotency-Key": "job-1"})
    assert changed.status_code == 422
    assert "says something else" in changed.json()["detail"]
    assert len(client.get("/cases").json()["cases"]) == 1


def test_both_doors_say_the_same(client, library, store, place):
    """Every question about cases has the same JSON on the command line and over HTTP."""
    sent = client.post("/cases", json=JOB | {"key": "one"})
    assert run(*LINE, "--key", "one") == sent.json()
    record(library, store, parse(RecordRequest, JOB | {"found": ["nothing"], "corrects": 1}))
    number = client.post("/cases", json=JOB).json()["id"]
    for words, path, query in (
        (["cases"], "/cases", {}),
        (["cases", "--author", "Ada"], "/cases", {"author": "Ada"}),
        (["cases", "--assembly", UNIT, "--after", "1"], "/cases", {"assembly": UNIT, "after": 1}),
        (["cases", number], f"/cases/{number}", {}),
        (["cases", "--figures"], "/cases/figures", {}),
        (["cases", "--calibration", "--assembly", UNIT], "/cases/calibration", {"assembly": UNIT}),
    ):
        assert run(*words) == client.get(path, params=query).json()
    told, stated = {"assembly": UNIT, "years": 36}, run("cases", "--exposure", f"{UNIT}=36")
    assert stated["years"] == client.post("/cases/exposures", json=told).json()["years"] == {"value": 36, "unit": "yr"}
    question = {"assembly": UNIT, "seen": ["slow-return"]}
    learned = run("diagnose", UNIT, "--seen", "slow-return")
    assert learned == client.post("/diagnoses", json=question).json()
    assert learned == run("diagnose", UNIT, "--seen", "slow-return", "--cases", place)
    assert {c["figure"]["from"] for c in learned["causes"]} == {"cases"}
    assert {c["node"]: c["figure"]["cases"] for c in learned["causes"]}["silencer:clogged"] == 1


def test_the_service_reckons_with_a_case_at_once(client):
    """A question that was just answered is answered anew when a case was recorded in between."""
    question = {"assembly": UNIT, "seen": ["slow-return"]}
    before = client.post("/diagnoses", json=question).json()
    assert client.post("/diagnoses", json=question).json() == before
    client.post("/cases", json=JOB)
    after = client.post("/diagnoses", json=question).json()
    chance = [{c["node"]: c["probability"] for c in told["causes"]} for told in (before, after)]
    assert chance[1]["silencer:clogged"] > chance[0]["silencer:clogged"]


def test_a_store_that_fails_is_a_503_and_exit_4(client, place):
    """Both doors tell a store that cannot be used in one sentence, and recover without a restart."""
    file = Path(place)
    file.write_text("this is no database, and it is long enough to be looked at as one\n" * 9)
    reply = client.post("/cases", json=JOB)
    assert (reply.status_code, reply.headers["content-type"]) == (503, "application/problem+json")
    assert reply.json()["type"].endswith("#store-fault")
    assert "is a file of another kind" in reply.json()["detail"]
    failed = CliRunner().invoke(app, LINE)
    assert (type(failed.exception).__name__, failed.exception.exit_code) == ("StoreError", 4)
    file.unlink()
    assert client.post("/cases", json=JOB).status_code == 200
    assert len(run("cases")["cases"]) == 1


def test_a_person_takes_their_cases_and_is_forgotten(library, store, tmp_path):
    """The export holds everything that was told; afterwards nothing leads back to the person."""
    for author in ("Ada", "Bo", "Ada"):
        record(library, store, parse(RecordRequest, JOB | {"author": author, "note": f"from {author}"}))
    file = tmp_path / "ada.json"
    done = CliRunner().invoke(app, ["cases", "--author", "Ada", "--export", str(file)])
    assert (done.exit_code, done.stdout) == (0, "")
    exported = json.loads(file.read_text("utf-8"))["cases"]
    assert [(c["author"], c["note"]) for c in exported] == [("Ada", "from Ada")] * 2
    assert run("cases", "--forget", "Ada") == {"forgotten": 2}
    left = run("cases")["cases"]
    assert [(c["author"], c["note"]) for c in left] == [(None, None), ("Bo", "from Bo"), (None, None)]
    assert [c["found"] for c in left] == [[{"position": "silencer", "failure_mode": "clogged"}]] * 3
    with pytest.raises(UnknownNameError, match=r"There is no author 'Ada' in the case store\.$"):
        forget(store, "Ada")


def test_a_person_is_forgotten_over_http_by_who_may(library, place, store, tmp_path):
    """Over HTTP it takes a token of an administrator; one that may only write is refused."""
    record(library, store, parse(RecordRequest, JOB | {"author": "Ada/Lovelace"}))
    tokens = TokenFile(tmp_path / "tokens.json")
    token = tokens.issue("boss", "admin", 1)
    told = Settings(cases=place, tokens=tmp_path / "tokens.json", log="off", hosts="*")
    with TestClient(create_app(library, settings=told)) as client:
        path, header = "/cases/authors/Ada%2FLovelace", {"Authorization": f"Bearer {token}"}
        assert client.delete(path).status_code == 401
        reply = client.delete(path, headers=header)
        assert (reply.status_code, reply.json()) == (200, {"forgotten": 1})
        assert client.delete(path, headers=header).status_code == 404


@pytest.mark.parametrize(
    "words",
    [
        ["cases", "--calibration", "--figures"],
        ["cases", "1", "--export", "x.json"],
        ["cases", "--figures", "--author", "Ada"],
        ["cases", "--forget", "Ada", "--limit", "1"],
        ["record", UNIT, "--found", "nothing", "--note", "half a character \udcff"],
        ["cases", "--cases", "postgresql://ada@host:port/x"],
        ["cases", "-o", "x.svg"],
        ["record", UNIT, "--seen", "slow-return"],
        ["record", UNIT, "--found", "nothing", "--replaced", "PF-SIL-38=many"],
        ["cases", "--cases", "x.sqlite", "--server", "http://127.0.0.1:1"],
        ["diagnose", UNIT, "--cases", "x.sqlite", "--server", "http://127.0.0.1:1"],
        ["cases", "--cases", "mysql://x/y"],
    ],
    ids=" ".join,
)
@pytest.mark.usefixtures("place")
def test_wrong_calls_are_exit_2(words):
    """What cannot be meant is refused with exit code 2 and one sentence."""
    failed = CliRunner().invoke(app, words)
    assert failed.exception.exit_code == 2
    assert str(failed.exception).endswith(".")


def test_screens_show_what_was_written(library, store):
    """What a person wrote is shown letter by letter: it neither formats the screen nor steers the terminal."""
    note = "[red]red[/red] [/] \x1b[2Jgone\u202e\nsecond line"
    record(library, store, parse(RecordRequest, JOB | {"note": note, "author": "[bold]Ada[/]"}))
    shown = [CliRunner().invoke(app, words, catch_exceptions=False).stdout for words in (["cases", "1"], ["cases"])]
    assert "[red]red[/red] [/] \\x1b[2Jgone\\u202e" in shown[0]
    assert "second line" in shown[0]
    assert all("[bold]Ada[/]" in text and "\x1b" not in text for text in shown)


def test_a_place_that_nobody_named_is_told(tmp_path, monkeypatch):
    """Cases go to the user's folder for data; where they are, and how they teach, is told beside the answer."""
    monkeypatch.delenv("CLAMPGRAPH_CASES", raising=False)
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    monkeypatch.setattr("sys.platform", "linux")
    done = CliRunner().invoke(app, [*LINE, "--json"], catch_exceptions=False)
    assert json.loads(done.stdout)["id"] == 1
    assert f"Kept in {tmp_path / 'clampgraph' / 'cases.sqlite'}" in done.stderr
    for words, origins in (([], {"pack"}), (["--cases", "default"], {"cases"})):
        told = run("diagnose", UNIT, "--seen", "slow-return", *words)["causes"]
        assert {cause["figure"]["from"] for cause in told} == origins


def test_a_case_that_could_not_be_sent_can_be_sent_again(tmp_path):
    """Where the store or the service fails the key is told, so that a second try keeps the case once."""
    (tmp_path / "cases.sqlite").mkdir()
    for where in (["--cases", str(tmp_path / "cases.sqlite")], ["--server", "http://127.0.0.1:1"]):
        failed = CliRunner().invoke(app, [*LINE, *where, "--key", "job 7"])
        assert failed.exception.exit_code == 4
        assert "adds --key job 7" in failed.stderr


def test_screens_show_cases_and_lessons(library, store, tmp_path):
    """People read the same facts: the case, the list, the figures, the calibration and its picture."""
    for _ in range(3):
        record(library, store, parse(RecordRequest, JOB))
    picture = tmp_path / "reliability.svg"
    for words, facts in (
        (["cases"], ["slow-return", "silencer:clogged", "Ada"]),
        (["cases", "2"], ["bang-at-release", "drain-filter-bowl=normal", "1 PF-SIL-38", "25", "black"]),
        (["cases", "--figures"], ["Learned from 3 cases", "clogged", "(assumed)", "slow-return"]),
        (["cases", "--calibration"], ["3 cases", "Brier score", "earlier cases only"]),
        (["cases", "--calibration", "-o", str(picture)], []),
        (["cases", "--exposure", f"{UNIT}=12"], ["12 machine-years"]),
    ):
        done = CliRunner().invoke(app, words, env={"COLUMNS": "200"}, catch_exceptions=False)
        assert done.exit_code == 0
        assert all(fact in done.stdout for fact in facts), done.stdout
    drawn = picture.read_text("utf-8")
    assert drawn.startswith("<svg")
    assert "Predicted against found, 3 cases" in drawn
