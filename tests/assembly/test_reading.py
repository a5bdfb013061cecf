"""Reading rows into knowledge and assemblies."""

import random

import pyoxigraph
import pytest

from clampgraph.answers.diagnosing.diagnose import diagnose
from clampgraph.answers.diagnosing.diagnosis import DiagnoseRequest
from clampgraph.answers.library import Library
from clampgraph.assembly import read_assemblies, read_assembly, read_knowledge
from clampgraph.errors import DataError, UnknownNameError
from clampgraph.graph import GraphStore


def asking(rows):
    """Return a way to ask that answers from a table, and with no rows for every other query."""
    return lambda name, **_: rows.get(name, [])


def test_an_empty_graph():
    """Nothing loaded is nothing known."""
    nothing = read_knowledge(asking({}))
    assert nothing.types == nothing.symptoms == nothing.checks == nothing.conditions == {}
    assert nothing.phases == nothing.cautions == ()
    assert read_assemblies(asking({})) == {}


def test_an_unknown_assembly(library):
    """Reading an assembly that no pack describes says so."""
    with pytest.raises(UnknownNameError, match="There is no assembly 'none-such'"):
        read_assembly(library.graph.ask, library.knowledge, "none-such")


def test_a_rate_in_another_unit_is_refused():
    """A rate per hour is not silently taken for one per year."""
    row = dict.fromkeys(("type", "mode", "label", "mechanism", "rate", "severity", "source")) | {
        "iri": "urn:mode", "rateUnit": "http://qudt.org/vocab/unit/PER-HR",
    }  # fmt: skip
    with pytest.raises(DataError, match="rate of urn:mode must be given with"):
        read_knowledge(asking({"knowledge/list-failure-modes": [row]}))


def test_a_type_that_specialises_itself_is_refused():
    """A circle of specialisations is named member by member."""
    rows = [
        {"iri": f"urn:{a}", "type": a, "parent": b, "label": "", "kind": "", "letter": "", "function": ""}
        for a, b in (("valve", "part"), ("part", "valve"))
    ]
    with pytest.raises(DataError, match="valve → part → valve"):
        read_knowledge(asking({"knowledge/list-types": rows}))


def assembly_rows(**changed):
    row = {
        "assembly": "unit", "iri": "urn:unit", "label": "unit", "builder": None, "taper": "40",
        "actuator": "tandem", "drive": None, "exposure": None,
    }  # fmt: skip
    generation = {
        "iri": "urn:gen", "generation": "gen-1", "label": "", "builtFrom": None, "builtUntil": None,
        "serialFrom": None, "serialUntil": None,
    }  # fmt: skip
    return {"assembly/find-assembly": [row], "assembly/list-generations": [generation], **changed}


def test_an_assembly_without_generations_is_refused(knowledge):
    """Effectivity is not guessed: an assembly has at least one generation."""
    rows = assembly_rows(**{"assembly/list-generations": []})
    with pytest.raises(DataError, match="unit has no generation"):
        read_assembly(asking(rows), knowledge, "unit")


def test_an_assembly_without_positions(knowledge):
    """An assembly may be empty; its default exposure is three years, and it has no approach phase."""
    unit = read_assembly(asking(assembly_rows()), knowledge, "unit")
    assert (unit.positions, unit.connections, unit.exposure) == ({}, (), 3.0)
    assert "approach" not in unit.phases


def test_a_position_of_an_unknown_type_is_refused(knowledge):
    """A position's type must be described by a loaded pack."""
    position = {
        "iri": "urn:p", "position": "pump", "designation": "=X1", "type": "moon-pump", "number": None,
        "actuated": None, "generation": None,
    }  # fmt: skip
    rows = assembly_rows(**{"assembly/list-positions": [position]})
    with pytest.raises(DataError, match="pump of unit has the type moon-pump"):
        read_assembly(asking(rows), knowledge, "unit")


def test_specialised_types_inherit(knowledge):
    """A main valve is a solenoid valve with its ports, passes and failure modes; its own come on top."""
    main, general = knowledge.types["main-valve"], knowledge.types["solenoid-valve"]
    assert main.lineage == ("main-valve", "solenoid-valve")
    assert main.ports == general.ports
    assert set(general.modes) <= set(main.modes)
    assert set(general.passes) <= set(main.passes)
    seal = knowledge.types["piston-seal"]
    assert {"worn", "swollen", "gummed"} <= set(seal.modes)


def test_generations_of_the_demo(library):
    """Without a name the newest generation is read; items follow the generation."""
    newest, first = library.assembly("brannoch-40t"), library.assembly("brannoch-40t", "gen-1")
    assert newest.generation.id == "gen-2"
    assert first.generation.id == "gen-1"
    fitted = [{i.mpn for i in a.positions["rod"].items} for a in (first, newest)]
    assert fitted[0]
    assert fitted[1]
    assert fitted[0].isdisjoint(fitted[1])


def test_the_order_of_triples_changes_nothing(library, tmp_path):
    """The same triples loaded in another order give the same answer, to the last figure."""
    lines = [f"{quad.subject} {quad.predicate} {quad.object} ." for quad in library.graph.store]
    random.Random(7).shuffle(lines)  # noqa: S311  # reproducible, not secret
    file = tmp_path / "shuffled.nt"
    file.write_text("\n".join(lines), "utf-8")
    store = pyoxigraph.Store()
    store.load(path=str(file), format=pyoxigraph.RdfFormat.N_TRIPLES)
    other = Library(GraphStore(store))
    for name, symptom in (("brannoch-40t", "bang-at-release"), ("brannoch-30s", "slow-return")):
        question = DiagnoseRequest(assembly=name, seen=(symptom,), all=True)
        assert diagnose(other, question).body() == diagnose(library, question).body()
