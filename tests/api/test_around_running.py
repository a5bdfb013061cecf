"""What only a process can show: start, signals, workers, slow clients, and a stop that loses nothing."""

import concurrent.futures
import itertools
import os
import signal
import socket
import time
from pathlib import Path

import httpx
import pytest
from typer.testing import CliRunner

from api.service import running
from clampgraph.api.tokens import TokenFile
from clampgraph.cli.app import app
from clampgraph.errors import ClampgraphError

NOTE = '<https://example.org/pack/note> <http://www.w3.org/2000/01/rdf-schema#comment> "{}"@en .\n'
UNIT = {"assembly": "brannoch-30s", "seen": ["slow-return"]}


@pytest.fixture(scope="module")
def one(tmp_path_factory):
    """Return a service with one worker that is impatient, and its folder."""
    folder = tmp_path_factory.mktemp("one")
    (folder / "packs").mkdir()
    with running(folder, "--data", str(folder / "packs"), "--set", "patience=1", "--set", "connections=40") as service:
        yield service


def connected(service):
    host, port = service.url.removeprefix("http://").split(":")
    return socket.create_connection((host, int(port)), timeout=10)


def seconds_until_closed(connection):
    """Read until the other side lets go; return the seconds it took and what it said."""
    start, said = time.monotonic(), b""
    try:
        while part := connection.recv(65536):
            said += part
    except ConnectionResetError:
        pass
    return time.monotonic() - start, said


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        (["--host", "0.0.0.0"], 2, "Listening on 0.0.0.0 lets others in"),  # noqa: S104
        (["--host", "0.0.0.0", "--tokens", "{none}"], 4, "The file of tokens {none} cannot be read"),  # noqa: S104
        (["--port", "99999"], 2, "--port is '99999', which is wrong"),
        (["--port", "{taken}"], 4, "The service cannot listen on 127.0.0.1:{taken}: Address already in use"),
        (["--set", "threads=many"], 2, "--threads is 'many', which is wrong"),
        (["--set", "colour=red"], 2, "--colour is 'red', which is wrong"),
        (["--data", "{none}"], 3, "There is no file or folder"),
    ],
)
def test_what_it_does_not_start_with(tmp_path, words, code, said):
    """One sentence, an exit code, and no service."""
    with socket.create_server(("127.0.0.1", 0)) as taken:
        names = {"none": tmp_path / "none", "taken": taken.getsockname()[1]}
        found = CliRunner().invoke(app, ["serve", "--log", "off", *(word.format(**names) for word in words)])
    assert isinstance(found.exception, ClampgraphError)
    assert found.exception.exit_code == code
    assert str(found.exception).startswith(said.format(**names))


@pytest.mark.parametrize(
    "begun",
    [b"", b"GET /health HT", b"POST /diagnoses HTTP/1.1\r\nhost: localhost\r\ncontent-length: 100\r\n\r\n{"],
)
def test_a_slow_client_is_let_go(one, begun):
    """Nothing, a head or a body has its time, however steadily it trickles; a body gets a problem document."""
    with connected(one) as connection:
        connection.sendall(begun)
        start, said = time.monotonic(), b""
        connection.settimeout(0.2)
        while time.monotonic() < start + 8:
            try:
                if begun:
                    connection.sendall(b" ")
                part = connection.recv(65536)
            except TimeoutError:
                continue
            except OSError:
                break
            if not part:
                break
            said += part
        assert 0.8 < time.monotonic() - start < 6
    assert said.startswith(b"HTTP/1.1 408") == begun.startswith(b"POST")


def test_a_second_head_that_trickles_is_let_go_too(one):
    """A connection that was good once has no more time than a new one."""
    with connected(one) as connection:
        connection.sendall(b"GET /health/alive HTTP/1.1\r\nhost: localhost\r\n\r\nGET /hea")
        took, said = seconds_until_closed(connection)
    assert said.count(b"HTTP/1.1") == 1
    assert 0.8 < took < 4


def test_an_answer_nobody_reads_is_given_up(one):
    """A client that asks a lot and reads nothing does not hold the service."""
    with connected(one) as connection:
        connection.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
        ask = b"GET /openapi.json HTTP/1.1\r\nhost: localhost\r\n\r\n"
        broken = None
        end = time.monotonic() + 15
        connection.settimeout(1)
        while broken is None and time.monotonic() < end:
            try:
                connection.sendall(ask * 20)
            except TimeoutError:
                continue
            except OSError as error:
                broken = error
        assert broken is not None


