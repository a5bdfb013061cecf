"""Who may ask: tokens and their scopes, foreign hosts and web pages, and what the service refuses to do unguarded."""

import json
import stat
from datetime import UTC, datetime, timedelta

import pytest
from fastapi.testclient import TestClient
from typer.testing import CliRunner

from clampgraph.api.app import create_app
from clampgraph.api.around.guarding import scope_needed
from clampgraph.api.settings import Settings
from clampgraph.api.tokens import TokenFile
from clampgraph.cli.app import app as commands
from clampgraph.errors import DataError, UnknownNameError, WrongCallError

CASE = {"assembly": "brannoch-40t", "seen": ["slow-return"]}
NUMBERS = '{"tokens": [{"name": 1, "id": 2, "scope": 3, "salt": 4, "digest": 5, "expires": 6}]}'
LOCAL = "http://localhost:8350"


@pytest.fixture(scope="module")
def tokens(tmp_path_factory):
    """Return a file with one token of each scope, and the tokens themselves."""
    path = tmp_path_factory.mktemp("tokens") / "tokens.json"
    file = TokenFile(path)
    return path, {scope: file.issue(f"the-{scope}", scope, 30) for scope in ("read", "write", "admin")}


@pytest.fixture(scope="module")
def guarded(library, tokens, tmp_path_factory):
    """Return a client of a service that others can reach."""
    cases = tmp_path_factory.mktemp("cases") / "cases.sqlite"
    settings = {"host": "0.0.0.0", "tokens": tokens[0], "log": "off", "cases": str(cases), "rate": 0}  # noqa: S104
    with TestClient(create_app(library, settings=Settings.model_validate(settings))) as found:
        yield found


@pytest.fixture(scope="module")
def local(library, tmp_path_factory):
    """Return a client of a service on this machine, without tokens."""
    settings = {"log": "off", "cases": str(tmp_path_factory.mktemp("cases") / "cases.sqlite")}
    with TestClient(create_app(library, settings=Settings.model_validate(settings)), base_url=LOCAL) as found:
        yield found


def bearer(text):
    return {"authorization": f"Bearer {text}"}


@pytest.mark.parametrize(
    ("method", "path", "needed"),
    [
        ("GET", "/health", "none"),
        ("GET", "/health/alive", "none"),
        ("GET", "/health/ready", "none"),
        ("GET", "/metrics", "admin"),
        ("GET", "/assemblies", "read"),
        ("GET", "/cases", "read"),
        ("POST", "/diagnoses", "read"),
        ("POST", "/diagnoses/batch", "read"),
        ("POST", "/calculations/cylinder-force", "read"),
        ("POST", "/sparql", "read"),
        ("POST", "/cases", "write"),
        ("POST", "/cases/exposures", "write"),
        ("PUT", "/whatever-comes-later", "write"),
        ("POST", "/diagnosesandmore", "write"),
        ("DELETE", "/cases/authors/somebody", "admin"),
        ("POST", "/packs", "admin"),
        ("POST", "/reload", "admin"),
    ],
)
def test_what_a_request_needs(method, path, needed):
    """Questions read, everything unknown writes, and what administrates needs most."""
    assert scope_needed(method, path, loopback=False) == needed


def test_metrics_are_open_on_this_machine(local):
    """Whoever watches the service from the same machine needs no token."""
    assert scope_needed("GET", "/metrics", loopback=True) == "none"
    assert local.get("/metrics").status_code == 200


