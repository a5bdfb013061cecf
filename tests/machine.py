"""Programs of the machine that some tests need: named when missing, and demanded where everything must run."""

import os
import shutil
from pathlib import Path

import pytest

__all__ = ["program"]

DEBIAN = {"chromium": "chromium", "curl": "curl", "initdb": "postgresql", "pg_ctl": "postgresql"}
"""The Debian package that brings a program."""


def program(name):
    """Return the path of a program; without it the test is passed over, but fails where `CI` is set."""
    # Debian keeps the server programs of PostgreSQL off the path, one folder a version.
    servers = sorted(Path("/usr/lib/postgresql").glob(f"*/bin/{name}"), reverse=True)
    found = shutil.which(name) or next(iter(map(str, servers)), None)
    if found is None:
        reason = f"{name} is not installed; on Debian: apt-get install {DEBIAN.get(name, name)}"
        if os.environ.get("CI"):
            pytest.fail(reason)
        pytest.skip(reason)
    return found
