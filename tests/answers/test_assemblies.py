"""What is there, and what one unit consists of."""

import pytest

from clampgraph.answers.assemblies import assemblies, show
from clampgraph.answers.cautions import cautions_for
from clampgraph.answers.library import Library, nearest
from clampgraph.errors import DataError, UnknownNameError
from clampgraph.graph import GraphStore, load


def test_an_empty_library():
    """A library in which nothing is loaded has no assemblies, and says so when asked for one."""
    import pyoxigraph  # noqa: PLC0415  # only this test builds a store of its own

    empty = Library(GraphStore(pyoxigraph.Store()))
    assert assemblies(empty).assemblies == ()
    with pytest.raises(UnknownNameError, match=r"^There is no assembly 'x'\.$"):
        show(empty, "x")


def test_listed_in_order(library):
    """Assemblies come in alphabetical order with their generations and IRIs."""
    found = assemblies(library).assemblies
    assert [a.id for a in found] == sorted(library.assemblies)
    assert {"brannoch-30s", "brannoch-40t"} <= {a.id for a in found}
    assert all(a.iri.startswith("https://") and a.generations for a in found)


@pytest.mark.parametrize(("name", "generation"), [("brannoch-30s", None), ("brannoch-40t", "gen-1")])
def test_shown_in_full(library, name, generation):
    """Positions, connections and the size of the network are those of the assembly."""
    answer = show(library, name, generation)
    assembly = library.assembly(name, generation)
    assert [p.id for p in answer.positions] == list(assembly.positions)
    assert len(answer.connections) == len(assembly.connections)
    assert len({p.designation for p in answer.positions}) == len(answer.positions)
    assert answer.network.nodes == len(library.network(assembly))
    assert answer.network.width > 0
    assert set(answer.symptoms) <= set(library.knowledge.symptoms)
    assert set(answer.checks) <= set(library.knowledge.checks)
    assert answer.generation in {g.id for g in answer.generations}


def test_only_what_can_show_is_shown(library):
    """A unit without an approach stage offers no check of one."""
    assert "read-approach-pressure" in show(library, "brannoch-40t").checks
    assert "read-approach-pressure" not in show(library, "brannoch-30s").checks
    assert "approach" not in show(library, "brannoch-30s").phases


def test_nearest():
    """Nearest names come best first, three at most, and none from nothing."""
    assert nearest("x", []) == []
    assert nearest("valv", ["piston", "valve", "rod", "vale"])[0] in ("valve", "vale")
    assert len(nearest("", ["a", "b", "c", "d"])) == 3


def test_cautions_follow_media_and_types(library):
    """Each caution shown applies always, or to a medium or type of this unit; those for others are left out."""
    assembly = library.assembly("brannoch-40t")
    shown = {c.id for c in cautions_for(library.knowledge, assembly)}
    media = {p.medium for position in assembly.positions.values() for p in position.type.ports.values()}
    types = {name for position in assembly.positions.values() for name in position.type.lineage}
    for caution in library.knowledge.cautions:
        applies = caution.always or caution.medium in media or caution.type in types
        assert (caution.id in shown) == applies
    assert shown


def test_packs_that_cannot_be_loaded(tmp_path):
    """A pack with a syntax error names its line and column; a missing one and a foreign one are refused."""
    broken = tmp_path / "broken.ttl"
    broken.write_text("@prefix a: <urn:a> .\na:b a:c ;;; .. a:d\n", "utf-8")
    with pytest.raises(DataError, match=r"broken\.ttl line 2, column \d+"):
        load([broken])
    foreign = tmp_path / "notes.txt"
    foreign.write_text("", "utf-8")
    with pytest.raises(DataError, match="its name must end with one of"):
        load([foreign])
    with pytest.raises(UnknownNameError, match="There is no file or folder"):
        load([tmp_path / "none.ttl"])