@pytest.mark.parametrize(
    ("asked", "status"),
    [
        ((None, "GET", "/health", None), 200),
        ((None, "GET", "/assemblies", None), 401),
        ((None, "GET", "/v1/assemblies", None), 401),
        ((None, "POST", "/diagnoses", CASE), 401),
        ((None, "GET", "/metrics", None), 401),
        (("read", "GET", "/assemblies", None), 200),
        (("read", "POST", "/diagnoses", CASE), 200),
        (("read", "POST", "/cases", CASE), 403),
        (("read", "POST", "/v1/cases", CASE), 403),
        (("read", "GET", "/metrics", None), 403),
        (("write", "POST", "/cases", {"assembly": "brannoch-40t"}), 422),
        (("write", "GET", "/assemblies", None), 200),
        (("write", "DELETE", "/cases/authors/somebody", None), 403),
        (("write", "POST", "/reload", None), 403),
        (("admin", "DELETE", "/cases/authors/somebody", None), 404),
        (("admin", "GET", "/metrics", None), 200),
        (("admin", "GET", "/assemblies", None), 200),
    ],
)
def test_how_far_a_token_reaches(guarded, tokens, asked, status):
    """Each scope has what stands before it; without a token only health answers."""
    scope, method, path, body = asked
    headers = bearer(tokens[1][scope]) if scope else {}
    reply = guarded.request(method, path, json=body, headers=headers)
    assert reply.status_code == status, reply.text
    if status in (401, 403):
        assert reply.headers["content-type"] == "application/problem+json"
        assert reply.headers["www-authenticate"].startswith('Bearer realm="clampgraph"')
        assert not any(token in reply.text for token in tokens[1].values())


@pytest.mark.parametrize(
    "header",
    [
        "",
        "Bearer",
        "Bearer ",
        "Bearer x",
        "Basic eDp5",
        "Bearer cg_0123456789abcdef_" + "A" * 43,
        "Bearer cg_é_" + "A" * 43,
    ],
)
def test_what_is_no_token(guarded, header):
    """Malformed, unknown and foreign credentials are refused alike."""
    assert guarded.get("/assemblies", headers={"authorization": header.encode()}).status_code == 401


def test_a_token_with_another_secret_is_none(tokens):
    """The identifier alone opens nothing."""
    path, made = tokens
    token = made["admin"]
    assert TokenFile(path).verify(token).name == "the-admin"
    assert TokenFile(path).verify(token[:-2] + ("AA" if token[-2:] != "AA" else "BB")) is None


def test_a_token_expires(tokens):
    """After its days a token opens nothing."""
    path, made = tokens
    later = datetime.now(UTC) + timedelta(days=30, seconds=1)
    assert TokenFile(path).verify(made["read"], later) is None
    assert TokenFile(path).verify(made["read"], later - timedelta(minutes=1)) is not None


def test_the_file_keeps_no_token(tokens):
    """No secret stands in the file, each hash has a salt of its own, and only its owner reads it."""
    path, made = tokens
    text = path.read_text("utf-8")
    assert not any(token.rpartition("_")[2] in text for token in made.values())
    rows = json.loads(text)["tokens"]
    assert len({row["salt"] for row in rows}) == len(rows)
    assert stat.S_IMODE(path.stat().st_mode) == 0o600


def test_a_token_taken_back_ends(tmp_path, monkeypatch):
    """The file is read anew when it changes; a broken or vanished one lets nobody in."""
    monkeypatch.setattr("clampgraph.api.tokens.LOOK_AGAIN", 0.0)
    file = TokenFile(tmp_path / "tokens.json")
    kept, gone = file.issue("kept", "read", 1), file.issue("gone", "read", 1)
    assert file.verify(gone)
    file.revoke("gone")
    assert file.verify(gone) is None
    assert file.verify(kept)
    file.path.write_text("{", "utf-8")
    assert file.verify(kept) is None
    file.path.unlink()
    assert file.verify(kept) is None


@pytest.mark.parametrize(
    ("name", "scope", "days", "said"),
    [
        ("a b", "read", 1, "cannot name a token"),
        ("", "read", 1, "cannot name a token"),
        ("x", "root", 1, "There is no scope 'root'; choose one of read, write, admin."),
        ("x", "read", 0, "cannot live 0 days"),
        ("twice", "read", 1, "There is a token 'twice' already"),
    ],
)
def test_a_token_made_wrongly(tmp_path, name, scope, days, said):
    """What cannot be made is told in one sentence."""
    file = TokenFile(tmp_path / "tokens.json")
    file.issue("twice", "read", 1)
    with pytest.raises(WrongCallError, match=said):
        file.issue(name, scope, days)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "[]",
        "{}",
        '{"tokens": [{}]}',
        NUMBERS,
    ],
)
def test_a_file_that_holds_no_tokens(tmp_path, text):
    """Any other file is refused."""
    path = tmp_path / "tokens.json"
    path.write_text(text, "utf-8")
    with pytest.raises(DataError, match="is no file of tokens"):
        TokenFile(path).read()
    with pytest.raises(DataError, match="cannot be read"):
        TokenFile(tmp_path / "none.json").read()


