"""Every acknowledged case survives: killed workers, a server that falls over, a full disk, a database that is down."""

import json
import subprocess
import sys
from collections import Counter
from contextlib import closing
from pathlib import Path

import psycopg
import pytest
from sqlalchemy import event

from cases.killing import job
from clampgraph.cases.records import NewCase
from clampgraph.cases.store import CaseStore
from clampgraph.errors import StoreError

KILLS = 210
WORK = Path(__file__).with_name("killing.py")


def test_acknowledged_cases_survive_kills(location):
    """After more than 200 kills every acknowledged case is there, none twice, none half, and each retry kept one."""
    done = subprocess.run(
        [sys.executable, "-W", "error", WORK, location, str(KILLS), "7"],
        capture_output=True, check=False, text=True, timeout=120,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    told = json.loads(done.stdout)
    with closing(CaseStore(location)) as store:
        kept = store.cases()
    by_id = {case.id: case.told for case in kept}
    assert len(told["acknowledged"]) > KILLS // 4
    for number, key in told["acknowledged"]:
        assert by_id[number] == job(key)
    times = Counter(case.told.author for case in kept)
    assert set(times.values()) == {1}
    assert all(case.told == job(case.told.author) for case in kept)
    for line, following in told["lines"].items():  # one more may be kept than was acknowledged
        numbers = sorted(int(key.partition("-")[2]) for key in times if key.partition("-")[0] == line)
        assert numbers in (list(range(following)), list(range(following + 1)))


def test_a_server_that_falls_over_keeps_what_was_acknowledged(postgres):
    """PostgreSQL is stopped as by a power cut while cases come in; afterwards every acknowledged one is there."""
    with closing(CaseStore(postgres.new_database())) as store:
        acknowledged = [store.record(job(f"9-{number}"), f"9-{number}") for number in range(40)]
        postgres.stop()
        with pytest.raises(StoreError, match="does not answer: check that it is running"):
            store.record(job("9-40"), "9-40")
        with pytest.raises(StoreError, match="does not answer"):
            store.cases()
        postgres.start()
        acknowledged.append(store.record(job("9-40"), "9-40"))
        assert store.cases() == acknowledged


def test_a_store_that_is_down_at_first_is_used_when_it_comes(postgres):
    """A worker that started while the database was down records as soon as it is up."""
    location = postgres.new_database()
    postgres.stop()
    with closing(CaseStore(location)) as store:
        with pytest.raises(StoreError, match="does not answer"):
            store.record(job("8-0"), "8-0")
        postgres.start()
        store.record(job("8-0"), "8-0")
        assert [case.told for case in store.cases()] == [job("8-0")]


def test_a_full_disk_is_said_and_overcome(tmp_path):
    """SQLite without room: the case is refused in one sentence, nothing is half there; with room it is kept."""
    room = [40]
    with closing(CaseStore(str(tmp_path / "cases.sqlite"))) as store:
        event.listen(store._ready(), "checkout", lambda raw, *_: raw.execute(f"PRAGMA max_page_count={room[0]}"))
        kept = list(until_full(store))
        following = f"6-{len(kept)}"
        with pytest.raises(StoreError, match="has no room left: free some space and try again"):
            store.record(job(following), following)
        assert len(kept) > 10
        assert store.cases() == kept
        room[0] = 1_000_000
        kept.append(store.record(job(following), following))
        assert store.cases() == kept


def until_full(store):
    """Record cases until there is no room."""
    for number in range(1000):
        try:
            yield store.record(job(f"6-{number}"), f"6-{number}")
        except StoreError:
            return


def test_a_full_disk_of_the_server_is_said_and_overcome(postgres):
    """PostgreSQL without room reports its class 53100; the case is refused, and kept once there is room."""
    location = postgres.new_database()
    with closing(CaseStore(location)) as store, psycopg.connect(location, autocommit=True) as server:
        kept = [store.record(job("5-0"), "5-0")]
        server.execute(
            "CREATE FUNCTION no_room() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN RAISE EXCEPTION USING "
            "ERRCODE = '53100', MESSAGE = 'could not extend file: No space left on device'; END $$"
        )
        server.execute("CREATE TRIGGER full_up BEFORE INSERT ON cases FOR EACH ROW EXECUTE FUNCTION no_room()")
        with pytest.raises(StoreError, match="has no room left"):
            store.record(job("5-1"), "5-1")
        server.execute("DROP TRIGGER full_up ON cases")
        kept.append(store.record(job("5-1"), "5-1"))
        assert store.cases() == kept


def test_a_database_that_lacks_letters_is_said(postgres):
    """A database in an older encoding refuses what it cannot hold; the fault is not read from what people wrote."""
    with closing(CaseStore(postgres.new_database("LATIN1"))) as store:
        kept = store.record(NewCase("brannoch-40t", "gen-2", note="Ruß"), "1")
        sentence = "cannot hold every letter: make its database with the encoding UTF8"
        with pytest.raises(StoreError, match=sentence) as failed:
            store.record(NewCase("brannoch-40t", "gen-2", note="油圧, disk is full, valve locked"), "2")
        assert "valve locked" not in str(failed.value.__cause__)
        assert store.cases() == [kept]


def test_who_may_only_read_is_told(postgres):
    """A user who may read a database but not write to it lists cases, and is told on recording."""
    location = postgres.new_database()
    with closing(CaseStore(location)) as store, psycopg.connect(location, autocommit=True) as server:
        kept = store.record(NewCase("brannoch-40t", "gen-2"), "1")
        server.execute("CREATE ROLE reader LOGIN")
        server.execute("GRANT SELECT ON ALL TABLES IN SCHEMA public TO reader")
    with closing(CaseStore(location.replace("postgres@", "reader@"))) as store:
        assert store.cases() == [kept]
        with pytest.raises(StoreError, match="may not be written by this user"):
            store.record(NewCase("brannoch-40t", "gen-2"), "2")


def test_what_is_no_case_store_is_said(tmp_path):
    """A file of another kind, and a folder that does not exist, get one sentence each."""
    other = tmp_path / "parts.csv"
    other.write_text("position,mpn\n" * 100)
    with pytest.raises(StoreError, match=r"parts\.csv is a file of another kind"):
        CaseStore(str(other)).cases()
    assert other.read_text().startswith("position,mpn")
    with pytest.raises(StoreError, match="cannot be opened for writing: check the path"):
        CaseStore(str(tmp_path / "nowhere" / "cases.sqlite")).cases()
