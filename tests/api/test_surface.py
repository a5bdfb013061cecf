"""What every route has in common: versions, pages, forms, and errors with the right status."""

import json
import socket

import pytest
from fastapi.testclient import TestClient

from clampgraph.api.accepting import best
from clampgraph.api.app import create_app
from clampgraph.api.running import _listen
from clampgraph.api.settings import EMBEDDED, Settings

UNIT = "brannoch-40t"
JSON = {"content-type": "application/json"}


@pytest.fixture(scope="module")
def client(library):
    with TestClient(create_app(library)) as found:
        yield found


@pytest.mark.parametrize("path", ["/health", "/assemblies", f"/assemblies/{UNIT}?generation=gen-1", "/openapi.json"])
def test_every_version_of_a_path_gives_the_same(path, client):
    """Under the current version and without one, the same bytes come back."""
    assert client.get(f"/v1{path}").content == client.get(path).content


def test_a_question_under_a_version(client):
    """Bodies pass through as well."""
    body = {"assembly": UNIT, "seen": ["slow-return"]}
    assert client.post("/v1/diagnoses", json=body).content == client.post("/diagnoses", json=body).content


@pytest.mark.parametrize(
    ("path", "said"),
    [
        ("/v9/assemblies", "There is no version 'v9' of this interface; known: v1."),
        ("/v0", "There is no version 'v0' of this interface; known: v1."),
        ("/v1/nowhere", "Nothing is at /nowhere; /openapi.json lists what is."),
        ("/v1/v1/assemblies", "Nothing is at /v1/assemblies; /openapi.json lists what is."),
        ("/valves", "Nothing is at /valves; /openapi.json lists what is."),
    ],
)
def test_an_unknown_version_names_the_known_ones(path, said, client):
    """A wrong address says what would be right."""
    reply = client.get(path)
    assert (reply.status_code, reply.headers["content-type"]) == (404, "application/problem+json")
    assert reply.json()["detail"] == said
    assert reply.json()["type"] == "https://w3id.org/clampgraph/problems#not-found"


@pytest.mark.parametrize(
    ("method", "path", "allow"),
    [
        ("DELETE", "/assemblies", "GET, HEAD, OPTIONS"),
        ("GET", "/diagnoses", "POST, OPTIONS"),
        ("PUT", "/sparql", "GET, HEAD, POST, OPTIONS"),
    ],
)
def test_a_wrong_method_names_the_right_ones(method, path, allow, client):
    """405 carries Allow with every method of that path (RFC 9110, 15.5.6)."""
    reply = client.request(method, path)
    assert (reply.status_code, reply.headers["allow"]) == (405, allow)
    assert reply.json()["type"].endswith("#method-not-allowed")


@pytest.mark.parametrize("kind", ["text/plain", "application/x-www-form-urlencoded", "application/xml"])
def test_a_body_of_another_type_is_refused(kind, client):
    """A JSON question in another wrapping gets 415 and is told which to use."""
    reply = client.post("/diagnoses", content=b'{"assembly": "x"}', headers={"content-type": kind})
    assert (reply.status_code, reply.headers["accept"]) == (415, "application/json")
    assert f"'{kind}'; send application/json." in reply.json()["detail"]


@pytest.mark.parametrize(
    ("header", "offered", "chosen"),
    [
        ("text/csv", ["a/b", "text/csv"], "text/csv"),
        ("*/*", ["a/b", "text/csv"], "a/b"),
        ("text/csv;q=0.2, a/b;q=0.1", ["a/b", "text/csv"], "text/csv"),
        ("text/*;q=0.3, text/csv;q=0.1, a/b;q=0.2", ["a/b", "text/csv"], "a/b"),
        ("*/*, a/b;q=0", ["a/b", "text/csv"], "text/csv"),
        ("*/*, text/csv", ["a/b", "text/csv"], "text/csv"),
        ("TEXT/CSV; Q=0.5", ["a/b", "text/csv"], "text/csv"),
        ('a/b;x="y,z;q=1";q=0.1, text/csv;q=0.2', ["a/b", "text/csv"], "text/csv"),
        ("text/csv;q=0", ["text/csv"], None),
        ("image/png", ["a/b"], None),
        ("nonsense, */*;q=high, text/csv", ["a/b", "text/csv"], "text/csv"),
        ("", ["a/b"], None),
    ],
)
def test_weights_decide(header, offered, chosen):
    """The most exact range weighs a type (RFC 9110, 12.5.1), and what is no range counts for nothing."""
    assert best(header, offered) == chosen


@pytest.mark.parametrize(
    ("accept", "status", "media"),
    [
        ("text/csv;q=0.5, text/markdown", 200, "text/markdown"),
        ("text/html,application/xhtml+xml,application/xml;q=0.9,*/*;q=0.8", 200, "text/html"),
        ("image/png, */*;q=0.1", 200, "application/json"),
        ("image/png", 406, "application/problem+json"),
    ],
)
def test_a_table_comes_in_the_form_asked_for(accept, status, media, client):
    """Tables heed weights, and refuse what they cannot be."""
    reply = client.get("/tables/checks-with-limits", headers={"accept": accept})
    assert (reply.status_code, reply.headers["content-type"].split(";")[0]) == (status, media)


