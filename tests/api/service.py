"""A service that really listens: in a thread, or in a process of its own where only a process can show it."""

import contextlib
import json
import os
import re
import signal
import subprocess
import sys
import threading
import time

import httpx
import uvicorn

from clampgraph.api.app import create_app

__all__ = ["Running", "listening", "running"]


@contextlib.contextmanager
def listening(library):
    """Answer from a library on a free port, in a thread of this process; gives the address."""
    server = uvicorn.Server(uvicorn.Config(create_app(library), host="127.0.0.1", port=0, log_level="critical"))
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    end = time.monotonic() + 20.0
    while not server.started and time.monotonic() < end:
        time.sleep(0.01)
    yield f"http://127.0.0.1:{server.servers[0].sockets[0].getsockname()[1]}"
    server.should_exit = True
    thread.join(timeout=20.0)


class Running:
    """A running service, and what it logs."""

    def __init__(self, process, log):
        self.process, self.log = process, log
        self.url = ""

    def lines(self):
        """Return the events logged so far."""
        text = self.log.read_text("utf-8")
        return [json.loads(line) for line in text.splitlines() if line.startswith("{")]

    def send(self, number):
        """Send a signal."""
        os.kill(self.process.pid, number)

    def until(self, found, seconds=30.0):
        """Wait until a function finds something, and return it."""
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            value = found()
            if value:
                return value
            time.sleep(0.05)
        raise AssertionError(f"waited {seconds} s in vain; the log says: {self.log.read_text('utf-8')[-2000:]}")

    def stopped(self, number=signal.SIGTERM):
        """Send a signal, and return how the process ended."""
        self.send(number)
        return self.process.wait(timeout=30)


@contextlib.contextmanager
def running(folder, *words):
    """Run `clampgraph serve` on a free port, and end it."""
    log = folder / "log"
    program = "import sys; from clampgraph.cli import main; sys.argv[0] = 'clampgraph'; main()"
    command = [sys.executable, "-c", program, "serve", "--port", "0", "--log", "json", *words]
    with log.open("w") as file, subprocess.Popen(command, stderr=file, stdout=file) as process:
        found = Running(process, log)
        try:
            text = found.until(lambda: re.search(r"http://[\d.]+:\d+", log.read_text("utf-8")) or process.poll())
            assert not isinstance(text, int), log.read_text("utf-8")
            found.url = text[0]
            found.until(lambda: _answers(found.url))
            yield found
        finally:
            if process.poll() is None:
                process.terminate()
                try:
                    process.wait(timeout=15)
                except subprocess.TimeoutExpired:
                    process.kill()


def _answers(url):
    with contextlib.suppress(httpx.HTTPError):
        return httpx.get(url + "/health/alive").is_success
    return False
