"""Triage: every ticket gets what `diagnose` says, whatever happens on the way."""

import csv
import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import pyarrow as pa
import pyarrow.csv
import pyarrow.parquet as pq
import pytest
from typer.testing import CliRunner

from clampgraph.answers.diagnosing.diagnose import diagnose
from clampgraph.answers.diagnosing.diagnosis import DiagnoseRequest
from clampgraph.cli.app import app
from clampgraph.diagnosis.inference import FindingsPlan
from clampgraph.diagnosis.inference.shelf import SHELF
from clampgraph.errors import StoreError, UnknownNameError, WrongCallError
from clampgraph.fleet import journal, ranking, thrift
from clampgraph.fleet.ranking import Ranker
from clampgraph.fleet.tickets import Tickets
from clampgraph.fleet.triage import Run, triage

UNITS = ["brannoch-30s", "brannoch-40t"]
POOL = [
    ("slow-return", "bang-at-release", ""), ("slow-return", "", ""), ("bang-at-release", "", ""),
    ("slow-release;slow-return", "", "read-supply-pressure=low"), ("", "", ""), ("hiss-at-rest", "slow-return", ""),
    ("slow-release", "", "read-supply-pressure=4.1bar"), ("no-release", "hiss-at-rest", ""),
]  # fmt: skip


def tickets(count, seed=1):
    """Return a table of tickets."""
    draw = random.Random(seed)  # noqa: S311  # no secret
    rows = [(f"T{n:05}", draw.choice(UNITS), *draw.choice(POOL)) for n in range(count)]
    names = ["ticket", "assembly", "seen", "unseen", "readings"]
    return pa.table(dict(zip(names, map(list, zip(*rows, strict=True)), strict=True)))


@pytest.fixture
def parquet(tmp_path):
    """Return a file of a thousand tickets."""
    pq.write_table(tickets(1000), tmp_path / "tickets.parquet")
    return tmp_path / "tickets.parquet"


def test_each_ticket_gets_what_a_diagnosis_says(library, parquet, tmp_path):
    """Position, failure mode and probability, to the last bit."""
    count = triage(Run(parquet, tmp_path / "ranked.parquet", rows=300))
    ranked = pq.read_table(tmp_path / "ranked.parquet").to_pylist()
    assert count == 1000
    rows = {}
    for row in ranked:
        rows.setdefault(row["ticket"], []).append(row)
    asked = tickets(1000).to_pylist()
    assert list(rows) == [ticket["ticket"] for ticket in asked]
    for ticket in asked[:200]:
        request = DiagnoseRequest.model_validate(
            {
                "assembly": ticket["assembly"],
                "seen": [s for s in ticket["seen"].split(";") if s],
                "unseen": [s for s in ticket["unseen"].split(";") if s],
                "readings": dict(r.split("=") for r in ticket["readings"].split(";") if r),
            }
        )
        found = rows[ticket["ticket"]]
        answer = diagnose(library, request)
        causes = answer.causes[:3]
        assert {row["unexplained"] for row in found} == {answer.unexplained}
        assert [row["rank"] for row in found] == [1, 2, 3][: len(causes)]
        assert [(r["position"], r["failure_mode"], r["probability"]) for r in found] == [
            (c.position, c.failure_mode, c.probability) for c in causes
        ]


def test_csv_and_parquet_hold_the_same(parquet, tmp_path):
    """Both ways in and out, and lists instead of texts."""
    table = pq.read_table(parquet)
    pyarrow.csv.write_csv(table, tmp_path / "tickets.csv")
    parts = {c: [[p for p in v.split(";") if p] for v in table.column(c).to_pylist()] for c in table.column_names[2:]}
    lists = [pa.array(value, pa.list_(pa.string())) for value in parts.values()]
    listed = pa.table([table.column("ticket"), table.column("assembly"), *lists], names=table.column_names)
    pq.write_table(listed, tmp_path / "lists.parquet")
    triage(Run(parquet, tmp_path / "a.parquet"))
    triage(Run(tmp_path / "tickets.csv", tmp_path / "b.parquet"))
    triage(Run(tmp_path / "lists.parquet", tmp_path / "c.parquet"))
    triage(Run(parquet, tmp_path / "d.csv"))
    first = pq.read_table(tmp_path / "a.parquet")
    assert first == pq.read_table(tmp_path / "b.parquet") == pq.read_table(tmp_path / "c.parquet")
    with (tmp_path / "d.csv").open(newline="", encoding="utf-8") as opened:
        told = [(r["ticket"], r["position"], float(r["probability"] or "nan")) for r in csv.DictReader(opened)]
    assert told == [(r["ticket"], r["position"], r["probability"]) for r in first.to_pylist()]


