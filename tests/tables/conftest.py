"""What the tests of tables share."""

import pytest

from clampgraph.tables import Facts


@pytest.fixture(scope="session")
def facts(library):
    """Return the shipped packs as tables see them."""
    return Facts(library)
