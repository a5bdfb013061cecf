"""What every module promises: a sorted `__all__`, and imports that run one way."""

import ast
import subprocess
import sys
from pathlib import Path

import pytest

import clampgraph

ROOT = Path(clampgraph.__file__).parent
MODULES = sorted(ROOT.rglob("*.py"))


@pytest.mark.parametrize("file", MODULES, ids=lambda f: str(f.relative_to(ROOT)))
def test_all_is_explicit_and_sorted(file):
    """Each module with code in it has a sorted `__all__` of names that it defines, and a docstring."""
    tree = ast.parse(file.read_text("utf-8"))
    assert ast.get_docstring(tree)
    if len(tree.body) == 1:
        assert file.name == "__init__.py"
        return
    assigned = [n.value for n in tree.body if isinstance(n, ast.Assign | ast.AnnAssign) and "__all__" in targets(n)]
    assert len(assigned) == 1
    names = ast.literal_eval(assigned[0])
    constants = sorted(n for n in names if n.isupper())
    classes = sorted(n for n in names if n[0].isupper() and not n.isupper())
    others = sorted(n for n in names if not n[0].isupper())
    assert list(names) == [*constants, *classes, *others]
    beside = {f.stem for f in file.parent.iterdir()} if file.name == "__init__.py" else set()
    assert set(names) <= defined(tree) | beside


def targets(node):
    """Return the names that an assignment binds."""
    places = node.targets if isinstance(node, ast.Assign) else [node.target]
    return {n.id for place in places for n in ast.walk(place) if isinstance(n, ast.Name)}


def defined(tree):
    """Return the names that a module binds at its top level."""
    found = set()
    for node in tree.body:
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef):
            found.add(node.name)
        elif isinstance(node, ast.Import | ast.ImportFrom):
            found |= {alias.asname or alias.name for alias in node.names}
        elif isinstance(node, ast.Assign | ast.AnnAssign):
            found |= targets(node)
        elif isinstance(node, ast.If):
            found |= defined(node)  # what only type checkers import beforehand
    return found


def test_imports_run_one_way():
    """The import contracts of pyproject.toml hold."""
    project = ROOT.parent.parent
    linter = Path(sys.executable).with_name("lint-imports")
    found = subprocess.run([linter, "--no-cache"], cwd=project, capture_output=True, text=True, check=False)
    assert found.returncode == 0, found.stdout + found.stderr
    assert "0 broken" in found.stdout
