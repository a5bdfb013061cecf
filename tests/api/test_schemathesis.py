"""The service against its own description: whatever is sent, no fault, and every answer as described."""

import collections

import pytest
import schemathesis
from schemathesis.config import SchemathesisConfig
from schemathesis.engine import events, from_schema

from clampgraph.api.app import create_app
from clampgraph.api.settings import EMBEDDED
from clampgraph.api.tokens import TokenFile

TEXTS = ("application/sparql-query", "text/turtle")

# These two simulate or load for each request that differs; their examples are enough.
SLOW = [
    {
        "include-name": "GET /assemblies/{assembly}/agreement",
        "phases": {"coverage": {"enabled": False}, "stateful": {"enabled": False}},
    },
    {"include-name": "GET /tables/{name}/changes", "phases": {}},
]

CONFIG = {
    "seed": 1,
    "request-timeout": 120,  # the machine that runs the tests may be busy
    "generation": {"deterministic": True, "database": "none", "max-examples": 5},
    "operations": [{**slow, "phases": {**slow["phases"], "fuzzing": {"enabled": False}}} for slow in SLOW],
    # A question of the right form may name what is not described, or findings that exclude each other.
    "checks": {"positive_data_acceptance": {"expected-statuses": ["2xx", "400", "404", "406", "409", "422"]}},
}


@schemathesis.serializer(*TEXTS)
def plain(_, value):
    """Send a text as it is."""
    return str(value).encode("utf-8", "replace")


@pytest.fixture
def schema(tmp_path):
    """Return the description of a service whose every route may be used, as an administrator."""
    tokens = tmp_path / "tokens.json"
    token = TokenFile(tokens).issue("tester", "admin", 1)
    settings = EMBEDDED.model_copy(update={"tokens": tokens, "cases": str(tmp_path / "cases.sqlite")})
    bearer = {"Authorization": f"Bearer {token}"}
    config = SchemathesisConfig.from_dict({**CONFIG, "headers": bearer})
    return schemathesis.openapi.from_asgi("/openapi.json", create_app(settings=settings), config=config, headers=bearer)


def test_the_service_keeps_its_word(schema):
    """Every check of every phase holds for every operation, and every operation answers something."""
    wrong, answered = set(), collections.Counter()
    for event in from_schema(schema).execute():
        assert not isinstance(event, events.NonFatalError | events.FatalError), event
        if isinstance(event, events.ScenarioFinished):
            found = event.recorder
            wrong |= {
                (event.label, check.name, check.failure_info.failure.message, found.cases[case].value.as_curl_command())
                for case, checks in found.checks.items()
                for check in checks
                if check.failure_info is not None
            }
            answered[event.label] += sum(i.response is not None for i in found.interactions.values())
    assert wrong == set()
    operations = {operation.ok().label for operation in schema.get_all_operations()}
    assert operations <= set(answered)
    assert min(answered[label] for label in operations) > 1
