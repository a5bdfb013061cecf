"""Batches: turn by turn, so that nobody is starved; within a time; and no longer than somebody waits."""

import json
import threading
import time
from collections import Counter

import httpx
import pytest
from fastapi.testclient import TestClient

from api.service import listening
from clampgraph.answers.batches import Kind
from clampgraph.answers.identifying.identify import IdentifyAnswer, IdentifyRequest
from clampgraph.api.app import create_app
from clampgraph.api.batching import Done
from clampgraph.api.settings import EMBEDDED

PATH = "/identifications/batch"


class Oracle:
    """Answers identifications after a while, and counts what it was asked."""

    def __init__(self, seconds):
        self.seconds, self.asked, self.before, self.fails = seconds, Counter(), lambda: None, set()

    def __call__(self, _, question):
        """Answer with nothing found."""
        name = question.features["taper"]
        self.asked[name] += 1
        self.before()
        time.sleep(self.seconds)
        if name in self.fails:
            raise RuntimeError("inner secret")
        return IdentifyAnswer(candidates=(), undescribed=1.0, observed=(), next_feature=None, features=(), cautions=())


@pytest.fixture
def oracle(monkeypatch):
    found = Oracle(0.02)
    monkeypatch.setattr("clampgraph.api.batches.IDENTIFICATIONS", Kind("identifications", IdentifyRequest, found))
    return found


def questions(count, first=0):
    return {"questions": [{"features": {"taper": f"T{number}"}} for number in range(first, first + count)]}


def statuses(reply):
    assert reply.status_code == 200
    return [entry["problem"]["status"] if "problem" in entry else 200 for entry in reply.json()["answers"]]


def test_equal_questions_are_answered_once(library, oracle):
    """A question that stands twice in a batch is worked out once, also where nothing is kept."""
    settings = EMBEDDED.model_copy(update={"cache": 0})
    with TestClient(create_app(library, settings=settings)) as client:
        reply = client.post(PATH, json={"questions": questions(1)["questions"] * 3})
    assert statuses(reply) == [200] * 3
    assert oracle.asked == {"T0": 1}


def test_a_batch_has_the_time_of_its_questions_and_goes_on_when_sent_again(library, oracle):
    """What was not reached says so and when to ask again; sent again, only that is computed, until all is told."""
    settings = EMBEDDED.model_copy(update={"time_limit": 0.01})
    with TestClient(create_app(library, settings=settings)) as client:
        replies = [client.post(PATH, json=questions(12))]
        while 503 in statuses(replies[-1]):
            assert len(replies) < 12
            replies.append(client.post(PATH, json=questions(12)))
    first = replies[0].json()["answers"]
    reached = statuses(replies[0]).count(200)
    assert 1 <= reached < 12
    assert statuses(replies[0]) == [200] * reached + [503] * (12 - reached)
    assert first[-1]["problem"] == {
        "type": "https://w3id.org/clampgraph/problems#not-reached",
        "title": "The question was not reached",
        "status": 503,
        "detail": "The batch took longer than 0.12 s and did not reach this question: ask it again.",
        "retry_after": 2,
    }
    assert [entry["index"] for entry in replies[-1].json()["answers"]] == list(range(12))
    assert oracle.asked == {f"T{number}": 1 for number in range(12)}


def test_what_is_kept_has_a_budget():
    """Compressed and counted; the one not asked for longest goes first, and budget 0 keeps nothing."""
    texts = [b'{"answer":%d}' % number * 500 for number in range(50)]
    done = Done(2000)
    for number, text in enumerate(texts):
        done.put(b"%d" % number, text)
        done.put(b"%d" % number, text)
        assert done.get(b"0") == texts[0]
        assert done.size <= done.budget
    kept = [number for number in range(50) if done.get(b"%d" % number) is not None]
    assert 3 <= len(kept) < 12
    assert kept == [0, *range(51 - len(kept), 50)]
    none = Done(0)
    none.put(b"0", texts[0])
    assert (none.get(b"0"), none.size) == (None, 0)