def test_a_bad_ticket_gets_its_sentence_and_stops_no_other(library):
    """Unknown assembly and symptom, contradiction, impossible findings, a reading without outcome."""
    bad = [
        ("brannoch-99t", "slow-return", "", "", "no assembly 'brannoch-99t'"),
        ("brannoch-40t", "slow-retrun", "", "", "no symptom 'slow-retrun'"),
        ("brannoch-40t", "slow-return", "slow-return", "", "seen and as unseen"),
        ("brannoch-40t", "slow-return", "", "read-supply-pressure", "CHECK=OUTCOME"),
        ("", "slow-return", "", "", "no assembly"),
        ("brannoch-40t", "slow-return", "", "", None),
    ]
    names = ["assembly", "seen", "unseen", "readings"]
    columns = {name: [ticket[at] for ticket in bad] for at, name in enumerate(names)}
    table = pa.table({"ticket": [str(n) for n in range(len(bad))], **columns})
    rows = Ranker(library, 1).rank(table).to_pylist()
    assert len(rows) == len(bad)
    for row, (*_, said) in zip(rows, bad, strict=True):
        assert (row["problem"] is None) == (said is None) == (row["position"] is not None)
        assert said is None or (said in row["problem"] and row["problem"].endswith("."))


def test_the_same_question_is_worked_out_once(library, monkeypatch):
    """However many tickets ask it, in whatever words and whatever block."""
    rows = []
    whole = FindingsPlan.evaluate
    monkeypatch.setattr(FindingsPlan, "evaluate", lambda self, found: rows.append(len(found)) or whole(self, found))
    ranker = Ranker(library, 2)
    first, second = ranker.rank(tickets(400)), ranker.rank(tickets(400))
    assert first == second
    measured = sum("bar" in readings for *_, readings in POOL)
    assert len(UNITS) * len(POOL) <= sum(rows) <= len(UNITS) * (len(POOL) + 3 * measured)
    turned = pa.array([";".join(reversed(seen.split(";"))) for seen in tickets(400).column("seen").to_pylist()])
    asked = sum(rows)
    third = ranker.rank(tickets(400).set_column(2, "seen", turned))
    assert (third, sum(rows)) == (first, asked)


def test_blocks_are_gathered_and_told_in_their_order(library, monkeypatch):
    """Whatever is held at a time, and wherever a block ends."""
    table = tickets(1000)
    blocks = [(number, table.slice(100 * number, 100)) for number in range(10)]
    together = list(Ranker(library, 2).rank_all(iter(blocks)))
    monkeypatch.setattr(ranking, "HELD_TICKETS", 300)
    apart = list(Ranker(library, 2).rank_all(iter(blocks)))
    monkeypatch.setattr(ranking, "HELD_QUESTIONS", 5)
    alone = [(number, Ranker(library, 2).rank(block)) for number, block in blocks]
    assert together == apart == list(Ranker(library, 2).rank_all(iter(blocks))) == alone
    assert [number for number, _ in together] == list(range(10))
    assert not list(Ranker(library, 2).rank_all([]))


@pytest.mark.parametrize(
    ("name", "values"),
    [
        ("ticket", pa.array([7, None, 9])),
        ("ticket", pa.array(["007", None, "9"], pa.large_string())),
        ("generation", pa.nulls(3)),
        ("seen", pa.array(["slow-return", None, " slow-return ; "]).dictionary_encode()),
        ("seen", pa.array([["slow-return"], None, ["slow-return", None]])),
    ],
)
def test_columns_may_be_of_any_kind(name, values, library):
    """Numbers, nothing at all, dictionaries, lists with gaps: what is not there says nothing."""
    columns = {"ticket": pa.array(["a", "b", "c"]), "assembly": pa.array(["brannoch-40t"] * 3), name: values}
    rows = Ranker(library, 1).rank(pa.table(columns)).to_pylist()
    assert [row["problem"] for row in rows] == [None] * 3
    if name == "ticket":
        assert [row["ticket"] for row in rows] == ["" if v is None else str(v) for v in values.to_pylist()]
    if name == "seen":
        first, nothing, last = ((row["position"], row["probability"], row["unexplained"]) for row in rows)
        assert first == last != nothing


