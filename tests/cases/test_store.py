"""What is kept: once, whole, in order; and a person can be forgotten."""

import threading
from contextlib import closing
from pathlib import Path

import pytest
import sqlalchemy as sa
from alembic.autogenerate import compare_metadata
from alembic.config import Config
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory

import clampgraph.cases
from clampgraph.cases.opening import address_of, engine_for
from clampgraph.cases.records import Findings, NewCase
from clampgraph.cases.schema import HEAD, METADATA
from clampgraph.cases.store import CaseStore
from clampgraph.errors import StoreError, UnknownNameError, WrongCallError

JOB = NewCase(
    "brannoch-40t", "gen-2",
    Findings(
        ("slow-return",), ("bang-at-release",), {"read-supply-pressure": "4.1bar"}, {"rod": 0.1}, {"wet-air": True}
    ),
    ("silencer:clogged",), {"PF-SIL-38": 1}, 25.5, "schwarz wie Ruß", "Ada", None,
)  # fmt: skip


def test_a_case_comes_back_as_it_was_told(store):
    """Every field survives the way to the disk and back, to the last digit."""
    kept = store.record(JOB, "key")
    assert kept.told == JOB
    assert store.case(kept.id) == kept
    assert store.cases() == [kept]


def test_a_case_sent_twice_is_kept_once(store):
    """The second sending gets the first one's record."""
    assert store.record(JOB, "key") == store.record(JOB, "key")
    assert len(store.cases()) == 1


def test_a_key_stands_for_one_case(store):
    """The same key with another content is refused, and the sentence names the case."""
    first = store.record(JOB, "key")
    with pytest.raises(WrongCallError, match=f"used for case {first.id}, which says something else"):
        store.record(NewCase("brannoch-40t", "gen-2"), "key")
    assert store.cases() == [first]


def test_a_correction_is_a_new_record(store):
    """The old record stays and names the new one; it cannot be corrected twice."""
    old = store.record(JOB, "1")
    new = store.record(NewCase("brannoch-40t", "gen-2", corrects=old.id), "2")
    assert [(c.id, c.corrected_by) for c in store.cases()] == [(old.id, new.id), (new.id, None)]
    assert store.case(old.id).told == JOB
    with pytest.raises(WrongCallError, match=f"corrected by case {new.id} already"):
        store.record(NewCase("brannoch-40t", "gen-2", corrects=old.id), "3")
    with pytest.raises(UnknownNameError, match="no case '99'"):
        store.record(NewCase("brannoch-40t", "gen-2", corrects=99), "4")
    assert len(store.cases()) == 2


def test_pages_join_to_the_whole(store):
    """Page after page, every case comes once and in order, also among those of one assembly or author."""
    names = ("brannoch-40t", "brannoch-30s")
    for number in range(11):
        store.record(NewCase(names[number % 2], "gen-1", author=f"author {number % 3}"), str(number))
    for wanted in ({}, {"assembly": names[0]}, {"author": "author 1"}, {"assembly": names[1], "author": "author 2"}):
        whole, paged, after = store.cases(**wanted), [], 0
        while page := store.cases(**wanted, after=after, limit=2):
            paged += page
            after = page[-1].id
        assert paged == whole
        assert all(c.told.assembly == wanted.get("assembly", c.told.assembly) for c in whole)
        assert all(c.told.author == wanted.get("author", c.told.author) for c in whole)
    assert len(store.cases(author="author 1")) == 4


def test_the_version_moves_with_every_lesson(store):
    """Whoever remembers figures sees that there is something to learn, and only then."""
    empty = store.version()
    store.record(JOB, "key")
    told = store.version()
    store.record(JOB, "key")
    assert store.version() == told != empty
    store.state_exposure("brannoch-40t", 36.0)
    assert store.version() not in (empty, told)


