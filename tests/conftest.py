"""What many tests share: the shipped packs, loaded once."""

import pytest
from hypothesis import HealthCheck, settings

from clampgraph.answers.library import Library

# The machine that runs the tests may be busy: a slow example is no failure, and the run stays the same run.
settings.register_profile("house", deadline=None, derandomize=True, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("house")


@pytest.fixture(scope="session")
def library():
    """Return the shipped knowledge and demo assemblies."""
    return Library.open()


@pytest.fixture(scope="session")
def knowledge(library):
    """Return what the shipped packs say of component types."""
    return library.knowledge
