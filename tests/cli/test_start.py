"""The command as people start it: exit codes, streams, and what is not imported on the way."""

import subprocess
import sys
from importlib import metadata

import pytest
from typer.testing import CliRunner

from clampgraph.cli.app import COMMANDS, app

HEAVY = (
    "alembic", "fastapi", "httpx", "networkx", "pandas", "pgmpy", "pyagrum", "pyshacl", "rdflib", "scipy", "sqlalchemy",
    "starlette", "uvicorn",
)  # fmt: skip
ANSWERING = ("clampgraph.answers", "clampgraph.graph", "numpy", "pyoxigraph", "rich")
ELSEWHERE = ("clampgraph.graph.remote", "clampgraph.graph.sandbox", "multiprocessing")
OTHERS = [f"clampgraph.cli.{name}" for name in ("authoring", "looking", "recording", "replacing", "serving", "writing")]
DIAGNOSIS = ["diagnose", "brannoch-40t", "--seen", "slow-return", "--json"]


def started(*words):
    program = "import sys; from clampgraph.cli import main; sys.argv[0] = 'clampgraph'; main()"
    return subprocess.run([sys.executable, "-c", program, *words], capture_output=True, text=True, check=False)


@pytest.mark.parametrize(
    ("code", "words", "said"),
    [
        (0, ["assemblies", "--json"], ""),
        (1, ["validate", "{bad}"], ""),
        (2, ["diagnose"], "Missing argument"),
        (2, ["frobnicate"], "No such command"),
        (2, ["diagnose", "brannoch-40t", "--seen", "slow-return", "--unseen", "slow-return"], "seen and as unseen"),
        (3, ["show", "branoch-40t"], "There is no assembly 'branoch-40t'; nearest: brannoch-40t"),
        (3, ["assemblies", "--data", "{none}"], "There is no file or folder"),
        (4, ["assemblies", "--data", "{bad}"], "line 1, column"),
    ],
)
def test_exit_codes_and_streams(tmp_path, code, words, said):
    """Results go to standard output, messages to standard error, and the exit code says which kind it was."""
    bad = tmp_path / "bad.ttl"
    bad.write_text("this is no turtle", "utf-8")
    found = started(*(word.format(bad=bad, none=tmp_path / "none.ttl") for word in words))
    assert found.returncode == code
    assert said in found.stderr
    assert "Traceback" not in found.stderr
    assert bool(found.stdout) == (code in (0, 1))
    if code in (3, 4):
        assert found.stderr.count("\n") == 1


@pytest.mark.parametrize(
    ("words", "unneeded"),
    [
        ([], [*HEAVY, *ANSWERING, *OTHERS, "clampgraph.cli.diagnosing", "pydantic"]),
        (["--help"], [*HEAVY, *ANSWERING]),
        (["diagnose", "--help"], [*HEAVY, *ANSWERING, *OTHERS]),
        (DIAGNOSIS, [*HEAVY, *OTHERS, *ELSEWHERE, "rich"]),
    ],
    ids=["import", "help", "help of a command", "diagnosis"],
)
def test_a_cold_start_imports_nothing_it_does_not_need(words, unneeded):
    """Neither the import, nor help, nor a diagnosis brings in the libraries and modules of other questions."""
    program = (
        "import sys, clampgraph.cli as c\n"
        f"try:\n    {bool(words)} and c.main()\n"
        "except SystemExit as end:\n    assert not end.code, end.code\n"
        f"print(sorted(set({unneeded!r}) & set(sys.modules)), file=sys.stderr)\n"
    )
    found = subprocess.run([sys.executable, "-c", program, *words], capture_output=True, text=True, check=True)
    assert bool(found.stdout) == bool(words)
    assert found.stderr.strip() == "[]"


def test_help_lists_every_command_in_order():
    """Help tells each command once, as the table of commands orders them, with the question it answers."""
    lines = CliRunner().invoke(app, ["--help"]).stdout.partition("Commands:")[2].splitlines()
    told = dict(line.split(maxsplit=1) for line in lines if line[:3].strip())
    assert list(told) == list(COMMANDS)
    assert told["diagnose"] == "What explains it?"


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_is_where_the_table_says(name):
    """Each command is found under its name and describes its options."""
    told = CliRunner().invoke(app, [name, "--help"])
    assert (told.exit_code, told.stderr) == (0, "")
    assert f" {name} [OPTIONS]" in told.stdout


def test_the_version_is_told():
    """`--version` names the installed version and asks nothing."""
    told = CliRunner().invoke(app, ["--version"])
    assert (told.exit_code, told.stdout) == (0, f"clampgraph {metadata.version('clampgraph')}\n")
