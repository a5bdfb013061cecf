"""What many tests share: the shipped packs, loaded once."""

import os

import pytest
from hypothesis import HealthCheck, settings

from clampgraph.answers.library import Library

# The machine that runs the tests may be busy: a slow example is no failure, and the run stays the same run.
settings.register_profile("house", deadline=None, derandomize=True, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("house")


@pytest.fixture(scope="session", autouse=True)
def _own_snapshots(tmp_path_factory):
    """Keep snapshots of this run, and of the commands it starts, away from those of the user."""
    os.environ["CLAMPGRAPH_SNAPSHOTS"] = str(tmp_path_factory.mktemp("snapshots"))


@pytest.fixture(scope="session")
def library():
    """Return the shipped knowledge and demo assemblies."""
    return Library.open()


@pytest.fixture(scope="session")
def knowledge(library):
    """Return what the shipped packs say of component types."""
    return library.knowledge
