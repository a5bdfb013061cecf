"""Every named query has a golden answer over the shipped packs and the ontology.

It tells the bindings, how many rows there are, the first of them in order, and a digest of them all.
After a wanted change of data or of a query: ``python tests/graph/test_golden.py`` writes them anew; read what differs.
"""

import hashlib
import json
from pathlib import Path

import pytest

from clampgraph import paths
from clampgraph.graph import load
from clampgraph.graph.named_queries import catalogue

GOLDEN = Path(__file__).parent / "golden"
BINDINGS = {
    "assembly": "brannoch-40t",
    "claim": "https://w3id.org/clampgraph/knowledge#dirty-air.dirt",
}
SHOWN = 8


def answer(graph, name):
    """Return the golden form of an answer."""
    bindings = {binding: BINDINGS[binding] for binding in catalogue()[name].bindings}
    lines = sorted(json.dumps(row, default=str, ensure_ascii=False) for row in graph.ask(name, **bindings))
    digest = hashlib.blake2b("\n".join(lines).encode(), digest_size=12).hexdigest()
    first = [json.loads(line) for line in lines[:SHOWN]]
    return {"bindings": bindings, "rows": len(lines), "first": first, "digest": digest}


def whole():
    return load([paths.ontology()])


def place(name):
    return GOLDEN / f"{name}.json"


def written(found):
    return json.dumps(found, ensure_ascii=False, indent=1) + "\n"


@pytest.fixture(scope="module")
def graph():
    return whole()


@pytest.mark.parametrize("name", sorted(catalogue()))
def test_a_named_query_gives_its_golden_answer(graph, name):
    """The file exists, and holds what is answered today."""
    found = answer(graph, name)
    assert place(name).read_text("utf-8") == written(found), f"see the head of {Path(__file__).name}"


def test_no_golden_answer_is_left_over():
    """Each file belongs to a query."""
    assert {f.relative_to(GOLDEN).with_suffix("").as_posix() for f in GOLDEN.rglob("*.json")} == set(catalogue())


if __name__ == "__main__":
    shipped = whole()
    for each in catalogue():
        place(each).parent.mkdir(parents=True, exist_ok=True)
        place(each).write_text(written(answer(shipped, each)), "utf-8")
