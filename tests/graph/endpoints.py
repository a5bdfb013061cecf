"""Endpoints to ask in tests: a real Oxigraph server, and one that says whatever a test wants."""

import http.server
import socket
import subprocess
import sys
import threading
import time
from contextlib import contextmanager
from pathlib import Path

import httpx

from clampgraph.graph.loading import default_packs, files_of

__all__ = ["free_port", "listening", "oxigraph", "packed"]

PROGRAM = Path(sys.executable).with_name("oxigraph")


def free_port():
    with socket.socket() as found:
        found.bind(("127.0.0.1", 0))
        return found.getsockname()[1]


def packed(folder):
    """Load the shipped packs into a folder for the server."""
    # One file after the other: several at once would share the labels of their blank nodes.
    for file in files_of(default_packs()):
        subprocess.run([PROGRAM, "load", "--location", folder, "--file", file], check=True, capture_output=True)
    return folder


@contextmanager
def oxigraph(folder, port):
    """Run the server over a folder; gives the address of its endpoint."""
    words = [PROGRAM, "serve", "--location", folder, "--bind", f"127.0.0.1:{port}"]
    server = subprocess.Popen(words, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    address, end = f"http://127.0.0.1:{port}/query", time.monotonic() + 20.0
    try:
        while time.monotonic() < end:
            try:
                httpx.get(address, params={"query": "ASK {}"}).raise_for_status()
                break
            except httpx.HTTPError:
                time.sleep(0.02)
        yield address
    finally:
        server.kill()
        server.wait()


@contextmanager
def listening(answer=lambda _handler: None):
    """Listen on loopback; gives the address and the list of requests that came."""
    heard = []

    class Listener(http.server.BaseHTTPRequestHandler):
        def do_GET(self):
            heard.append(self.requestline)
            answer(self)

        do_POST = do_PUT = do_HEAD = do_GET  # noqa: N815  # the names that the standard library calls

        def log_message(self, *_):
            """Say nothing."""

    server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), Listener)
    server.daemon_threads = True
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    try:
        yield f"http://127.0.0.1:{server.server_port}", heard
    finally:
        server.shutdown()
        server.server_close()
        thread.join()
