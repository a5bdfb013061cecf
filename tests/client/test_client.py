"""The Python client: the same answers and errors as in this process, and patience only where it is safe."""

import inspect
import json
import subprocess
import sys
from datetime import UTC, datetime, timedelta
from email.utils import format_datetime

import httpx
import pytest
from fastapi.testclient import TestClient
from tests.api.service import listening

from clampgraph import client as room
from clampgraph.answers.assemblies import AssembliesAnswer, assemblies, show
from clampgraph.answers.calculate import calculate, calculations
from clampgraph.answers.diagnosing.diagnose import diagnose
from clampgraph.answers.draw import draw, draw_disassembly, draw_influence
from clampgraph.answers.identifying.identify import identify
from clampgraph.answers.network import network
from clampgraph.answers.query import queries, raw, run
from clampgraph.answers.replacing.fits import fits
from clampgraph.answers.replacing.swap import swap
from clampgraph.answers.stroke.simulate import simulate
from clampgraph.answers.symptoms import symptoms
from clampgraph.answers.table import render, table, tables
from clampgraph.api.app import create_app
from clampgraph.api.settings import EMBEDDED
from clampgraph.cli import doors
from clampgraph.client import (
    CasesRequest,
    Client,
    DiagnoseRequest,
    DisassemblyRequest,
    DrawRequest,
    ExposureRequest,
    FitsRequest,
    IdentifyRequest,
    InfluenceRequest,
    RecordRequest,
    SimulateRequest,
    SwapRequest,
    TableRequest,
)
from clampgraph.client.casebook import CaseClient
from clampgraph.errors import (
    DataError,
    ImpossibleEvidenceError,
    QuantityError,
    StoreError,
    UnknownNameError,
    WrongCallError,
)

UNIT = "brannoch-40t"
FOUND = DiagnoseRequest(assembly=UNIT, seen=("slow-return",), unseen=("bang-at-release",))
ROD = FitsRequest(mpn="BR-4012-2", assembly=UNIT, position="rod", build_date="2018-05-01")
BOLT = FitsRequest(assembly=UNIT, position="push-bolt")
LIMITS = TableRequest(name="checks-with-limits", assembly=UNIT)
PICTURE = DrawRequest(assembly=UNIT, phase="release", highlight=("piston-seal:worn",))
LEADS = InfluenceRequest(assembly=UNIT, cause="quick-exhaust-valve:diaphragm-sticks", symptom="slow-return")
OPENED = DisassemblyRequest(assembly=UNIT, positions=("rod", "piston-seal"))
STICKS = SimulateRequest(assembly=UNIT, faults=("quick-exhaust-valve:diaphragm-sticks",))
JOB = SwapRequest(assembly=UNIT, positions=("rod",), stock={"BR-4014": 1})
LOOK = IdentifyRequest(features={"taper": "BT40"})
COUNT = "SELECT (COUNT(*) AS ?n) { ?s ?p ?o }"

QUESTIONS = {
    "assemblies": (lambda c: c.assemblies(), assemblies),
    "show": (lambda c: c.show(UNIT, "gen-1"), lambda b: show(b, UNIT, "gen-1")),
    "network": (lambda c: c.network(UNIT), lambda b: network(b, UNIT, None)),
    "drawing": (lambda c: c.drawing(PICTURE), lambda b: draw(b, PICTURE).encode()),
    "influence": (lambda c: c.influence(LEADS), lambda b: draw_influence(b, LEADS).encode()),
    "disassembly": (lambda c: c.disassembly(OPENED), lambda b: draw_disassembly(b, OPENED).encode()),
    "symptoms": (lambda c: c.symptoms("won't let go"), lambda b: symptoms(b, "won't let go")),
    "identify": (lambda c: c.identify(LOOK), lambda b: identify(b, LOOK)),
    "diagnose": (lambda c: c.diagnose(FOUND), lambda b: diagnose(b, FOUND)),
    "diagnose_each": (lambda c: c.diagnose_each([FOUND] * 2).answers[1].answer, lambda b: diagnose(b, FOUND)),
    "fits": (lambda c: c.fits(ROD), lambda b: fits(b, ROD)),
    "fits-any": (lambda c: c.fits(BOLT), lambda b: fits(b, BOLT)),
    "swap": (lambda c: c.swap(JOB), lambda b: swap(b, JOB)),
    "calculations": (lambda c: c.calculations(), lambda _: calculations()),
    "calculate": (
        lambda c: c.calculate("cylinder-force", {"pressure": "6bar", "bore": "100mm"}),
        lambda _: calculate("cylinder-force", {"pressure": "6bar", "bore": "100mm"}),
    ),
    "simulate": (lambda c: c.simulate(STICKS), lambda b: simulate(b, STICKS)),
    "tables": (lambda c: c.tables(), tables),
    "table": (lambda c: c.table(LIMITS), lambda b: table(b, LIMITS)),
    "table_as": (lambda c: c.table_as(LIMITS, "csv"), lambda b: render(b, LIMITS, "csv")[0]),
    "queries": (lambda c: c.queries(), lambda _: queries()),
    "query": (
        lambda c: c.query("assembly/list-generations", {"assembly": UNIT}, "csv"),
        lambda b: run(b, "assembly/list-generations", {"assembly": UNIT}, "csv").body,
    ),
    "sparql": (lambda c: c.sparql(COUNT, "csv"), lambda b: raw(b, COUNT, "csv").body),
}