def test_idle_connections_leave_room(one):
    """Beyond its number of connections a process takes no more; those that are idle go, and it answers again."""
    many = [connected(one) for _ in range(60)]
    try:
        closed = [connection for connection in many[40:] if seconds_until_closed(connection)[0] < 0.9]
        assert closed
    finally:
        for connection in many:
            connection.close()
    assert one.until(lambda: httpx.get(one.url + "/health").is_success)


def test_a_broken_head_is_no_fault(one):
    """What is no HTTP gets a 400, and the log has no trace of an exception."""
    with connected(one) as connection:
        connection.sendall(b"\x16\x03\x01 hello\r\n\r\n")
        assert seconds_until_closed(connection)[1].startswith(b"HTTP/1.1 400")
    with connected(one) as connection:
        connection.sendall(b"GET / HTTP/1.1\r\nx: " + b"y" * 100_000)
        assert seconds_until_closed(connection)[1][:12] in (b"HTTP/1.1 400", b"")
    assert not any("Traceback" in str(line) for line in one.lines())


def test_packs_are_read_again_on_a_signal(one):
    """SIGHUP loads what is sound and refuses what is not, while questions are answered."""
    pack = Path(one.log.parent) / "packs" / "note.nt"
    edition = httpx.get(one.url + "/health/ready").json()["edition"]
    pack.write_text(NOTE.format("one"), "utf-8")
    one.send(signal.SIGHUP)
    new = one.until(lambda: (e := httpx.get(one.url + "/health/ready").json()["edition"]) != edition and e)
    pack.write_text("broken", "utf-8")
    one.send(signal.SIGHUP)
    line = one.until(lambda: next((x for x in one.lines() if x["event"] == "reload refused"), None))
    assert "note.nt" in line["detail"]
    assert httpx.get(one.url + "/health/ready").json()["edition"] == new


def test_a_stop_finishes_what_runs(tmp_path):
    """First not ready, then no more connections, and every request that was taken is answered."""
    with running(tmp_path, "--set", "drain=1") as service, httpx.Client(base_url=service.url, timeout=60) as client:
        with concurrent.futures.ThreadPoolExecutor(6) as pool:
            units = ["ulvedal-40c", "ulvedal-50b", "ulvedal-63h", "brannoch-40t", "brannoch-30s"]
            asked = [
                pool.submit(httpx.post, service.url + "/diagnoses", json={"assembly": u}, timeout=60) for u in units
            ]
            service.until(lambda: any(future.done() for future in asked))
            service.send(signal.SIGTERM)
            ready = service.until(lambda: (r := client.get("/health/ready")).status_code == 503 and r)
            assert ready.json()["detail"] == "The service is going down."
            assert client.get("/health/alive").status_code == 200
            assert {future.result().status_code for future in asked} == {200}
        assert service.process.wait(timeout=30) in (0, -signal.SIGTERM)
        with pytest.raises(httpx.ConnectError):
            httpx.get(service.url + "/health")
        assert not any(line["level"] == "error" for line in service.lines())


def test_workers_share_editions_and_counts(tmp_path):
    """A pack sent to one worker is answered by all, metrics are summed, SIGHUP reaches all, and all of them stop."""
    tokens = TokenFile(tmp_path / "tokens.json")
    headers = {"authorization": f"Bearer {tokens.issue('admin', 'admin', 1)}"}
    words = ["--workers", "2", "--tokens", str(tokens.path), "--uploads", str(tmp_path / "up")]
    with running(tmp_path, *words) as service:

        def ask(path):
            # A connection of its own for each, so that either worker may get it.
            return httpx.get(service.url + path, headers=headers, timeout=30)

        def editions(count):
            return {ask("/health/ready").json()["edition"] for _ in range(count)}

        def workers():
            return service.until(lambda: _children(service.process.pid))

        service.until(lambda: len(_children(service.process.pid)) >= 2)
        first = service.until(lambda: (e := editions(8)) and len(e) == 1 and e).pop()
        kind = {"content-type": "application/n-triples"}
        sent = httpx.post(
            service.url + "/packs?name=note", content=NOTE.format("x"), headers=headers | kind, timeout=120
        )
        assert sent.status_code == 201
        service.until(lambda: editions(12) == {sent.json()["edition"]})
        counted = service.until(lambda: "clampgraph_requests_total" in (text := ask("/metrics").text) and text)
        ready = [line for line in counted.splitlines() if 'route="/health/ready",status="200"' in line]
        assert float(ready[0].rpartition(" ")[2]) >= 20
        (tmp_path / "up" / "note.nt").unlink()
        service.send(signal.SIGHUP)
        service.until(lambda: editions(12) == {first}, 60)
        assert workers()
        children = _children(service.process.pid)
        service.stopped()
        assert not [pid for pid in children if Path(f"/proc/{pid}").exists()]
        assert "Traceback" not in service.log.read_text("utf-8")


