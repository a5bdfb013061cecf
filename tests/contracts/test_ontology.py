"""The ontology says every word that packs use, and no word that nobody uses."""

import re

import pytest
from pyoxigraph import NamedNode, RdfFormat, parse

from clampgraph import paths
from clampgraph.graph.loading import default_packs, files_of

CG = "https://w3id.org/clampgraph/ns#"
RDFS = "http://www.w3.org/2000/01/rdf-schema#"
SKOS = "http://www.w3.org/2004/02/skos/core#"
SH = "http://www.w3.org/ns/shacl#"
OWL = "http://www.w3.org/2002/07/owl#"


def quads(name):
    return list(parse(path=str(paths.ontology() / name), format=RdfFormat.TURTLE))


def words(statements):
    terms = (t for q in statements for t in (q.subject, q.predicate, q.object) if isinstance(t, NamedNode))
    return {t.value for t in terms if t.value.startswith(CG)}


@pytest.fixture(scope="module")
def declared():
    return {q.subject.value for q in quads("terms.ttl") if isinstance(q.subject, NamedNode)} & words(quads("terms.ttl"))


@pytest.fixture(scope="module")
def in_data():
    return words(q for file in files_of(default_packs()) for q in parse(path=str(file), format=RdfFormat.TURTLE))


def test_every_word_in_data_is_declared(declared, in_data):
    """A pack can only say what the ontology defines."""
    assert in_data - declared == set()


def test_every_word_in_shapes_and_alignments_is_declared(declared):
    """Shapes and alignments speak of the ontology's words only."""
    assert (words(quads("shapes.ttl")) | words(quads("alignments.ttl"))) - declared == set()


def test_every_declared_word_is_used(declared, in_data):
    """A word that neither data nor shapes use is dead weight."""
    ranges = {q.object.value for q in quads("terms.ttl") if q.predicate.value in (RDFS + "range", RDFS + "subClassOf")
              and isinstance(q.object, NamedNode)}  # fmt: skip
    assert declared - in_data - words(quads("shapes.ttl")) - ranges == set()


@pytest.mark.parametrize("predicate", [RDFS + "label", SKOS + "definition"])
def test_every_word_has_a_label_and_a_definition(declared, predicate):
    """Nobody has to guess what a word means."""
    said = {q.subject.value for q in quads("terms.ttl") if q.predicate.value == predicate}
    assert declared - said == set()


@pytest.mark.parametrize("name", ["terms.ttl", "shapes.ttl", "alignments.ttl"])
def test_each_file_has_a_header_and_a_dated_version(name):
    """A file says what it is for and which day's version it is."""
    assert (paths.ontology() / name).read_text("utf-8").startswith("# ")
    versions = [q.object.value for q in quads(name) if q.predicate.value == OWL + "versionIRI"]
    assert len(versions) == 1
    assert re.fullmatch(r"https://w3id\.org/clampgraph/\w+/\d{4}-\d{2}-\d{2}", versions[0])


def test_every_shape_of_a_property_has_words():
    """What a shape with a target asks of a property it says in a message of its own."""
    shapes = quads("shapes.ttl")
    targeted = {q.subject for q in shapes if q.predicate.value.startswith(SH + "target")}
    asked = {q.object for q in shapes if q.predicate.value == SH + "property" and q.subject in targeted}
    told = {q.subject for q in shapes if q.predicate.value == SH + "message"}
    assert asked - told == set()


def test_nothing_at_run_time_reads_the_alignments():
    """Alignments serve exchange; no module names their file."""
    sources = paths.ontology().parent.glob("src/clampgraph/**/*.py")
    assert [str(file) for file in sources if "alignments.ttl" in file.read_text("utf-8")] == []