@pytest.fixture(scope="module")
def url(library):
    """Return the address of a service that really listens."""
    with listening(library) as url:
        yield url
    library.graph.sandbox.close()


@pytest.fixture(scope="module")
def service(url):
    with Client(url) as found:
        yield found


@pytest.fixture
def pauses(monkeypatch):
    """Return the pauses that the client would make; it makes none."""
    found = []
    monkeypatch.setattr("clampgraph.client.service.time.sleep", found.append)
    return found


def mocked(*replies, **more):
    """Return a client whose service gives these replies in turn, and the requests that it gets."""
    given, seen = iter(replies), []

    def handle(request):
        seen.append(request)
        reply = next(given)
        if isinstance(reply, Exception):
            raise reply
        return reply

    return Client("http://service", transport=httpx.MockTransport(handle), **more), seen


@pytest.mark.parametrize("name", QUESTIONS)
def test_the_answer_is_that_of_this_process(name, service, library):
    """Each method returns the very model that the answer function gives."""
    remote, local = QUESTIONS[name]
    told, answer = remote(service), local(library)
    assert type(told) is type(answer)
    assert told == answer
    if not isinstance(told, bytes):
        assert told.model_dump_json() == answer.model_dump_json()


@pytest.mark.parametrize(
    ("kind", "question", "nearest"),
    [
        (UnknownNameError, lambda c: c.show("branoch-40t"), UNIT),
        (UnknownNameError, lambda c: c.table(TableRequest(name="cautons")), "cautions"),
        (WrongCallError, lambda c: c.fits(FitsRequest()), None),
        (QuantityError, lambda c: c.diagnose(DiagnoseRequest(assembly=UNIT, ages={"rod": -1})), None),
        (WrongCallError, lambda c: c.sparql("SELECT"), None),
        (WrongCallError, lambda c: c.ask("GET", "/nowhere", AssembliesAnswer), None),
    ],
)
def test_an_error_is_that_of_this_process(kind, question, nearest, service):
    """The service's problem comes back as the error it was, with its sentence and the nearest names."""
    with pytest.raises(kind) as caught:
        question(service)
    assert type(caught.value) is kind
    assert str(caught.value).endswith(".")
    if nearest is not None:
        assert caught.value.nearest[0] == nearest


def test_impossible_findings_keep_their_kind():
    """A constructor that builds its own sentence does not build it twice."""
    told = "The findings a, b cannot occur together in this model."
    problem = {"type": "https://w3id.org/clampgraph/problems#impossible-evidence", "detail": told}
    service, _ = mocked(httpx.Response(422, json=problem))
    with pytest.raises(ImpossibleEvidenceError, match=r"^The findings a, b cannot occur together in this model\.$"):
        service.diagnose(FOUND)


