"""What a diagnosis rests on while the case store is down, and how seldom an open one is asked what it has learned."""

import threading
from types import SimpleNamespace

import pytest
from sqlalchemy import event

from cases.test_over_http import JOB, service
from clampgraph.cases.held import Held
from clampgraph.errors import StoreError

QUESTION = {"assembly": "brannoch-40t", "seen": ["slow-return"]}
NEVER = "The case store cannot be reached: these are the figures of the packs, without what your cases taught."
BEFORE = "The case store cannot be reached: these are the figures that it taught last, newer cases do not count yet."


def asked(client, **more):
    reply = client.post("/diagnoses", json={**QUESTION, **more})
    assert reply.status_code == 200, reply.text
    return reply.json()


def without_warnings(answer):
    return {**answer, "warnings": []}


@pytest.fixture
def impatient(monkeypatch):
    """Let a store be asked again at once, whether it answered or not."""
    monkeypatch.setattr("clampgraph.cases.store.REST", 0.0)
    monkeypatch.setattr("clampgraph.cases.store.LATELY", 0.0)


@pytest.mark.usefixtures("impatient")
def test_without_a_store_there_are_the_figures_of_the_packs(library, tmp_path):
    """A store that never answered: the packs' figures and one sentence, in a batch too, and nothing of it is kept."""
    (tmp_path / "cases.sqlite").write_text("this is no database, and it is long enough to be looked at as one\n" * 9)
    with service(library, str(tmp_path / "cases.sqlite")) as client, service(library, None) as plain:
        told = asked(client)
        assert told["warnings"] == [NEVER]
        assert without_warnings(told) == asked(plain)
        batch = client.post("/diagnoses/batch", json={"questions": [QUESTION]}).json()
        assert batch["answers"] == [{"index": 0, "answer": told}]
        assert client.get("/health/ready").json()["type"].endswith("#store-fault")
        recorded = client.post("/cases", json=JOB)
        assert (recorded.status_code, recorded.headers["retry-after"]) == (503, "2")
        (tmp_path / "cases.sqlite").unlink()
        assert asked(client)["warnings"] == []
        assert client.post("/diagnoses/batch", json={"questions": [QUESTION]}).json()["answers"][0]["answer"] == asked(
            plain
        )
        assert client.get("/health/ready").json()["cases"] == "up"


@pytest.mark.usefixtures("impatient")
def test_what_was_learned_goes_on_counting(library, postgres):
    """A database that goes away takes no figure along; when it is back, newer cases count, without a restart."""
    with service(library, postgres.new_database()) as client, service(library, None) as plain:
        for _ in range(3):
            assert client.post("/cases", json=JOB).status_code == 200
        learned = asked(client)
        assert learned != asked(plain)
        postgres.stop()
        try:
            down = asked(client, unseen=[])
            assert down["warnings"] == [BEFORE]
            assert without_warnings(down) == learned
            ready = client.get("/health/ready")
            assert (ready.status_code, ready.json()["cases"]) == (200, "down")
        finally:
            postgres.start()
        assert client.post("/cases", json=JOB).status_code == 200
        again = asked(client)
        assert again["warnings"] == []
        assert without_warnings(again) != learned


def test_an_answer_for_the_moment_is_not_remembered(library, tmp_path, monkeypatch):
    """A store that fails between two looks leaves its mark on one answer and on no later one."""
    with service(library, str(tmp_path / "cases.sqlite")) as client:
        teacher = client.app.state.casebook.teacher
        whole, faults = teacher.learned, [StoreError("gone")]

        def learned(pack):
            if faults:
                raise faults.pop()
            return whole(pack)

        monkeypatch.setattr(teacher, "learned", learned)
        client.app.state.casebook.state()
        first = client.post("/diagnoses", json=QUESTION)
        assert (first.json()["warnings"], first.headers["cache-control"]) == ([NEVER], "no-store")
        client.app.state.casebook.store.lately.forget()
        assert asked(client)["warnings"] == []


def test_remembered_questions_cost_no_query(library, location, monkeypatch):
    """Sixty questions, one look at the store; a case recorded here counts at once, however long a look holds."""
    monkeypatch.setattr("clampgraph.cases.store.LATELY", 3600.0)
    with service(library, location) as client:
        before = asked(client)
        statements = []
        engine = client.app.state.casebook.store._ready()
        event.listen(engine, "before_cursor_execute", lambda *given: statements.append(given[2]))
        for _ in range(60):
            assert asked(client) == before
        assert statements == []
        assert client.post("/cases", json=JOB).status_code == 200
        after = asked(client)
        assert after != before
        assert client.post("/cases/exposures", json={"assembly": "brannoch-40t", "years": 10}).status_code == 200
        assert asked(client) not in (before, after)


def test_what_another_process_recorded_counts_after_a_while(library, location, monkeypatch):
    """Another service on the same store: its case counts here once the last look is old."""
    now = SimpleNamespace(value=0.0)
    with service(library, location) as client, service(library, location) as other:
        lately = client.app.state.casebook.store.lately
        monkeypatch.setattr(lately, "_clock", lambda: now.value)
        before = asked(client)
        assert other.post("/cases", json=JOB).status_code == 200
        assert asked(client) == before
        now.value += 1.1
        assert asked(client) != before


def test_a_value_is_held_for_its_time():
    """One question a second, however many want to know; and anew after a change of our own."""
    now, asked_for = [0.0], []

    def ask():
        asked_for.append(now[0])
        return len(asked_for)

    held = Held(ask, (1.0, 2.0), lambda: now[0])
    assert [held.now() for _ in range(5)] == [1] * 5
    now[0] = 1.0
    assert [held.now(), held.now()] == [2, 2]
    held.forget()
    assert held.now() == 3
    assert asked_for == [0.0, 1.0, 1.0]


def test_a_look_that_a_change_overtook_is_not_held():
    """Whoever asked before the change may be told the old value; nobody after it is."""
    values = iter(["old", "new"])

    def ask():
        value = next(values)
        if value == "old":
            held.forget()
        return value

    held = Held(ask, (60.0, 60.0))
    assert [held.now(), held.now(), held.now()] == ["old", "new", "new"]


def test_one_at_a_time_tries_whether_a_store_is_back():
    """A failure holds for its time; then one caller tries, and the others are told at once."""
    now, tries, hangs, goes_on = [0.0], [], threading.Event(), threading.Event()

    def ask():
        tries.append(now[0])
        if len(tries) == 1:
            raise StoreError("down")
        hangs.set()
        assert goes_on.wait(20)
        return "back"

    held = Held(ask, (1.0, 2.0), lambda: now[0])
    for now[0] in (0.0, 1.9):
        with pytest.raises(StoreError, match="down"):
            held.now()
    assert tries == [0.0]
    now[0], found = 2.0, []
    trying = threading.Thread(target=lambda: found.append(held.now()))
    trying.start()
    assert hangs.wait(20)
    with pytest.raises(StoreError, match="down"):
        held.now()
    held.fail(StoreError("seen elsewhere"))
    goes_on.set()
    trying.join()
    assert found == ["back"]
    assert held.now() == "back"
    assert tries == [0.0, 2.0]