def test_a_person_is_forgotten(store, location):
    """Name and free text are gone, from the disk as well; the technical facts stay, and a retry brings no name back."""
    mine = NewCase("brannoch-40t", "gen-2", found=("silencer:clogged",), note="zzqqnote", author="zzqqname")
    for number in range(3):
        store.record(mine, f"mine {number}")
    other = store.record(JOB, "other")
    assert store.forget("zzqqname") == 3
    assert store.forget("zzqqname") == 0
    assert [c.told.found for c in store.cases()] == [("silencer:clogged",)] * 4
    assert store.case(other.id).told == JOB
    assert store.record(mine, "mine 0").told.author is None
    assert all(c.told.author != "zzqqname" for c in store.cases())
    if "://" not in location:
        here = Path(location)
        held = b"".join(file.read_bytes() for file in here.parent.iterdir())
        assert b"silencer:clogged" in held
        assert b"zzqq" not in held


def test_two_that_start_at_once_both_succeed(location):
    """Whoever opens an empty store first makes it ready; the others wait, and every case is kept."""
    kept, begin = [], threading.Barrier(6)

    def work(number):
        own = CaseStore(location)
        begin.wait()
        kept.append(own.record(JOB, str(number)).id)
        own.close()

    threads = [threading.Thread(target=work, args=(n,)) for n in range(6)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    with closing(CaseStore(location)) as store:
        assert sorted(kept) == [c.id for c in store.cases()]
    assert len(set(kept)) == 6


def test_numbers_follow_the_order_of_commits(store, location):
    """While writers work, a reader that goes on from the last number it saw misses nothing."""
    done, seen = threading.Event(), []

    def write(who):
        own = CaseStore(location)
        for number in range(25):
            own.record(JOB, f"{who} {number}")
        own.close()

    writers = [threading.Thread(target=write, args=(n,)) for n in range(3)]
    for writer in writers:
        writer.start()
    while not done.is_set():
        if not any(w.is_alive() for w in writers):
            done.set()
        seen += store.cases(after=seen[-1].id if seen else 0)
    assert [c.id for c in seen] == [c.id for c in store.cases()]
    assert len(seen) == 75


def test_the_migrations_make_the_tables_that_the_code_reads(store, location):
    """A migrated store has the tables of `schema`, column for column, and stands at the newest step."""
    store.cases()
    engine = engine_for(address_of(location))
    with engine.connect() as connection:
        context = MigrationContext.configure(connection)
        assert compare_metadata(context, METADATA) == []
        assert context.get_current_revision() == HEAD
    engine.dispose()


def test_the_newest_migration_is_the_head():
    """`HEAD` names the newest step, and there is one line of steps."""
    config = Config()
    config.set_main_option("script_location", str(Path(clampgraph.cases.__file__).with_name("migrations")))
    assert ScriptDirectory.from_config(config).get_heads() == [HEAD]


def test_a_store_of_a_newer_version_is_left_alone(location):
    """A store that a later version made is not touched, and the sentence says to update."""
    with closing(CaseStore(location)) as store:
        store.record(JOB, "key")
    engine = engine_for(address_of(location))
    with engine.begin() as connection:
        connection.execute(sa.text("UPDATE alembic_version SET version_num = '9999'"))
    engine.dispose()
    with pytest.raises(StoreError, match="version 9999, newer than this clampgraph: update"):
        CaseStore(location).cases()


def test_what_is_acknowledged_is_synchronised(store, location):
    """The database is told to wait for the disk at every commit."""
    store.cases()
    engine = engine_for(address_of(location))
    with engine.connect() as connection:
        if engine.dialect.name == "sqlite":
            pragmas = [connection.exec_driver_sql(f"PRAGMA {p}").scalar() for p in ("journal_mode", "synchronous")]
            assert pragmas == ["wal", 2]  # 2 is FULL
        else:
            assert connection.exec_driver_sql("SHOW synchronous_commit").scalar() == "on"
    engine.dispose()