@pytest.mark.parametrize(
    ("status", "slug", "kind"),
    [
        (503, "store-fault", StoreError),
        (500, "internal-server-error", DataError),
        (403, "forbidden", WrongCallError),
    ],
)
def test_other_problems_become_faults_of_service_or_call(status, slug, kind, pauses):
    """Statuses that are no error of ours are told apart by whose fault they are."""
    del pauses
    slug = StoreError.slug if kind is StoreError else slug
    service, _ = mocked(*[httpx.Response(status, json={"type": f"x#{slug}", "detail": "So it is."})] * 3)
    with pytest.raises(kind, match=r"^So it is\.$"):
        service.tables()


@pytest.mark.parametrize("content", [b"", b"<html>", b"[]", b"{}", b"null", b"\xff"])
def test_a_server_that_is_another_is_told(content):
    """What is no answer of ours names the address, whether it comes as a success or as an error."""
    for status in (200, 404):
        service, _ = mocked(httpx.Response(status, content=content))
        with pytest.raises(DataError, match="http://service"):
            service.tables()


def test_a_busy_service_is_asked_again(pauses):
    """Growing pauses lie between the attempts, and the last answer counts."""
    busy = httpx.Response(503, json={})
    service, seen = mocked(busy, httpx.ConnectError("no"), httpx.Response(200, json={"assemblies": []}))
    assert service.assemblies() == AssembliesAnswer(assemblies=())
    assert len(seen) == 3
    assert 0.05 <= pauses[0] <= 0.15
    assert 0.2 <= pauses[1] <= 0.6


@pytest.mark.parametrize("date", [False, True])
def test_the_service_says_how_long_to_wait(date, pauses):
    """Retry-After is heeded as seconds and as a date; a wait that is too long is not made."""

    def after(seconds):
        when = datetime.now(UTC) + timedelta(seconds=seconds)
        return {"retry-after": format_datetime(when, usegmt=True) if date else str(seconds)}

    fine = httpx.Response(200, json={"assemblies": []})
    service, _ = mocked(httpx.Response(429, json={}, headers=after(7)), fine)
    service.assemblies()
    assert 5.5 < pauses[0] <= 7.0
    service, seen = mocked(httpx.Response(429, json={}, headers=after(3600)), fine)
    with pytest.raises(DataError):
        service.assemblies()
    assert (len(seen), len(pauses)) == (1, 1)


@pytest.mark.parametrize(
    "reply",
    [
        httpx.Response(422, json={}),
        httpx.Response(500, json={}),
        httpx.ReadTimeout("late"),
        httpx.UnsupportedProtocol("x"),
    ],
)
def test_what_would_fail_again_is_not_asked_again(reply, pauses):
    """A wrong call, a fault of the service and a spent timeout are final."""
    service, seen = mocked(reply)
    with pytest.raises((DataError, WrongCallError)):
        service.tables()
    assert (len(seen), pauses) == (1, [])


def test_what_writes_is_sent_once(pauses):
    """A call that may not be repeated is not."""
    service, seen = mocked(httpx.Response(503, json={}))
    with pytest.raises(DataError):
        service.ask("POST", "/cases", AssembliesAnswer, {}, again=False)
    assert (len(seen), pauses) == (1, [])


def test_pages_are_read_to_the_end():
    """A list in pages comes whole, and its other fields once."""

    def part(place, more):
        body = {
            "item": None,
            "label": None,
            "replaces": [],
            "replaced_by": [],
            "places": [place.model_dump(mode="json")],
        }
        return httpx.Response(200, json=body, headers={"link": f'<?after={more}>; rel="next"'} if more else {})

    from clampgraph.answers.library import Library  # noqa: PLC0415  # only this test needs places

    whole = fits(Library.open(), BOLT).places[:2]
    service, seen = mocked(part(whole[0], "x"), part(whole[1], None))
    assert service.fits(BOLT).places == whole
    assert str(seen[1].url) == "http://service/v1/fits?after=x"


def test_a_limit_is_kept(url, library):
    """Who asks for so many gets so many."""
    with Client(url) as service:
        found = service.ask("GET", "/assemblies", AssembliesAnswer, {"limit": 2})
    assert found.assemblies == assemblies(library).assemblies[:2]


