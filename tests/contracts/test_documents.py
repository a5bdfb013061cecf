"""README and DEVELOPERS say what is true."""

import re
from pathlib import Path

import pytest

from clampgraph.answers.diagnosing.diagnose import diagnose
from clampgraph.answers.diagnosing.diagnosis import DiagnoseRequest
from clampgraph.answers.library import Library
from clampgraph.api import batches, cases, routes, sparql, work, writing
from clampgraph.cli.app import COMMANDS

ROOT = Path(__file__).resolve().parents[2]
README = (ROOT / "README.md").read_text("utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text("utf-8")
PLACES = re.findall(r"^\| [^|]+ \| `([^`]+)` \|$", DEVELOPERS, re.MULTILINE)


def test_the_map_has_places() -> None:
    """The map of DEVELOPERS is read at all."""
    assert len(PLACES) > 20


@pytest.mark.parametrize("place", PLACES)
def test_every_place_on_the_map_exists(place: str) -> None:
    """Where the map of DEVELOPERS points, there is something."""
    found = ROOT / place
    assert found.is_dir() if place.endswith("/") else found.is_file()


def test_every_command_is_in_the_readme() -> None:
    """A command that the README does not show is a command nobody finds."""
    assert [name for name in COMMANDS if f"clampgraph {name}" not in README] == []


def test_every_route_is_in_the_readme() -> None:
    """A route that the README does not show is a route nobody finds."""
    found = [r for part in (routes, batches, cases, sparql, work, writing) for r in part.router.routes]
    paths = {re.sub(r"\{[\w:]+\}", "{id}", route.path) for route in found}
    assert [p for p in sorted(paths) if p not in README] == []


def test_the_readme_opens_with_the_job() -> None:
    """The first paragraph speaks of the technician, before any heading but the title."""
    assert README.splitlines()[2].startswith("A field-service technician")


def test_start_has_two_commands_of_one_line() -> None:
    """The section Start holds exactly two shell blocks of one line each."""
    start = README.split("## Start")[1].split("\n## ")[0]
    blocks = re.findall(r"```sh\n(.*?)```", start, re.DOTALL)
    assert [len(b.strip().splitlines()) for b in blocks] == [1, 1]


def test_the_table_in_the_readme_is_computed() -> None:
    """The rows of the example are the first rows that the answer gives."""
    rows = re.findall(r"^\| ([\w-]+) \| ([^|]+) \| (\d+) % \| ([^|]+) \|$", README, re.MULTILINE)
    answer = diagnose(
        Library.open(),
        DiagnoseRequest(assembly="brannoch-40t", seen=("slow-return",), unseen=("bang-at-release",)),
    )
    computed = [
        (c.position, c.label, f"{100 * c.probability:.0f}", c.paths[0].summary) for c in answer.causes[: len(rows)]
    ]
    assert [tuple(part.strip() for part in row) for row in rows] == computed
    assert len(rows) == 3
