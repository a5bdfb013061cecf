"""Start a description of your own unit: a commented pack that is sound from the first line."""

import re
from collections.abc import Iterator

from clampgraph.answers.authoring.columns import TABLES
from clampgraph.answers.authoring.importing import BASE
from clampgraph.answers.authoring.rows import minted
from clampgraph.answers.library import Library
from clampgraph.assembly import Assembly
from clampgraph.errors import WrongCallError
from clampgraph.graph.statements import PREFIXES, TYPE, Amount, Iri, Section, Statement, Term, Text, turtle

__all__ = ["LIKE", "new_assembly"]

LIKE = "brannoch-30s"
"""The shipped unit with the fewest positions; a starter pack takes after it when no other is named."""

_HEADING = """{id}: a starter pack, laid out like {like}. Change it until it describes your unit.
Check it after every change: clampgraph validate FILE
Ask it: clampgraph diagnose {id} --seen slow-return --data FILE
The first part of every IRI is yours to choose; {base} belongs to nobody."""

_COMMENTS = {
    "parties": """Who built it, and where your knowledge of it comes from. Every claim names its source:
write another one where you have better than your own records.""",
    "assembly": """The unit. The taper is standard and size of the tool shank; the actuator is single-piston, tandem,
coaxial, air-over-oil or hydraulic; the default exposure is the age of parts where nobody knows better.""",
    "generations": """States of its design. Add dates and serial numbers, so that they can be told apart:
cg:builtFrom "2014-07-01"^^xsd:date ; cg:builtUntil "2019-12-31"^^xsd:date ; cg:serialFrom 4200""",
    "positions": """Places that parts fill. Take away what your unit has not, add what it has.
The designation is the one on your circuit diagram; `clampgraph query knowledge/list-types` tells the types.
A valve says in which phases it is switched on. Two pieces at one position: cg:count 2 .""",
    "connections": """What is joined to what, from the supply to the tool, in the direction of flow or force.
`clampgraph query knowledge/list-ports` tells the ports of each type. Everything else follows from this part.""",
    "parts": """Parts that can be ordered, and where they are fitted. Bring them in from a spreadsheet instead,
with the columns of data/templates/parts.csv: clampgraph import PARTS.csv -o PARTS.ttl --data THIS-FILE
By hand a part looks like this:
  i:SV-14 a cg:Item ; schema:mpn "SV-14" ; skos:prefLabel "solenoid valve G1/4"@en ; cg:itemType k:main-valve ;
      cg:maker b:builder ; cg:price 86.00 ; cg:currency "EUR" ; prov:hadPrimarySource b:own-records .
  b:main-valve.fitted-SV-14 a cg:Fitment ; cg:fitmentAt b:main-valve ; cg:item i:SV-14 .""",
}


def new_assembly(library: Library, name: str, like: str | None = None, base: str = BASE) -> str:
    """Return a commented pack for a new unit, with the positions and connections of one that is described.

    Raises
    ------
    UnknownNameError
        If there is no assembly like which it shall be.
    WrongCallError
        If the name is no identifier, or is taken.
    """
    if not re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", name):
        raise WrongCallError(
            f"'{name}' is no identifier; write lower case, words joined by hyphens, such as my-unit-40."
        )
    if name in library.assemblies:
        raise WrongCallError(f"The assembly {name} is described already; choose another name.")
    if not re.fullmatch(r'https?://[^\s<>"{}|^`\\]+[/#]', base):
        raise WrongCallError(f"The base '{base}' is no address; write one such as {BASE} that ends with a stroke.")
    pattern = library.assembly(like or LIKE)
    sections = [
        Section(_COMMENTS[part].format(like=pattern.id), list(statements))
        for part, statements in (
            ("parties", _parties(name, f"{base}{name}/")),
            ("assembly", _assembly(name, pattern, f"{base}{name}/")),
            ("generations", _generation(name, f"{base}{name}/")),
            ("positions", _positions(name, pattern, base)),
            ("connections", _connections(name, pattern, base)),
        )
    ]
    heading = _HEADING.format(id=name, like=pattern.id, base=base)
    parts = "".join(f"# {line}\n" for line in _COMMENTS["parts"].splitlines())
    prefixes = {"b": f"{base}{name}/", "i": f"{base}item/"}
    text = turtle(sections, heading, prefixes)
    return f"{_with_spares(text, prefixes)}\n{parts}"