def test_counts_outlive_a_worker_and_what_it_held_does_not(tmp_path):
    """Every request to either worker is counted once; one is killed: counts stay, its memory counts no more."""
    asked = 0

    def sample(text, name):
        found = [line for line in text.splitlines() if line.startswith(name)]
        assert len(found) == 1, found
        return float(found[0].rpartition(" ")[2])

    with running(tmp_path, "--workers", "2") as service:

        def fresh(path="/metrics"):
            # A connection of its own for each, so that either worker may get it.
            return httpx.get(service.url + path, timeout=30).text

        workers = service.until(lambda: len(found := _children(service.process.pid)) == 2 and found)
        seen = dict.fromkeys(workers, 0)
        while not all(seen.values()):
            for _ in range(20):
                asked += 1
                assert fresh("/assemblies")
            seen = {pid: _asked(service, pid) for pid in workers}
        counted = 'clampgraph_requests_total{method="GET",route="/assemblies",status="200"}'
        before = fresh()
        assert sample(before, counted) == asked
        assert sample(before, 'clampgraph_request_seconds_count{method="GET",route="/assemblies"}') == asked
        triples = sample(before, "clampgraph_triples ")
        assert sample(before, "clampgraph_edition{") == 1
        one = sample(before, "clampgraph_kept_bytes ") / 2
        assert one > 500
        os.kill(workers[0], signal.SIGKILL)
        service.until(lambda: len(found := _children(service.process.pid)) == 2 and workers[0] not in found)
        service.until(lambda: sample(fresh(), "clampgraph_kept_bytes ") == one)
        after = fresh()
        assert sample(after, counted) == asked
        assert sample(after, "clampgraph_triples ") == triples
        assert sample(after, "clampgraph_edition{") == 1


def _asked(service, pid):
    """Return whether a worker was ever asked for an answer that is kept, as its own file of counts tells."""
    (folder,) = {
        Path(entry.rpartition("=")[2])
        for entry in Path(f"/proc/{pid}/environ").read_text("utf-8").split("\0")
        if entry.startswith("PROMETHEUS_MULTIPROC_DIR=")
    }
    assert service.process.poll() is None
    return b"/assemblies" in (folder / f"counter_{pid}.db").read_bytes()


def _children(pid):
    """Return the processes that a process started and that serve."""
    found = Path(f"/proc/{pid}/task/{pid}/children").read_text("ascii").split()
    return [int(child) for child in found if b"spawn_main" in Path(f"/proc/{child}/cmdline").read_bytes()]


def test_a_short_siege_loses_nothing(tmp_path):
    """Questions, idle and slow connections and reloads at once for some seconds; the long form is a bench."""
    (tmp_path / "packs").mkdir()
    words = ["--data", str(tmp_path / "packs"), "--set", "patience=2"]
    with running(tmp_path, *words) as service, concurrent.futures.ThreadPoolExecutor(8) as pool:
        idle = [connected(service) for _ in range(100)]
        slow = [connected(service) for _ in range(10)]
        end = time.monotonic() + 3

        def asking(number):
            told = []
            with httpx.Client(base_url=service.url, timeout=60) as client:
                for seen in itertools.cycle(("slow-return", "bang-at-release", "air-hiss-at-rest")[number % 3 :]):
                    told.append(client.post("/diagnoses", json={**UNIT, "seen": [seen]}).status_code)
                    if time.monotonic() > end:
                        return told
            return told

        asked = [pool.submit(asking, number) for number in range(8)]
        for number in range(3):
            (tmp_path / "packs" / "note.nt").write_text(NOTE.format(number), "utf-8")
            service.send(signal.SIGHUP)
            for connection in slow:
                try:
                    connection.sendall(b"G")
                except OSError:
                    continue
            time.sleep(1)
        statuses = [status for future in asked for status in future.result()]
        assert set(statuses) <= {200, 404}
        assert statuses.count(200) > 20
        service.until(lambda: any(line["event"] == "reloaded" and line["changed"] for line in service.lines()))
        for connection in (*idle, *slow):
            connection.close()