def test_a_run_that_stopped_goes_on(parquet, tmp_path, monkeypatch):
    """A full disk in the third block: the sentence says what to do, and the next run works the rest only."""
    target, whole = tmp_path / "ranked.parquet", journal._put
    kept = []

    def full(file, content):
        if len(kept) == 2 and file.name.startswith("block"):
            raise OSError(28, "No space left on device")
        kept.extend([file] * file.name.startswith("block"))
        whole(file, content)

    with monkeypatch.context() as patch:
        patch.setattr(journal, "_put", full)
        with pytest.raises(StoreError, match="run the same again"):
            triage(Run(parquet, target, rows=200))
    assert not target.exists()
    ranked = []
    read = ranking.questions_of
    monkeypatch.setattr(ranking, "questions_of", lambda block: ranked.append(block.num_rows) or read(block))
    assert triage(Run(parquet, target, rows=200)) == 1000
    assert ranked == [200, 200, 200]
    triage(Run(parquet, tmp_path / "once.parquet", rows=200))
    assert target.read_bytes() == (tmp_path / "once.parquet").read_bytes()
    assert not list(tmp_path.glob("*.blocks"))


def test_blocks_of_another_run_are_not_taken(parquet, tmp_path):
    """Other tickets or options are refused with a sentence; a restart throws the old blocks away."""
    target = tmp_path / "ranked.parquet"
    journal.Journal(target, {"tickets": "others"})
    with pytest.raises(WrongCallError, match="--restart"):
        triage(Run(parquet, target))
    assert triage(Run(parquet, target, restart=True)) == 1000


# One warm process forks a run for each line that it reads, so that the kills take seconds.
FORKS = """
import os, sys
from pathlib import Path
import clampgraph.answers.diagnosing.diagnose, pyarrow.csv, pyarrow.parquet
from clampgraph.fleet.triage import Run, triage

for line in sys.stdin:
    child = os.fork()
    if not child:
        triage(Run(Path(sys.argv[1]), Path(sys.argv[2]), rows=60))
        os._exit(0)
    print(child, flush=True)
    os.waitpid(child, 0)
    print("over", flush=True)
"""


def test_a_killed_run_loses_nothing(tmp_path):
    """Killed again and again at random moments, it ends with the same bytes as a run that nobody disturbed."""
    file, target = tmp_path / "tickets.parquet", tmp_path / "ranked.parquet"
    pq.write_table(tickets(6000), file)
    triage(Run(file, tmp_path / "once.parquet", rows=60))
    draw, killed = random.Random(7), 0  # noqa: S311  # no secret
    words = [sys.executable, "-c", FORKS, str(file), str(target)]
    with subprocess.Popen(words, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, bufsize=1) as process:
        while not target.exists():
            began = len(list(tmp_path.glob("ranked.parquet.blocks/block-*")))
            process.stdin.write("run\n")
            child = int(process.stdout.readline())
            end = time.monotonic() + 60.0
            while not target.exists() and time.monotonic() < end:
                if len(list(tmp_path.glob("ranked.parquet.blocks/block-*"))) >= began + 9:
                    time.sleep(draw.uniform(0.0, 0.02))
                    break
                time.sleep(0.001)
            os.kill(child, signal.SIGKILL)
            killed += not target.exists()
            assert process.stdout.readline() == "over\n"
        process.stdin.close()
    assert target.read_bytes() == (tmp_path / "once.parquet").read_bytes()
    assert killed >= 4


CLUSTER = """
import os, signal, sys, threading, time
from pathlib import Path
from distributed import Client, LocalCluster
from clampgraph.fleet.triage import Run, triage

if __name__ == "__main__":
    with LocalCluster(n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None) as cluster:
        def kill(_, done, total, killed=[]):
            if not killed:
                with Client(cluster) as client:
                    killed.append(min(client.run(os.getpid).values()))
                os.kill(killed[0], signal.SIGKILL)
                print("killed", flush=True)
        print(triage(Run(Path(sys.argv[1]), Path(sys.argv[2]), scheduler=cluster.scheduler_address, rows=100), kill))
"""