def test_pages_together_are_the_list(client):
    """Following the links gives every entry once, in order; without a limit the list comes whole."""
    whole = client.get("/symptoms").json()["symptoms"]
    url, found = "/v1/symptoms?limit=4", []
    while url:
        reply = client.get(url)
        found += reply.json()["symptoms"]
        url = str(reply.url.join(reply.links["next"]["url"])) if "next" in reply.links else None
    assert found == whole
    assert "link" not in client.get("/symptoms").headers


@pytest.mark.parametrize("path", ["/assemblies", f"/fits?assembly={UNIT}&position=push-bolt", "/items/BR-4012-2/fits"])
def test_a_page_keeps_the_question(path, client):
    """The link to the next page carries the other parameters."""
    name = "assemblies" if path == "/assemblies" else "places"
    whole = client.get(path).json()[name]
    first = client.get(
        path, params=dict(pair.split("=") for pair in f"{path}?".split("?")[1].split("&") if pair) | {"limit": 1}
    )
    assert first.json()[name] == whole[:1]
    rest = client.get(first.url.join(first.links["next"]["url"]).copy_set_param("limit", 1000))
    assert rest.json()[name] == whole[1:]


@pytest.mark.parametrize("after", ["x", "WzFd", "bnVsbA", "%00", "é"])
def test_a_wrong_place_is_refused(after, client):
    """A cursor that is none of this list's says where to get one."""
    reply = client.get("/assemblies", params={"after": after})
    assert reply.status_code == 422
    assert "take 'after' from the link" in reply.json()["detail"]


GOOD = [
    {"assembly": UNIT, "seen": ["slow-return"], "unseen": ["bang-at-release"]},
    {"assembly": UNIT, "seen": ["bang-at-release"], "unseen": ["slow-return"]},
    {"assembly": UNIT, "seen": ["slow-return", "bang-at-release"], "generation": "gen-2"},
    {"assembly": UNIT, "seen": ["slow-return"], "readings": {"read-supply-pressure": "4.1bar"}},
    {"assembly": UNIT, "seen": ["slow-return"], "ages": {"rod": 3}},
    {"assembly": "brannoch-30s"},
]


def test_a_batch_of_diagnoses_is_its_diagnoses(client):
    """Every answer of a batch is, byte for byte, the answer to its question alone; mistakes spoil no neighbour."""
    bad = [
        None,
        {"assembly": "nix"},
        {"assembly": UNIT, "seen": ["slow-return"], "unseen": ["slow-return"]},
        {"sen": 1},
    ]
    questions = [GOOD[0], bad[0], *GOOD[1:], *bad[1:], GOOD[0]]
    reply = client.post("/diagnoses/batch", json={"questions": questions})
    answers = reply.json()["answers"]
    assert [entry["index"] for entry in answers] == list(range(len(questions)))
    for question, entry in zip(questions, answers, strict=True):
        alone = client.post("/diagnoses", content=json.dumps(question), headers=JSON)
        if question in bad:
            assert set(entry) == {"index", "problem"}
            assert entry["problem"]["status"] == alone.status_code
            told = {key: value for key, value in alone.json().items() if key != "request_id"}
            assert question is None or entry["problem"] == told
        else:
            assert f'{{"index":{entry["index"]},"answer":{alone.text}}}' in reply.text


@pytest.mark.parametrize(
    ("path", "question"),
    [
        ("/identifications", {"features": {"taper": "BT40"}}),
        ("/replacements", {"assembly": UNIT, "positions": ["rod"]}),
    ],
)
def test_other_batches_are_their_questions(path, question, client):
    """The same holds for the other kinds of question."""
    reply = client.post(f"{path}/batch", json={"questions": [question, {"colour": "red"}]})
    assert f'"answer":{client.post(path, json=question).text}' in reply.text
    assert reply.json()["answers"][1]["problem"]["status"] == 422


def test_a_batch_of_fits(client):
    """Fits take the item as a field."""
    asked = {"mpn": "BR-4012-2", "assembly": UNIT, "position": "rod"}
    reply = client.post("/fits/batch", json={"questions": [asked]})
    alone = client.get("/items/BR-4012-2/fits", params={"assembly": UNIT, "position": "rod"})
    assert f'"answer":{alone.text}' in reply.text


def test_a_batch_has_an_end(client):
    """A thousand questions are taken, one more is refused; no question is no mistake."""
    few = client.post("/diagnoses/batch", json={"questions": [{}] * 1000})
    assert (few.status_code, len(few.json()["answers"])) == (200, 1000)
    many = client.post("/diagnoses/batch", json={"questions": [{}] * 1001})
    assert many.status_code == 422
    assert "questions" in many.json()["detail"]
    assert client.post("/diagnoses/batch", json={"questions": []}).json() == {"answers": []}


