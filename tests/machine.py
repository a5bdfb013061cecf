"""Programs and libraries of the machine that some tests need: named when missing, demanded where all must run."""

import importlib
import os
import shutil
from pathlib import Path

import pytest

__all__ = ["program", "typesetter"]

DEBIAN = {"chromium": "chromium", "curl": "curl", "initdb": "postgresql", "pg_ctl": "postgresql"}
"""The Debian package that brings a program."""


def program(name):
    """Return the path of a program; without it the test is passed over, but fails where `CI` is set."""
    # Debian keeps the server programs of PostgreSQL off the path, one folder a version.
    servers = sorted(Path("/usr/lib/postgresql").glob(f"*/bin/{name}"), reverse=True)
    found = shutil.which(name) or next(iter(map(str, servers)), None)
    if found is None:
        _missing(f"{name} is not installed; on Debian: apt-get install {DEBIAN.get(name, name)}")
    return found


def typesetter():
    """Pass over a test where WeasyPrint lacks its libraries of text layout."""
    try:
        importlib.import_module("weasyprint")
    except OSError:
        _missing(
            "Pango is not installed; on Debian: apt-get install libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0"
        )


def _missing(reason):
    if os.environ.get("CI"):
        pytest.fail(reason)
    pytest.skip(reason)
