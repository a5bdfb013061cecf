"""Who tries tokens is slowed down, and nobody who is at work."""

import itertools

import pytest
from fastapi.testclient import TestClient

from clampgraph.api.app import create_app
from clampgraph.api.around.asgi import state_of
from clampgraph.api.around.pacing import CALLERS_KEPT
from clampgraph.api.around.warding import BARE, Warded
from clampgraph.api.settings import Settings
from clampgraph.api.tokens import TokenFile

GUESS = "cg_0123456789abcdef_" + "A" * 43
PER_MINUTE = 60
BURST = PER_MINUTE // 6


class Door:
    """A step around an application that knows one token, and a clock that is set by hand."""

    def __init__(self, per_minute=PER_MINUTE):
        self.now, self.looked = 0.0, 0
        self.step = Warded(self._inner, per_minute, lambda: self.now)

    async def _inner(self, scope, _, send):
        self.looked += 1
        good = (b"authorization", b"Bearer good") in scope["headers"]
        if good:
            state_of(scope)["caller"] = "workshop"
        status = 200 if good or scope["path"] == "/open" or scope["path"].startswith("/health") else 401
        await send({"type": "http.response.start", "status": status, "headers": []})
        await send({"type": "http.response.body", "body": b""})

    def ask(self, token=None, address="192.0.2.1", path="/assemblies"):
        """Return the status, and what Retry-After says."""
        sent = []

        async def send(message):
            sent.append(message)

        headers = [(b"authorization", f"Bearer {token}".encode())] if token else []
        scope = {"type": "http", "method": "GET", "path": path, "headers": headers, "client": (address, 1)}
        call = self.step(scope, None, send)
        with pytest.raises(StopIteration):
            call.send(None)
        told = dict(sent[0]["headers"])
        return sent[0]["status"], int(told.get(b"retry-after", 0))

    def shut(self, address="192.0.2.1"):
        """Guess until nobody looks any more; return how many guesses were looked at."""
        before = self.looked
        for number in itertools.count():
            if self.ask(f"wrong-{number}", address)[0] == 429:
                break
        return self.looked - before


def test_guessing_is_slowed_to_one_a_second():
    """After a burst one guess a second is looked at, however many are sent; the rest is told to wait."""
    door = Door()
    assert door.shut() == BURST
    looked = door.looked
    for _ in range(100):
        assert door.ask("another") == (429, 1)
    assert door.looked == looked
    for _ in range(600):
        door.now += 0.1
        door.ask("another")
    assert PER_MINUTE - 1 <= door.looked - looked <= PER_MINUTE


def test_one_a_minute_is_one_a_minute():
    """The slowest setting lets one guess in, and the next one when a minute has passed."""
    door = Door(1)
    assert [door.ask("one"), door.ask("two")] == [(401, 0), (429, 60)]
    door.now = 60.0
    assert [door.ask("two"), door.ask("three")] == [(401, 0), (429, 60)]


def test_others_are_not_harmed():
    """Another address, a token that was good lately, and whoever asks for health go on."""
    door = Door()
    assert door.ask("good") == (200, 0)
    door.shut()
    assert door.ask("good") == (200, 0)
    assert door.ask("wrong", "192.0.2.2") == (401, 0)
    assert door.ask(path="/health/alive") == (200, 0)
    assert door.ask("wrong", path="/health") == (200, 0)


def test_a_good_token_is_let_in_once_the_time_has_passed():
    """One that is new has to wait like a guess, for nobody can tell it from one."""
    door = Door()
    door.shut()
    assert door.ask("good") == (429, 1)
    door.now += 1.0
    assert door.ask("good") == (200, 0)


def test_an_open_path_makes_no_token_good():
    """What is answered without a token tells nothing of the one that was sent."""
    door = Door()
    assert door.ask("wrong", path="/open") == (200, 0)
    door.shut()
    assert door.ask("wrong")[0] == 429


def test_who_sends_no_token_has_more_patience():
    """Forgotten tokens are no guesses; but they have an end, too, and shut out no guess of their own."""
    door = Door()
    statuses = [door.ask()[0] for _ in range(BARE * BURST + 1)]
    assert statuses == [401] * (BARE * BURST) + [429]
    assert door.ask("wrong") == (401, 0)


@pytest.mark.parametrize(
    ("one", "other", "same"),
    [
        ("2001:db8:1:2::1", "2001:db8:1:2:ffff::9", True),
        ("2001:db8:1:2::1", "2001:db8:1:3::1", False),
        ("192.0.2.1", "192.0.2.2", False),
        ("::ffff:192.0.2.1", "::ffff:192.0.2.2", False),
        ("testclient", "testclient", True),
    ],
)
def test_a_site_has_one_address(one, other, same):
    """Whoever has 64 bits of addresses to choose from is one caller."""
    door = Door()
    door.shut(one)
    assert (door.ask("wrong", other)[0] == 429) == same


def test_memory_is_bounded():
    """A flood of addresses and tokens is forgotten, the oldest first."""
    door = Door()
    for number in range(CALLERS_KEPT + 500):
        door.step._refused((f"10.0.{number >> 8}.{number & 255}", True), b"%d" % number)
        door.step._let_in(b"%d" % number)
        if number < 5:
            door.shut(f"192.0.2.{number}")
    door.shut()
    door.ask("good")
    kept = (door.step._paid, door.step._good)
    assert [len(each) for each in kept] == [CALLERS_KEPT] * 2


def test_the_service_slows_guesses(library, tmp_path):
    """Where tokens are asked for: hundreds of guesses get a few looks, and a problem document with a time."""
    tokens = TokenFile(tmp_path / "tokens.json")
    good = {"authorization": f"Bearer {tokens.issue('workshop', 'read', 1)}"}
    settings = Settings.model_validate({"log": "off", "hosts": "*", "tokens": tokens.path, "guesses": 6})
    with TestClient(create_app(library, settings=settings)) as client:
        assert client.get("/assemblies", headers=good).status_code == 200
        replies = [client.get("/assemblies", headers={"authorization": f"Bearer {GUESS}"}) for _ in range(50)]
        assert [reply.status_code for reply in replies] == [401] + [429] * 49
        assert replies[-1].headers["content-type"] == "application/problem+json"
        assert 1 <= int(replies[-1].headers["retry-after"]) <= 10
        assert client.get("/assemblies", headers=good).status_code == 200
        assert client.get("/health").status_code == 200