def test_a_cluster_gives_the_same_although_a_worker_is_killed(parquet, tmp_path):
    """A real scheduler with two worker processes, one of which dies on the way."""
    script = tmp_path / "cluster.py"
    script.write_text(CLUSTER, "utf-8")
    words = [sys.executable, str(script), str(parquet), str(tmp_path / "spread.parquet")]
    told = subprocess.run(words, capture_output=True, text=True, timeout=120, check=False, env=dict(os.environ))
    assert told.returncode == 0, told.stderr[-2000:]
    assert told.stdout.split() == ["killed", "1000"]
    triage(Run(parquet, tmp_path / "alone.parquet", rows=100))
    assert (tmp_path / "spread.parquet").read_bytes() == (tmp_path / "alone.parquet").read_bytes()


def test_blocks_are_equal_and_memory_is_bounded(tmp_path):
    """Whatever the file's own row groups are."""
    pq.write_table(tickets(1000), tmp_path / "t.parquet", row_group_size=70)
    assert [b.num_rows for b in Tickets(tmp_path / "t.parquet", 300).blocks()] == [300, 300, 300, 100]
    pyarrow.csv.write_csv(tickets(1000), tmp_path / "t.csv")
    assert [b.num_rows for b in Tickets(tmp_path / "t.csv", 300).blocks()] == [300, 300, 300, 100]


@pytest.mark.parametrize(
    ("name", "content", "said"),
    [
        ("t.txt", b"ticket,assembly\n", "neither Parquet nor CSV"),
        ("t.csv", b"ticket,unit\n1,x\n", "has no column 'assembly'; its columns are ticket, unit"),
        ("t.csv", b"", "cannot be read as csv"),
        ("t.parquet", b"PAR1 and nothing", "cannot be read as parquet"),
        ("t.csv", b"ticket,assembly\n1,x,y\n", "cannot be read as csv"),
    ],
)
def test_a_file_that_holds_no_tickets_is_told(name, content, said, tmp_path):
    """One sentence, and nothing is left behind."""
    (tmp_path / name).write_bytes(content)
    with pytest.raises(WrongCallError, match=said):
        triage(Run(tmp_path / name, tmp_path / "ranked.csv"))
    assert not (tmp_path / "ranked.csv").exists()


def test_places_are_checked_first(parquet, tmp_path):
    """A missing file, the tickets themselves as target, a folder that is not there, an unreachable scheduler."""
    with pytest.raises(UnknownNameError, match="no file"):
        triage(Run(tmp_path / "none.csv", tmp_path / "ranked.csv"))
    with pytest.raises(WrongCallError, match="the tickets themselves"):
        triage(Run(parquet, parquet))
    with pytest.raises(WrongCallError, match="cannot be written"):
        triage(Run(parquet, Path("/nowhere/ranked.csv")))


def test_the_command_says_how_many(parquet, tmp_path):
    """And refuses another form by its name."""
    reply = CliRunner().invoke(app, ["triage", str(parquet), "-o", str(tmp_path / "r.csv"), "--top", "1"])
    assert reply.exit_code == 0, reply.output
    assert "1000 tickets ranked" in reply.stdout
    refused = CliRunner().invoke(app, ["triage", str(parquet), "-o", str(tmp_path / "r.xlsx")])
    assert isinstance(refused.exception, WrongCallError)


def test_few_circuits_are_kept_while_tickets_are_ranked(library, monkeypatch):
    """And as many as before afterwards, whatever happens on the way."""
    held = []
    whole = FindingsPlan.evaluate
    monkeypatch.setattr(FindingsPlan, "evaluate", lambda self, rows: held.append(SHELF.products) or whole(self, rows))
    usual = SHELF.products
    Ranker(library, 1).rank(tickets(50))
    assert set(held) == {thrift.CIRCUITS}
    with pytest.raises(ZeroDivisionError), thrift.thrift():
        assert 1 // (SHELF.products - thrift.CIRCUITS)
    assert SHELF.products == usual > thrift.CIRCUITS
