"""Throw-away databases for tests: a file of SQLite, a PostgreSQL server of our own that can be stopped and started."""

import os
import shutil
import socket
import subprocess
from dataclasses import dataclass
from pathlib import Path
from uuid import uuid4

import psycopg

from machine import program

__all__ = ["Server", "free_port", "started"]


def free_port():
    """Return a port of the loopback address that nobody listens on."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


def as_nobody_special():
    """Return what to put before a command: PostgreSQL refuses to run as root."""
    return ["runuser", "-u", "postgres", "--"] if os.getuid() == 0 else []


@dataclass(frozen=True)
class Server:
    """A PostgreSQL server of our own."""

    folder: Path
    port: int

    def url(self, database="postgres"):
        """Return the address of a database."""
        return f"postgresql://postgres@127.0.0.1:{self.port}/{database}"

    def new_database(self, encoding="UTF8"):
        """Make an empty database and return its address."""
        name = f"cases_{uuid4().hex}"
        with psycopg.connect(self.url(), autocommit=True) as connection:
            connection.execute(f"CREATE DATABASE {name} ENCODING '{encoding}' LOCALE 'C' TEMPLATE template0")
        return self.url(name)

    def start(self):
        """Start, and wait until it answers; what processes do to each other needs no wait for the disk."""
        options = f"-p {self.port} -h 127.0.0.1 -k '' -c max_connections=60 -c fsync=off"
        self._control("-o", options, "-l", str(self.folder / "log"), "-w", "start")

    def stop(self):
        """Stop at once, as a power cut would."""
        self._control("-m", "immediate", "-w", "stop")

    def _control(self, *words):
        command = [*as_nobody_special(), program("pg_ctl"), "-D", str(self.folder / "data"), *words]
        done = subprocess.run(command, check=False, capture_output=True, text=True, cwd=self.folder, timeout=60)
        if done.returncode:
            raise RuntimeError(f"{' '.join(words)}: {done.stderr} {done.stdout}")


def started(folder):
    """Make a server in a folder and start it."""
    program("pg_ctl")
    if os.getuid() == 0:
        shutil.chown(folder, "postgres")
    make = [program("initdb"), "-D", str(folder / "data"), "-U", "postgres", "--auth=trust", "--no-sync", "-E", "UTF8"]
    subprocess.run([*as_nobody_special(), *make], check=True, capture_output=True, cwd=folder, timeout=120)
    server = Server(folder, free_port())
    server.start()
    return server