def _with_spares(text: str, prefixes: dict[str, str]) -> str:
    """Declare the prefixes that the examples in the comments use."""
    spare = [p for p in ("i", "schema", "xsd") if f"@prefix {p}:" not in text]
    lines = "".join(f"@prefix {p}: <{(PREFIXES | prefixes)[p]}> .\n" for p in spare)
    first = text.index("@prefix")
    return text[:first] + lines + text[first:]


def _say(subject: str, *said: tuple[str, Term]) -> Iterator[Statement]:
    for predicate, value in said:
        prefix, _, local = predicate.partition(":")
        yield Statement(subject, TYPE if predicate == "a" else PREFIXES[prefix] + local, value)


def _cg(name: str) -> Iri:
    return Iri(PREFIXES["cg"] + name)


def _parties(name: str, own: str) -> Iterator[Statement]:
    yield from _say(f"{own}builder", ("a", _cg("Builder")), ("skos:prefLabel", Text(f"builder of {name}", "", "en")))
    label = Text(f"own records of {name}", "", "en")
    yield from _say(f"{own}own-records", ("a", _cg("Source")), ("skos:prefLabel", label))


def _assembly(name: str, pattern: Assembly, own: str) -> Iterator[Statement]:
    years = Amount(Text(f"{pattern.exposure}", PREFIXES["xsd"] + "decimal"), PREFIXES["unit"] + "YR")
    media = {port.medium for p in pattern.positions.values() for port in p.type.ports.values()}
    yield from _say(
        own + name, ("a", _cg("Assembly")), ("dcterms:identifier", Text(name)),
        ("skos:prefLabel", Text(f"unclamp unit {name}", "", "en")), ("cg:builder", Iri(f"{own}builder")),
        ("cg:taper", Text(pattern.taper)), ("cg:actuator", Text(pattern.actuator)), ("cg:drive", Text(pattern.drive)),
        *(("cg:medium", Iri(PREFIXES["md"] + m)) for m in sorted(media & {"compressed-air", "hydraulic-oil"})),
        ("cg:defaultExposure", years), ("prov:hadPrimarySource", Iri(f"{own}own-records")),
    )  # fmt: skip


def _generation(name: str, own: str) -> Iterator[Statement]:
    yield from _say(
        f"{own}gen-1", ("a", _cg("Generation")), ("cg:generationOf", Iri(own + name)),
        ("dcterms:identifier", Text("gen-1")), ("cg:order", Text("1", PREFIXES["xsd"] + "integer")),
        ("skos:prefLabel", Text("only generation", "", "en")), ("prov:hadPrimarySource", Iri(f"{own}own-records")),
    )  # fmt: skip


def _positions(name: str, pattern: Assembly, base: str) -> Iterator[Statement]:
    for position in pattern.positions.values():
        pieces = Text(str(position.number), PREFIXES["xsd"] + "integer")
        yield from _say(
            f"{base}{name}/{position.id}", ("a", _cg("Position")), ("cg:positionOf", Iri(f"{base}{name}/{name}")),
            ("dcterms:identifier", Text(position.id)), ("cg:designation", Text(position.designation)),
            ("cg:ofType", Iri(position.type.iri)),
            *((("cg:count", pieces),) if position.number > 1 else ()),
            *(("cg:actuatedIn", Iri(PREFIXES["ph"] + phase)) for phase in pattern.phases if phase in position.actuated),
        )  # fmt: skip


def _connections(name: str, pattern: Assembly, base: str) -> Iterator[Statement]:
    for c in pattern.connections:
        ends = {"from": c.from_position, "from port": c.from_port, "to": c.to_position, "to port": c.to_port}
        yield from _say(
            minted(TABLES["connections"], ends | {"assembly": name}, base), ("a", _cg("Connection")),
            ("cg:fromPosition", Iri(f"{base}{name}/{c.from_position}")), ("cg:fromPort", Text(c.from_port)),
            ("cg:toPosition", Iri(f"{base}{name}/{c.to_position}")), ("cg:toPort", Text(c.to_port)),
        )  # fmt: skip