def test_the_command_shows_a_token_once(tmp_path):
    """`clampgraph token` prints the token alone, stores its hash, and takes it back."""
    path = tmp_path / "tokens.json"
    made = CliRunner().invoke(commands, ["token", "workshop", "--scope", "write", "--file", str(path)])
    assert made.exit_code == 0
    assert TokenFile(path).verify(made.stdout.strip()).scope == "write"
    assert made.stdout.strip() not in made.stderr
    again = CliRunner().invoke(commands, ["token", "workshop", "--file", str(path)])
    assert isinstance(again.exception, WrongCallError)
    assert CliRunner().invoke(commands, ["token", "workshop", "--revoke", "--file", str(path)]).exit_code == 0
    assert TokenFile(path).read() == ()
    gone = CliRunner().invoke(commands, ["token", "workshop", "--revoke", "--file", str(path)])
    assert isinstance(gone.exception, UnknownNameError)


@pytest.mark.parametrize(
    ("host", "status"),
    [
        ("localhost", 200),
        ("localhost:8350", 200),
        ("LOCALHOST:1", 200),
        ("127.0.0.1:8350", 200),
        ("[::1]:8350", 200),
        ("rebound.example", 421),
        ("localhost.rebound.example:8350", 421),
        ("127.0.0.1.rebound.example", 421),
    ],
)
def test_a_name_that_only_points_here(local, host, status):
    """A page that bent its own name to this machine is not served, not even for reading."""
    assert local.get("/assemblies", headers={"host": host}).status_code == status


@pytest.mark.parametrize(
    ("headers", "status"),
    [
        ({"origin": "https://page.example", "content-type": "application/json"}, 403),
        ({"origin": "null", "content-type": "application/json"}, 403),
        ({"origin": "http://localhost:9999", "content-type": "application/json"}, 403),
        ({"content-type": "text/plain"}, 415),
        ({"content-type": "application/x-www-form-urlencoded"}, 415),
        ({"content-type": "multipart/form-data; boundary=x"}, 415),
        ({"content-type": ""}, 415),
        ({"origin": LOCAL, "content-type": "application/json"}, 422),
        ({"content-type": "application/json"}, 422),
    ],
)
def test_a_web_page_cannot_record_a_case(local, headers, status):
    """What a page can send without asking is refused; a program here may write (422: the case lacks what was found)."""
    reply = local.post("/cases", content=b'{"assembly": "brannoch-40t"}', headers=headers)
    assert reply.status_code == status
    assert local.get("/cases").json()["cases"] == []


@pytest.mark.parametrize("path", ["/reload", "/packs?name=x"])
def test_administration_needs_a_token_even_here(local, path):
    """Without a file of tokens nobody administrates over HTTP."""
    reply = local.post(path)
    assert reply.status_code == 403
    assert "--tokens" in reply.json()["detail"]


def test_pages_that_are_allowed(library):
    """An origin that is set may ask, is told so in the preflight, and no other is."""
    settings = Settings.model_validate({"log": "off", "cors": "https://shop.example", "hosts": "testserver"})
    with TestClient(create_app(library, settings=settings)) as client:
        asked = {"access-control-request-method": "POST", "access-control-request-headers": "content-type"}
        for origin, status in (("https://shop.example", 200), ("https://other.example", 400)):
            reply = client.options("/diagnoses", headers={"origin": origin, **asked})
            assert reply.status_code == status
        reply = client.post("/diagnoses", json=CASE, headers={"origin": "https://shop.example"})
        assert reply.headers["access-control-allow-origin"] == "https://shop.example"
        assert client.post("/diagnoses", json=CASE, headers={"origin": "https://other.example"}).status_code == 403


def test_no_page_is_allowed_unless_set(local):
    """Without the setting no answer carries a permission."""
    reply = local.get("/assemblies", headers={"origin": "https://page.example"})
    assert "access-control-allow-origin" not in reply.headers
