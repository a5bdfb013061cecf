"""Stores on disk: an edition stays while any process reads it, and goes when none does."""

import contextlib
import os
import signal
import subprocess
import sys
import time

import httpx
import pytest

from api.service import running
from clampgraph.errors import StoreError
from clampgraph.graph import load
from clampgraph.graph.leases import BUILDING, KEPT, Lease, remove, tidy

NOTE = '<https://example.org/pack/note> <http://www.w3.org/2000/01/rdf-schema#comment> "{}"@en .\n'
READER = """
import sys
from pathlib import Path
from clampgraph.graph import load
graph = load([Path(sys.argv[1])], sys.argv[2])
print(len(graph), flush=True)
sys.stdin.readline()
print(len(graph.ask("assembly/list-assemblies")), flush=True)
"""


@pytest.fixture
def place(tmp_path):
    return tmp_path / "disk"


def pack(folder, text):
    """Return a pack that makes another edition of each text."""
    file = folder / f"{text}.nt"
    file.write_text(NOTE.format(text), "utf-8")
    return file


def opened(folder, place, text):
    return load([pack(folder, text)], str(place))


def editions(place):
    return {path.name for path in place.iterdir()}


@contextlib.contextmanager
def reading(file, place):
    """Read an edition in a process of its own; gives it when it has the store open."""
    command = [sys.executable, "-c", READER, str(file), str(place)]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as process:
        try:
            assert int(process.stdout.readline()) > 1000
            yield process
        finally:
            process.kill()


def test_an_edition_goes_when_another_took_its_place(tmp_path, place):
    """Closed and replaced in this process, it is gone from the disk; the one in use stays, and a lone one stays."""
    one = opened(tmp_path, place, "one")
    one.close()
    assert editions(place) == {one.edition}
    assert len(one.ask("assembly/list-assemblies")) > 1  # opens it again
    two = opened(tmp_path, place, "two")
    assert editions(place) == {one.edition, two.edition}
    one.close()
    assert editions(place) == {two.edition}
    two.close()
    assert editions(place) == {two.edition}


def test_a_closed_edition_is_made_anew_when_it_is_asked_again(tmp_path, place):
    """Whoever still holds the library of a removed edition gets its answers all the same."""
    one, two = opened(tmp_path, place, "one"), opened(tmp_path, place, "two")
    size = len(one)
    one.close()
    assert editions(place) == {two.edition}
    assert len(one) == size
    assert b"true" in one.sandbox.ask("ASK { ?s ?p 'one'@en }").body
    assert editions(place) == {one.edition, two.edition}
    one.close()
    two.close()


def test_what_another_process_reads_stays(tmp_path, place):
    """Its edition is not touched while it lives, and is free as soon as it is gone, even by a kill."""
    with reading(pack(tmp_path, "one"), place) as reader:
        one, two = opened(tmp_path, place, "one"), opened(tmp_path, place, "two")
        one.close()
        assert editions(place) == {one.edition, two.edition}
        reader.stdin.write("\n")
        reader.stdin.flush()
        assert int(reader.stdout.readline()) > 1
    with reading(pack(tmp_path, "one"), place) as reader:
        assert not remove(place / one.edition)
        reader.send_signal(signal.SIGKILL)
        reader.wait()
        assert remove(place / one.edition)
    assert editions(place) == {two.edition}


def test_raw_queries_hold_what_they_read(tmp_path, place):
    """A process for raw SPARQL has a lease of its own."""
    one = opened(tmp_path, place, "one")
    assert b"true" in one.sandbox.ask("ASK { ?s ?p ?o }").body
    one._kept._lease.release()
    assert not remove(place / one.edition)
    one.close()
    assert remove(place / one.edition)


def test_only_the_last_ones_stay_without_use(tmp_path, place):
    """Runs that end without closing leave editions behind; the next run takes away the oldest of them."""
    left = []
    for number in range(KEPT + 3):
        graph = opened(tmp_path, place, f"run-{number}")
        graph._kept._lease.release()  # as the end of its process does
        left.append(graph.edition)
        time.sleep(0.01)
    assert editions(place) == set(left[-KEPT - 1 :])


def test_what_killed_processes_left_goes(tmp_path, place):
    """Half built and half removed stores are swept; one that is being built is not."""
    place.mkdir()
    for name in (f"{BUILDING}dead", f"{BUILDING}live", ".gone-1", "notes"):
        (place / name).mkdir()
        (place / name / "000.sst").write_bytes(b"x")
    with Lease(place / f"{BUILDING}live"):
        tidy(place)
        assert editions(place) == {f"{BUILDING}live", "notes"}
    graph = opened(tmp_path, place, "one")
    assert editions(place) == {graph.edition, "notes"}


def test_builders_that_race_build_one(tmp_path, place):
    """Four processes open the same edition of an empty folder at once: one store, whole, for all."""
    command = [sys.executable, "-c", READER, str(pack(tmp_path, "one")), str(place)]
    found = [subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) for _ in range(4)]
    told = {tuple(process.communicate("\n", timeout=120)[0].split()) for process in found}
    assert len(told) == 1
    assert {process.returncode for process in found} == {0}
    assert len(editions(place)) == 1


def test_a_folder_that_may_not_be_written_is_read(tmp_path, place):
    """A shared folder of another owner: read, held, and left alone."""
    one = opened(tmp_path, place, "one")
    one.close()
    (place / "more").mkdir()
    os.utime(place / one.edition, (0, 0))
    place.chmod(0o555)
    try:
        assert len(opened(tmp_path, place, "one")) > 1000
        if os.getuid():
            with pytest.raises(StoreError, match="name a folder that can be written to"):
                opened(tmp_path, place, "two")
    finally:
        place.chmod(0o755)
    assert one.edition in editions(place)


def test_a_service_leaves_one_edition_behind(tmp_path, place):
    """Two workers read other packs on a signal: the old edition goes when the last of them has let go."""
    packs = tmp_path / "packs"
    packs.mkdir()
    words = ["--workers", "2", "--store", str(place), "--data", str(packs)]
    with running(tmp_path, *words) as service:

        def names(count=8):
            found = [httpx.get(service.url + "/health/ready", timeout=30) for _ in range(count)]
            return {reply.json()["edition"] for reply in found}

        first, before = names(), editions(place)
        assert (len(first), len(before)) == (1, 1)
        assert httpx.get(service.url + "/sparql", params={"query": "ASK { ?s ?p ?o }"}, timeout=60).is_success
        pack(packs, "one")
        service.send(signal.SIGHUP)
        service.until(lambda: len(now := names()) == 1 and now != first, 60)
        service.until(lambda: len(now := editions(place)) == 1 and now != before, 20)
        assert httpx.get(service.url + "/assemblies", timeout=30).is_success
        after = editions(place)
        service.stopped()
    assert editions(place) == after
