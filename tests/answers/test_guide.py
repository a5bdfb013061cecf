"""The guide in data/README.md, followed to the letter in an empty folder."""

import re
import shlex

import pytest
from typer.testing import CliRunner

from clampgraph import paths
from clampgraph.answers.authoring.columns import TABLES
from clampgraph.cli.app import app

GUIDE = (paths.data() / "README.md").read_text("utf-8")
BLOCKS = re.findall(r"^```([\w-]+)\n(.*?)^```$", GUIDE, re.MULTILINE | re.DOTALL)


@pytest.fixture(scope="module")
def followed(tmp_path_factory):
    """Do what every block of the guide says, in order; return what each command printed."""
    folder = tmp_path_factory.mktemp("press-7")
    pack, printed = folder / "press-7.ttl", {}
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(folder)
        for kind, text in BLOCKS:
            if kind == "turtle":
                pack.write_text(f"{pack.read_text('utf-8')}\n{text}", "utf-8")
            elif kind == "turtle-old":
                assert pack.read_text("utf-8").count(text) == 1
                pack.write_text(pack.read_text("utf-8").replace(text, ""), "utf-8")
            elif kind == "csv":
                name = "marks.csv" if text.startswith("assembly,generation,feature") else "PARTS.csv"
                (folder / name).write_text(text, "utf-8")
            for line in re.findall(r"^\$ clampgraph (.*)$", text, re.MULTILINE) if kind == "console" else ():
                result = CliRunner().invoke(app, shlex.split(line))
                assert result.exit_code == 0, (line, result.output, result.exception)
                printed.setdefault(line, result.output)
    return folder, printed


def output_of(followed, start):
    return next(text for line, text in followed[1].items() if line.startswith(start))


def test_every_step_succeeds(followed):
    """Nine commands in, the folder holds the unit, its parts and its marks, and all of it is sound."""
    folder, printed = followed
    assert {f.name for f in folder.iterdir()} == {
        "press-7.ttl", "PARTS.csv", "press-7-parts.ttl", "marks.csv", "press-7-marks.ttl",
    }  # fmt: skip
    assert len(printed) >= 8
    assert "ound" in output_of(followed, "validate press-7.ttl press-7-parts.ttl")


def test_the_new_position_is_among_the_causes(followed):
    """The guide promises that the lubricator appears with its path."""
    assert "lubricator" in output_of(followed, "diagnose")


def test_the_unit_is_recognised(followed):
    """Taper and diameter put the described unit first."""
    text = output_of(followed, "identify")
    assert text.index("press-7") < text.index("brannoch-40t")


def test_every_table_is_named():
    """No table that the guide does not mention, but for the catch-all."""
    assert [name for name in TABLES if f"{name}.csv" not in GUIDE and name != "facts"] == []
