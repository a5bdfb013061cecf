"""Snapshots spare reading the packs, and are never trusted when stale, cut short or damaged."""

import os
import subprocess
import sys
from datetime import date

import pytest

from clampgraph import kept as kept_files
from clampgraph.graph import load, snapshot
from clampgraph.graph.snapshot import Snapshot

ROWS = [{"name": "piston", "count": 3, "built": date(2020, 2, 1), "none": None}]
TOLD = """
from clampgraph.graph import load
import sys
graph = load()
print(len(graph.ask("assembly/list-assemblies")), "pyoxigraph-store" if graph._kept._store is not None else "kept")
"""


@pytest.fixture
def place(tmp_path, monkeypatch):
    """Return an empty folder for snapshots."""
    monkeypatch.setenv(kept_files.SETTING, str(tmp_path / "kept"))
    return tmp_path / "kept"


def kept(folder, edition="e1"):
    """Write one snapshot with one answer; return its file."""
    found = Snapshot(edition, (folder,))
    found.put("area/list-things", {"a": 1}, ROWS)
    found.save()
    (file,) = folder.glob(f"{edition}.snapshot")
    return file


def test_what_is_kept_comes_back_as_it_was(tmp_path):
    """Texts, numbers, dates and nothing, in the same order; another binding is another question."""
    kept(tmp_path)
    found = Snapshot("e1", (tmp_path,))
    assert found.get("area/list-things", {"a": 1}) == ROWS
    assert found.get("area/list-things", {"a": 2}) is None
    assert found.get("area/list-others", {"a": 1}) is None


def test_no_damaged_byte_is_trusted(tmp_path):
    """Whichever byte is flipped, the answer is the true one or none."""
    file = kept(tmp_path)
    sound = file.read_bytes()
    for at in range(len(sound)):
        file.write_bytes(sound[:at] + bytes([sound[at] ^ 1]) + sound[at + 1 :])
        assert Snapshot("e1", (tmp_path,)).get("area/list-things", {"a": 1}) in (None, ROWS), at
        if at > sound.index(b"\n"):
            assert len(Snapshot("e1", (tmp_path,))) == 0, at


def test_no_cut_file_is_trusted(tmp_path):
    """Whatever is missing at its end."""
    file = kept(tmp_path)
    sound = file.read_bytes()
    for length in range(len(sound)):
        file.write_bytes(sound[:length])
        assert len(Snapshot("e1", (tmp_path,))) == 0, length


def test_the_snapshot_of_another_edition_is_not_taken(tmp_path):
    """Even under the right name."""
    file = kept(tmp_path)
    file.rename(tmp_path / "e2.snapshot")
    assert len(Snapshot("e2", (tmp_path,))) == 0


def test_damage_is_repaired_by_the_next_run(tmp_path):
    """The next process writes a sound file over it."""
    file = kept(tmp_path)
    sound = file.read_bytes()
    file.write_bytes(b"rubbish")
    kept(tmp_path)
    assert file.read_bytes() == sound


def test_it_stays_within_its_size(tmp_path, monkeypatch):
    """What would make it too large is left out; the rest is kept."""
    monkeypatch.setattr(snapshot, "LARGEST", 400)
    found = Snapshot("e1", (tmp_path,))
    found.put("area/list-large", {}, [{"text": "x" * 1000}])
    found.put("area/list-small", {}, [{"text": "x"}])
    found.save()
    again = Snapshot("e1", (tmp_path,))
    assert (again.get("area/list-large", {}), again.get("area/list-small", {})) == (None, [{"text": "x"}])


def test_old_editions_give_way(tmp_path):
    """A folder never holds more than a few, and those used last stay."""
    for number in range(snapshot.KIND.most_files + 5):
        file = kept(tmp_path, f"e{number}")
        os.utime(file, (number, number))
    left = {f.stem for f in tmp_path.glob("*.snapshot")}
    assert left == {f"e{number}" for number in range(5, snapshot.KIND.most_files + 5)}


def test_two_processes_lose_nothing_of_each_other(tmp_path):
    """Both began with nothing; whoever writes last has the answers of both."""
    first, second = Snapshot("e1", (tmp_path,)), Snapshot("e1", (tmp_path,))
    first.put("area/list-one", {}, ROWS)
    second.put("area/list-two", {}, ROWS)
    first.save()
    second.save()
    found = Snapshot("e1", (tmp_path,))
    assert found.get("area/list-one", {}) == found.get("area/list-two", {}) == ROWS
    assert not list(tmp_path.glob(".*.new"))


def test_a_folder_that_cannot_be_written_to_leaves_the_next_one(tmp_path):
    """A file stands where the first folder should be."""
    (tmp_path / "first").write_text("", "utf-8")
    found = Snapshot("e1", (tmp_path / "first" / "below", tmp_path / "second"))
    found.put("area/list-things", {}, ROWS)
    found.save()
    assert [f.name for f in (tmp_path / "second").iterdir()] == ["e1.snapshot"]
    nowhere = Snapshot("e1", (tmp_path / "first" / "below",))
    nowhere.put("area/list-things", {}, ROWS)
    nowhere.save()


def run(place, **environment):
    words = [sys.executable, "-c", TOLD]
    here = {**os.environ, kept_files.SETTING: str(place), **environment}
    return subprocess.run(words, env=here, capture_output=True, text=True, check=True).stdout.split()


def test_the_second_process_reads_no_pack(tmp_path):
    """The first loads the packs, the second answers from what the first kept, with the same answer."""
    assert run(tmp_path) == ["5", "pyoxigraph-store"]
    assert run(tmp_path) == ["5", "kept"]
    (file,) = tmp_path.glob("*.snapshot")
    file.write_bytes(file.read_bytes()[:-1])
    assert run(tmp_path) == ["5", "pyoxigraph-store"]


def test_a_changed_pack_is_read_anew(place, tmp_path):
    """One more assembly in a pack of the same name and size of answer is another edition."""
    pack = tmp_path / "pack.ttl"
    line = '<urn:x> a <https://w3id.org/clampgraph/ns#Symptom> ; <urn:said> "one" .\n'
    pack.write_text(line, "utf-8")
    first = load([pack])
    assert first.ask("assembly/list-assemblies")
    first._snapshot.save()
    pack.write_text(line.replace("one", "two"), "utf-8")
    second = load([pack])
    assert len(second._snapshot) == 0
    assert {f.stem for f in place.glob("*.snapshot")} == {first._snapshot._edition}


def test_a_changed_query_is_asked_anew(place, monkeypatch):
    """The texts of the queries are part of the edition."""
    edition = load()._snapshot._edition
    from clampgraph.graph import named_queries  # noqa: PLC0415  # to be changed

    found = dict(named_queries.catalogue())
    name = "assembly/list-assemblies"
    query = found[name]
    found[name] = named_queries.NamedQuery(query.name, query.question, query.bindings, query.columns, query.text + "\n")
    monkeypatch.setattr(named_queries, "catalogue", lambda: found)
    assert load()._snapshot._edition != edition
    assert not place.exists()


def test_whoever_takes_the_triples_gets_no_kept_answers(place):
    """A store that is handed out may be changed, so every question is asked of it from then on."""
    graph = load()
    before = graph.ask("assembly/list-assemblies")
    graph.store.clear()
    assert before
    assert graph.ask("assembly/list-assemblies") == []
    assert not place.exists() or not list(place.glob("*"))
