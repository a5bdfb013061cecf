"""The command as people start it: exit codes, streams, and what is not imported on the way."""

import subprocess
import sys
from importlib import metadata

import pytest
from typer.testing import CliRunner

from clampgraph.cli.app import app

HEAVY = ("rdflib", "pyshacl", "fastapi", "starlette", "uvicorn", "scipy", "pgmpy", "pandas", "pyagrum")


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


@pytest.mark.parametrize("words", [["--help"], ["diagnose", "brannoch-40t", "--seen", "slow-return", "--json"]])
def test_a_cold_start_imports_nothing_heavy(words):
    """Neither help nor a diagnosis in this process imports the libraries of other questions."""
    program = (
        "import sys, clampgraph.cli as c\n"
        "try:\n    c.main()\n"
        "except SystemExit as end:\n    assert not end.code, end.code\n"
        f"print(sorted(set({HEAVY!r}) & set(sys.modules)), file=sys.stderr)\n"
    )
    found = subprocess.run([sys.executable, "-c", program, *words], capture_output=True, text=True, check=True)
    assert found.stdout
    assert found.stderr.strip() == "[]"


def test_the_version_is_told():
    """`--version` names the installed version and asks nothing."""
    told = CliRunner().invoke(app, ["--version"])
    assert (told.exit_code, told.stdout) == (0, f"clampgraph {metadata.version('clampgraph')}\n")
