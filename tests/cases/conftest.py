"""A case store of each kind, empty."""

import tempfile
from pathlib import Path

import pytest

from cases.databases import started
from clampgraph.cases.store import CaseStore


@pytest.fixture(scope="session")
def postgres():
    """Return a PostgreSQL server of our own."""
    # Not below pytest's own folder, which is closed to the user whom the server runs as.
    with tempfile.TemporaryDirectory(prefix="clampgraph-postgres-") as folder:
        server = started(Path(folder))
        yield server
        server.stop()


@pytest.fixture(params=["sqlite", "postgres"])
def location(request, tmp_path):
    """Return where an empty store of each kind may be."""
    if request.param == "sqlite":
        return str(tmp_path / "cases.sqlite")
    return request.getfixturevalue("postgres").new_database()


@pytest.fixture
def store(location):
    """Return an empty store of each kind."""
    found = CaseStore(location)
    yield found
    found.close()
