"""A person reads whose figure it is: the pack's, or one that cases taught."""

from typer.testing import CliRunner

from clampgraph.cli.app import app

ASKED = ["diagnose", "brannoch-40t", "--seen", "slow-return"]


def test_the_screen_marks_what_cases_taught(tmp_path):
    """After one case its cause is marked, and no other; without the store nothing is."""
    store = ["--cases", str(tmp_path / "cases.sqlite")]
    found = ["--seen", "slow-return", "--found", "silencer:clogged", "--author", "a"]
    kept = CliRunner().invoke(app, ["record", "brannoch-40t", *found, *store])
    assert kept.exit_code == 0, kept.output
    told = [line for line in CliRunner().invoke(app, [*ASKED, *store]).stdout.splitlines() if "learned from" in line]
    assert len(told) == 1
    assert "clogged" in told[0]
    assert "learned from 1 case " in told[0]
    assert "learned from" not in CliRunner().invoke(app, ASKED).stdout