def test_past_cases_come_whole(tmp_path):
    """Cases in pages come whole from a real service, and say that none are left."""
    told = RecordRequest.model_validate({"assembly": UNIT, "seen": ["slow-return"], "found": "nothing"})
    settings = EMBEDDED.model_copy(update={"cases": str(tmp_path / "cases.sqlite")})
    with TestClient(create_app(settings=settings)) as app:

        def pass_on(request):
            path = request.url.raw_path.decode().replace("/v1/cases?", "/v1/cases?limit=2&")
            path = path + "?limit=2" if path == "/v1/cases" else path
            reply = app.request(request.method, path, content=request.read(), headers=dict(request.headers))
            return httpx.Response(reply.status_code, headers={"link": reply.headers.get("link", "")}, json=reply.json())

        service = Client("http://testserver", transport=httpx.MockTransport(pass_on))
        kept = [service.record(told).id for _ in range(5)]
        found = service.cases()
    assert ([case.id for case in found.cases], found.after) == (kept, None)


def test_token_and_language_are_sent():
    """Both go with every request."""
    service, seen = mocked(httpx.Response(200, json={"assemblies": []}), token="said", language="de")  # noqa: S106  # of a mock
    service.assemblies()
    assert (seen[0].headers["authorization"], seen[0].headers["accept-language"]) == ("Bearer said", "de")
    bare, seen = mocked(httpx.Response(200, json={"assemblies": []}))
    bare.assemblies()
    assert "authorization" not in seen[0].headers


@pytest.mark.parametrize("address", ["http://service", "http://service/", "http://service/v1", "http://service/v1/"])
def test_the_version_is_added_once(address):
    """An address may name the version or leave it."""
    asked = []
    transport = httpx.MockTransport(lambda r: asked.append(str(r.url)) or httpx.Response(200, json={"assemblies": []}))
    Client(address, transport=transport).assemblies()
    assert asked == ["http://service/v1/assemblies"]


def test_a_closed_client_asks_nothing(url):
    """Leaving the context closes the connections."""
    with Client(url) as service:
        service.assemblies()
    with pytest.raises(RuntimeError, match="closed"):
        service.assemblies()


def test_every_question_of_the_room_is_tried():
    """Each public method of the client stands in the list above, or is tried by name elsewhere."""
    methods = {name for name, _ in inspect.getmembers(Client, inspect.isfunction) if not name.startswith("_")}
    elsewhere = {"agreement", "ask", "changes", "close", "document", "fits_each", "identify_each", "swap_each"}
    of_cases = {name for name, _ in inspect.getmembers(CaseClient, inspect.isfunction)} & set(vars(CaseClient))
    assert methods == {name.split("-")[0] for name in QUESTIONS} | elsewhere | of_cases


def test_every_name_of_the_room_has_its_home():
    """What the room lists can be imported from it, and nothing else."""
    assert room.__all__ == sorted(room.__all__)
    assert {getattr(room, name).__name__ for name in room.__all__} == set(room.__all__)
    with pytest.raises(AttributeError, match="Klient"):
        _ = room.Klient


def test_a_command_imports_no_reasoning_to_ask_elsewhere():
    """The way to a running service is short: no scipy, no graph."""
    heavy = {"scipy", "pyoxigraph", "networkx"}
    program = f"import sys, clampgraph.client.service; sys.exit(bool({heavy} & set(sys.modules)))"
    assert subprocess.run([sys.executable, "-c", program], check=False).returncode == 0


def test_cases_are_told_to_a_service(library, tmp_path):
    """A job is recorded once, found again, stated, and its author forgotten."""
    app = create_app(library, settings=EMBEDDED.model_copy(update={"cases": str(tmp_path / "cases.sqlite")}))
    job = RecordRequest(
        assembly=UNIT, seen=["slow-return"], found=["quick-exhaust-valve:diaphragm-sticks"], author="A. Fitter", key="k"
    )
    with TestClient(app, base_url="http://localhost") as inside, Client("http://localhost") as service:
        service._http = inside
        kept = service.record(job)
        assert service.record(job) == kept == service.case(kept.id)
        nothing = service.record(RecordRequest(assembly=UNIT, found="nothing"))
        assert (nothing.id, nothing.found) == (kept.id + 1, ())
        assert service.cases().cases == (kept, nothing)
        assert service.cases(CasesRequest(assembly=None, author="A. Fitter", after=0, limit=1)).cases == (kept,)
        assert service.state_exposure(ExposureRequest(assembly=UNIT, years=36)).years.value == 36
        assert service.calibration(UNIT).cases >= 1
        assert service.figures().model_dump(mode="json") == inside.get("/cases/figures").json()
    mock, seen = mocked(httpx.Response(503, json={}))
    with pytest.raises(DataError):
        mock.forget("A. Fitter/x")
    assert (len(seen), str(seen[0].url)) == (1, "http://service/v1/cases/authors/A.%20Fitter%2Fx")


