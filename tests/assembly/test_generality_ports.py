"""A special component type may replace a port of the type it specialises: an oil piston has an oil face."""

import pytest

from clampgraph.answers.library import Library
from clampgraph.answers.validate import validate

PACK = """
@prefix cg: <https://w3id.org/clampgraph/ns#> .
@prefix k: <https://w3id.org/clampgraph/knowledge#> .
@prefix q: <https://w3id.org/clampgraph/quantity#> .
@prefix md: <https://w3id.org/clampgraph/medium#> .
@prefix s: <https://w3id.org/clampgraph/source#> .
@prefix t: <https://example.org/wet/> .
@prefix dcterms: <http://purl.org/dc/terms/> .
@prefix prov: <http://www.w3.org/ns/prov#> .
@prefix skos: <http://www.w3.org/2004/02/skos/core#> .
@prefix xsd: <http://www.w3.org/2001/XMLSchema#> .

t:wet-piston a cg:ComponentType ; dcterms:identifier "wet-piston" ; cg:specialises k:piston ;
    skos:prefLabel "piston in oil"@en ; cg:kind "actuator" ; cg:letterCode "MM" .
t:wet-piston.port-face a cg:Port ; cg:portOf t:wet-piston ; cg:portName "face" ;
    cg:medium md:hydraulic-oil ; cg:takes q:pressure, q:flow, q:vent .
t:wet-line a cg:ComponentType ; dcterms:identifier "wet-line" ;
    skos:prefLabel "line"@en ; cg:kind "hose" ; cg:letterCode "WP" .
t:wet-line.port-end a cg:Port ; cg:portOf t:wet-line ; cg:portName "end" ;
    cg:medium md:MEDIUM ; cg:gives q:pressure ; cg:origin q:pressure .

t:wet a cg:Assembly ; dcterms:identifier "wet-unit" ; skos:prefLabel "wet unit"@en ;
    cg:builder <https://w3id.org/clampgraph/demo/ulvedal> ; cg:taper "ISO 7388-1 size 40" ; cg:actuator "hydraulic" ;
    cg:medium md:hydraulic-oil ; prov:hadPrimarySource s:demo .
t:gen-1 a cg:Generation ; cg:generationOf t:wet ; dcterms:identifier "gen-1" ; cg:order 1 ;
    skos:prefLabel "only generation"@en ; prov:hadPrimarySource s:demo .
t:line a cg:Position ; cg:positionOf t:wet ; dcterms:identifier "line" ;
    cg:designation "=M1-WP1" ; cg:ofType t:wet-line .
t:piston a cg:Position ; cg:positionOf t:wet ; dcterms:identifier "piston" ;
    cg:designation "=M1-MM1" ; cg:ofType t:wet-piston .
t:joint a cg:Connection ; cg:fromPosition t:line ; cg:fromPort "end" ; cg:toPosition t:piston ; cg:toPort "face" .
"""


@pytest.fixture
def pack(tmp_path):
    """Return a writer of the pack, its line filled with the given medium."""

    def write(medium):
        path = tmp_path / f"{medium}.ttl"
        path.write_text(PACK.replace("MEDIUM", medium), encoding="utf-8")
        return path

    return write


def mixed(path):
    """Return what validation says of mixed media in a pack."""
    return [f.message for f in validate([path]).findings if f.pack == path.name and "hydraulic-oil" in f.message]


def test_a_port_of_its_own_replaces_the_inherited_one(pack):
    """The special type has the medium and quantities of its own port and keeps what it inherits beside it."""
    kind = Library.open([pack("hydraulic-oil")]).knowledge.types["wet-piston"]
    assert kind.ports["face"].medium == "hydraulic-oil"
    assert "moisture" not in kind.ports["face"].takes
    assert kind.ports["rod"].medium == "mechanical-force"


def test_the_rules_read_the_replaced_port(pack):
    """Joined to oil the piston mixes no media; joined to air, it does."""
    assert mixed(pack("hydraulic-oil")) == []
    assert mixed(pack("compressed-air")) == ["It joins port end of compressed-air to port face of hydraulic-oil."]