def test_a_thousand_slow_questions_are_all_answered(library, oracle):
    """A batch may take far longer than one answer may."""
    oracle.seconds = 0.001
    settings = EMBEDDED.model_copy(update={"time_limit": 0.1})
    with TestClient(create_app(library, settings=settings)) as client:
        assert statuses(client.post(PATH, json=questions(1000))) == [200] * 1000


def test_a_service_that_goes_down_ends_its_batches(library, oracle):
    """Answers that are there are told, the others are sent away; nothing is cut off."""
    app = create_app(library)

    def leave():
        app.state.keeper.leaving = len(oracle.asked) >= 3

    oracle.before = leave
    with TestClient(app) as client:
        reply = client.post(PATH, json=questions(8))
    assert statuses(reply) == [200] * 3 + [503] * 5
    assert "goes down" in reply.json()["answers"][-1]["problem"]["detail"]


def test_a_fault_in_one_question_spoils_no_other(library, oracle, capsys):
    """It gets a problem that tells nothing of the inside; the log has the trace."""
    oracle.fails = {"T1"}
    settings = EMBEDDED.model_copy(update={"log": "json"})
    with TestClient(create_app(library, settings=settings)) as client:
        reply = client.post(PATH, json=questions(3))
    assert statuses(reply) == [200, 500, 200]
    assert "secret" not in reply.text
    lines = [json.loads(line) for line in capsys.readouterr().err.splitlines()]
    assert [("inner secret" in line["exception"], line["level"]) for line in lines if line["event"] == "batch"] == [
        (True, "error")
    ]


def test_who_asks_one_question_does_not_wait_for_a_batch(library, oracle):
    """A single question and a small batch are answered while a large batch runs, from its first parts on."""
    oracle.seconds = 0.05
    with listening(library) as url, httpx.Client(base_url=url, timeout=60) as client:
        unit = {"assembly": "brannoch-30s", "seen": ["slow-return"]}
        assert client.post("/diagnoses", json=unit).status_code == 200
        asked = []

        def meanwhile():
            for body in ({**unit, "seen": ["no-return"]}, {**unit, "unseen": ["no-return"]}):
                assert client.post("/diagnoses", json=body).status_code == 200
            assert statuses(client.post(PATH, json=questions(2, first=990))) == [200] * 2
            asked.append(len(oracle.asked))

        thread = threading.Thread(target=meanwhile)
        with httpx.stream("POST", url + PATH, json=questions(900), timeout=60) as reply:
            next(reply.iter_raw())
            thread.start()
            thread.join(timeout=40)
    assert asked
    assert asked[0] < 900


def test_nothing_is_computed_for_who_has_left(library, oracle):
    """The client goes after the first answers: the computing stops within a turn, and others find the way free."""
    with listening(library) as url:
        with httpx.stream("POST", url + PATH, json=questions(500), timeout=60) as reply:
            parts = reply.iter_raw()
            while len(oracle.asked) < 3:
                next(parts)
        time.sleep(0.5)
        seen = len(oracle.asked)
        time.sleep(0.5)
        assert len(oracle.asked) == seen < 100
        assert statuses(httpx.post(url + PATH, json=questions(1, first=900), timeout=60)) == [200]


def test_only_so_many_batches_are_worked_on(library, oracle, monkeypatch):
    """More are sent away with a time to come back."""
    monkeypatch.setattr("clampgraph.api.batches.MOST_WAITING", 1)
    with listening(library) as url, httpx.stream("POST", url + PATH, json=questions(1000), timeout=60) as reply:
        next(reply.iter_raw())
        refused = httpx.post(url + PATH, json=questions(1), timeout=60)
    assert (refused.status_code, refused.headers["retry-after"]) == (503, "10")
    assert oracle.asked