@pytest.mark.parametrize(
    ("method", "path", "call"),
    [
        ("POST", "/v1/fits/batch", lambda c: c.fits_each([BOLT])),
        ("POST", "/v1/identifications/batch", lambda c: c.identify_each([LOOK])),
        ("POST", "/v1/replacements/batch", lambda c: c.swap_each([JOB])),
        ("GET", f"/v1/assemblies/{UNIT}/agreement", lambda c: c.agreement(UNIT)),
        ("GET", "/v1/tables/cautions/changes?since=2026", lambda c: c.changes("cautions", "2026")),
    ],
)
def test_the_other_questions_go_where_they_belong(method, path, call):
    """These answers are slow or need an edition, so only the way there is looked at."""
    service, seen = mocked(httpx.Response(200, json={"answers": []}))
    if "batch" in path:
        assert call(service).answers == ()
    else:
        with pytest.raises(DataError):
            call(service)
    assert (seen[0].method, str(seen[0].url)) == (method, f"http://service{path}")


@pytest.mark.parametrize(("token", "header"), [("said", "Bearer said"), ("", None), (None, None)])
def test_the_command_sends_its_token(token, header, monkeypatch):
    """`--server` takes the token from the environment, and sends none where there is none."""
    monkeypatch.delenv("CLAMPGRAPH_TOKEN", raising=False)
    if token is not None:
        monkeypatch.setenv("CLAMPGRAPH_TOKEN", token)
    with doors.service("http://service", "de") as service:
        assert service._http.headers.get("authorization") == header
        assert service._http.headers["accept-language"] == "de"


def missed(index, retry_after=2):
    """Return the entry of a question that a service did not reach."""
    problem = {"type": "https://w3id.org/clampgraph/problems#not-reached", "title": "t", "status": 503, "detail": "d."}
    return {"index": index, "problem": {**problem, "retry_after": retry_after}}


def test_what_a_batch_did_not_reach_is_asked_again(pauses):
    """Only that, after the pause, and it takes its place among the answers; other problems stay as they are."""
    wrong = {"index": 1, "problem": {"type": "x#unknown-name", "title": "t", "status": 404, "detail": "d."}}
    empty = {"candidates": [], "undescribed": 1.0, "observed": [], "next_feature": None, "features": [], "cautions": []}
    replies = [
        {"answers": [{"index": 0, "answer": empty}, wrong, missed(2), missed(3, 7)]},
        {"answers": [{"index": 0, "answer": {**empty, "undescribed": 0.5}}, missed(1)]},
        {"answers": [{"index": 0, "answer": {**empty, "undescribed": 0.25}}]},
    ]
    service, seen = mocked(*(httpx.Response(200, json=reply) for reply in replies))
    looks = [IdentifyRequest(features={"taper": f"T{number}"}) for number in range(4)]
    told = service.identify_each(looks).answers
    assert [entry.index for entry in told] == [0, 1, 2, 3]
    assert [entry.answer.undescribed for entry in (told[0], told[2], told[3])] == [1.0, 0.5, 0.25]
    assert told[1].problem.status == 404
    sent = [[q["features"]["taper"] for q in json.loads(request.content)["questions"]] for request in seen]
    assert sent == [["T0", "T1", "T2", "T3"], ["T2", "T3"], ["T3"]]
    assert pauses == [0, 7, 2]


def test_what_is_never_reached_keeps_its_problem(pauses):
    """After the last attempt the problem is told, and nobody asks for ever."""
    service, seen = mocked(*(httpx.Response(200, json={"answers": [missed(0)]}) for _ in range(9)))
    (entry,) = service.identify_each([LOOK]).answers
    assert (entry.problem.status, len(seen), pauses) == (503, 3, [0, 2, 2])