def test_an_unforeseen_error_says_nothing_of_the_inside(library, monkeypatch):
    """What nobody foresaw becomes a problem document too, without its own words."""

    def fail(*_):
        raise RuntimeError("secret")

    monkeypatch.setattr("clampgraph.api.work.identify", fail)
    with TestClient(create_app(library), raise_server_exceptions=False) as client:
        reply = client.post("/identifications", json={})
    assert (reply.status_code, reply.headers["content-type"]) == (500, "application/problem+json")
    assert "secret" not in reply.text
    assert json.loads(reply.text)["type"].endswith("#internal-server-error")


def test_an_answer_is_sent_at_once():
    """A connection that is kept open does not hold an answer back until the one before it is acknowledged."""
    settings = Settings(port=0)
    with _listen(settings) as listener, socket.create_connection(listener.getsockname()):
        accepted, _ = listener.accept()
        with accepted:
            assert accepted.getsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY) != 0


@pytest.mark.parametrize("form", ["turtle", "bogus"])
def test_a_result_ends_where_it_began(form, client, monkeypatch):
    """A query whose form does not hold its result is refused, and no part of the result dies in another thread."""
    strange = []
    monkeypatch.setattr("sys.unraisablehook", lambda told: strange.append(told.exc_value))
    reply = client.get("/queries/assembly/list-generations", params={"assembly": UNIT, "format": form})
    assert (reply.status_code, strange) == (422, [])


@pytest.mark.parametrize("since", ["", "/", ".", "..", "nowhere", "x" * 300, "ontology/../LICENSE"])
def test_an_edition_is_no_way_to_other_files(since, client):
    """Whatever is named as an edition and is none gets one sentence."""
    reply = client.get("/tables/cautions/changes", params={"since": since})
    assert reply.status_code in (404, 422)
    assert reply.headers["content-type"] == "application/problem+json"


def test_who_asks_from_elsewhere_names_no_files(library, tmp_path):
    """A service that others reach opens the shipped edition only."""
    open_to_all = EMBEDDED.model_copy(update={"host": "0.0.0.0"})  # noqa: S104  # nothing listens in this test
    with TestClient(create_app(library, settings=open_to_all)) as client:
        assert client.get("/tables/cautions/changes", params={"since": "shipped"}).status_code == 200
        reply = client.get("/tables/cautions/changes", params={"since": str(tmp_path)})
    assert (reply.status_code, reply.json()["nearest"]) == (404, ["shipped"])


@pytest.mark.parametrize("day", ["0", "86400", "2012", "2012-05", "2012-5-1", "1 May"])
def test_a_date_is_no_number(day, client):
    """Seconds since 1970 are no day when a machine was built."""
    reply = client.get("/items/BR-4012-2/fits", params={"build_date": day})
    assert (reply.status_code, "such as 2012-05-01" in reply.json()["detail"]) == (422, True)


@pytest.mark.parametrize(
    ("path", "told", "field"),
    [
        ("/diagnoses", {"ages": {"rod": True}}, "ages.rod"),
        ("/diagnoses", {"labour_rate": "80"}, "labour_rate"),
        ("/diagnoses", {"conditions": {"dirty-air": 1}}, "conditions.dirty-air"),
        ("/replacements", {"positions": ["rod"], "serial": "5000"}, "serial"),
        ("/replacements", {"positions": ["rod"], "stock": {"BR-4014": True}}, "stock.BR-4014"),
        ("/cases", {"found": ["nothing"], "minutes": True}, "minutes"),
        ("/simulations", {"trace": 0}, "trace"),
    ],
)
def test_a_truth_is_no_number(path, told, field, client):
    """What the description calls a number is no text and no truth value, and the other way round."""
    reply = client.post(path, json={"assembly": UNIT, **told})
    assert (reply.status_code, f"'{field}' is wrong" in reply.json()["detail"]) == (422, True)


@pytest.mark.parametrize(
    ("path", "told"),
    [
        ("/diagnoses", '"ages": {"rod": 1e999}'),
        ("/diagnoses", '"labour_rate": NaN'),
        ("/replacements", '"positions": ["rod"], "horizon": 1e999'),
        ("/replacements", '"positions": ["rod"], "visit_cost": Infinity'),
        ("/replacements", '"positions": ["rod"], "labour_rate": 1e308'),
        ("/replacements", '"positions": ["rod"], "labour_rate": 1e6, "visit_cost": 1e9, "horizon": 1e3'),
        ("/replacements", '"positions": ["rod"], "labour_rate": 1e-300, "visit_cost": 1e-300, "horizon": 1e-300'),
        ("/replacements", '"positions": ["rod"], "stock": {"BR-4014": 1' + "0" * 30 + "}"),
        ("/diagnoses", '"labour_rate": 1e-300'),
        ("/replacements", '"positions": ["rod"], "ages": {"rod": 1e300}'),
    ],
)
def test_no_number_is_too_large_to_be_refused(path, told, client):
    """Infinite and absurd figures get a sentence or an answer in sound JSON, never a fault."""
    reply = client.post(path, content=f'{{"assembly": "{UNIT}", {told}}}', headers=JSON)
    assert reply.status_code in (200, 422), reply.text
    json.loads(reply.text, parse_constant=pytest.fail)
