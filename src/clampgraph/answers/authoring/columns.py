"""The tables of a description: what their columns are called, what a cell may hold, and which term it becomes.

Column names are words of the trade, with the unit in the header where a number needs one.
A cell may name another thing (a position, a part, a component type); `kind` says what.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

__all__ = ["IRI_COLUMN", "SEPARATOR", "TABLES", "Column", "Table"]

SEPARATOR = "|"
"""Between several entries of one cell."""

IRI_COLUMN = "iri"
"""The optional column with the full IRI of a row, where it is not the one that would be made from its key."""


@dataclass(frozen=True, slots=True)
class Column:
    """One column.

    `kind` is label, word, text, whole, number, date, value, term, amount (with `unit`), choice (with `choices`)
    or the kind of thing that the cell names; an empty `predicate` means that only the importer itself uses it.
    """

    name: str
    kind: str
    predicate: str
    hint: str
    required: bool = False
    many: bool = False
    unit: str = ""
    choices: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Table:
    """One table: the class of its rows, what makes a row unique, and the pattern of its IRIs below the base."""

    name: str
    about: str
    rdf_class: str
    key: tuple[str, ...]
    iri: str
    columns: tuple[Column, ...]

    @property
    def by_name(self) -> Mapping[str, Column]:
        """The columns by name."""
        return {column.name: column for column in self.columns}


_ASSEMBLY = Column("assembly", "assembly", "", "identifier of the assembly", required=True)
_SOURCE = Column("source", "source", "prov:hadPrimarySource", "where the row comes from; 'own records' if left empty")
_GENERATIONS = Column("only in generation", "generation", "cg:inGeneration", "empty: all generations", many=True)
_JOINTS = (
    "thread", "screws", "retaining-ring", "seal-gland", "sliding-fit", "pipe-thread", "push-in-tube", "press-fit",
    "plug", "cover",
)  # fmt: skip
_RULES = ("equal", "at-least", "at-most", "within-tolerance", "complementary")

_TABLES = (
    Table(
        "assemblies", "One row for each design of a tool-clamp unit.", "cg:Assembly", ("assembly",), "{0}/{0}",
        (
            Column("assembly", "word", "dcterms:identifier", "short name, lower case with hyphens", required=True),
            Column("name", "label", "skos:prefLabel", "what people call it", required=True),
            Column("builder", "builder", "cg:builder", "who built it", required=True),
            Column("taper", "text", "cg:taper", "for example ISO 7388-1 size 40", required=True),
            Column("actuator", "text", "cg:actuator", "such as single-piston or tandem", required=True),
            Column("drive", "text", "cg:drive", "how the spindle is driven"),
            Column("medium", "medium", "cg:medium", "compressed-air, hydraulic-oil", many=True),
            Column("default age [yr]", "amount", "cg:defaultExposure", "where nobody knows", unit="unit:YR"),
            _SOURCE,
        ),
    ),
    Table(
        "generations", "One row for each state of a design; a design has at least one.", "cg:Generation",
        ("assembly", "generation"), "{0}/{1}",
        (
            Column("assembly", "assembly", "cg:generationOf", "identifier of the assembly", required=True),
            Column("generation", "word", "dcterms:identifier", "short name such as gen-1", required=True),
            Column("order", "whole", "cg:order", "1 for the oldest", required=True),
            Column("name", "label", "skos:prefLabel", "what tells it from the others", required=True),
            Column("built from", "date", "cg:builtFrom", "2014-07-01"),
            Column("built until", "date", "cg:builtUntil", "empty while still built"),
            Column("first serial", "whole", "cg:serialFrom", "number without letters"),
            Column("last serial", "whole", "cg:serialUntil", "empty while still built"),
            _SOURCE,
        ),
    ),
    Table(
        "positions", "One row for each place that a part fills.", "cg:Position", ("assembly", "position"), "{0}/{1}",
        (
            Column("assembly", "assembly", "cg:positionOf", "identifier of the assembly", required=True),
            Column("position", "word", "dcterms:identifier", "short name such as main-valve", required=True),
            Column("designation", "text", "cg:designation", "as on the circuit diagram: =P1-QM2", required=True),
            Column("type", "type", "cg:ofType", "a component type that is described", required=True),
            Column("pieces", "whole", "cg:count", "empty: 1"),
            Column("driven in", "phase", "cg:actuatedIn", "phases in which a valve is switched on", many=True),
            _GENERATIONS,
        ),
    ),
    Table(
        "connections", "One row for each pair of joined ports, in the direction of flow or force.", "cg:Connection",
        ("assembly", "from", "from port", "to", "to port"), "{0}/{1}.{2}-{3}.{4}",
        (
            _ASSEMBLY,
            Column("from", "position", "cg:fromPosition", "position upstream", required=True),
            Column("from port", "text", "cg:fromPort", "name of its port", required=True),
            Column("to", "position", "cg:toPosition", "position downstream", required=True),
            Column("to port", "text", "cg:toPort", "name of its port", required=True),
        ),
    ),
    Table(
        "parts", "One row for each part number; with positions, also where it is fitted.", "cg:Item",
        ("part number",), "item/{0}",
        (
            Column("part number", "text", "schema:mpn", "the number to order it by", required=True),
            Column("name", "label", "skos:prefLabel", "what it is", required=True),
            Column("sold as", "choice", "rdf:type", "empty: item", choices=("item", "kit", "group", "exchange-unit")),
            Column("type", "type", "cg:itemType", "a component type that is described"),
            Column("maker", "maker", "cg:maker", "who makes it", required=True),
            Column("price", "number", "cg:price", "of one piece, without tax"),
            Column("currency", "text", "cg:currency", "three letters such as EUR"),
            Column("mass [kg]", "amount", "cg:mass", "of one piece", unit="unit:KiloGM"),
            Column("lead time [d]", "amount", "cg:leadTime", "from order to delivery", unit="unit:DAY"),
            Column("assembly", "assembly", "", "where it is fitted: the assembly"),
            Column("positions", "position", "", "where it is fitted: the positions", many=True),
            Column("only in generation", "generation", "", "empty: all generations", many=True),
            _SOURCE,
        ),
    ),
    Table(
        "fitted", "One row for each part that fills a position as built.", "cg:Fitment",
        ("assembly", "position", "part number"), "{0}/{1}.fitted-{2}",
        (
            _ASSEMBLY,
            Column("position", "position", "cg:fitmentAt", "where it sits", required=True),
            Column("part number", "part", "cg:item", "what sits there", required=True),
            _GENERATIONS,
        ),
    ),
    Table(
        "features", "One row for each property of a part that decides where it fits.", "cg:Feature",
        ("part number", "feature"), "item/{0}.{1}",
        (
            Column("part number", "part", "cg:featureOf", "the part", required=True),
            Column("feature", "word", "cg:featureName", "such as thread-hand", required=True),
            Column("value", "value", "cg:value", "a word, or a number such as 63 mm", required=True),
        ),
    ),
    Table(
        "contents", "One row for each part that a kit or group holds.", "cg:Content", ("kit", "part number"),
        "item/{0}.holds-{1}",
        (
            Column("kit", "part", "cg:contentOf", "number of the kit or group", required=True),
            Column("part number", "part", "cg:item", "what it holds", required=True),
            Column("pieces", "whole", "cg:count", "empty: 1"),
        ),
    ),
    Table(
        "requirements", "One row for each feature that a position asks for.", "cg:Requirement",
        ("assembly", "position", "feature"), "{0}/{1}.asks-{2}",
        (
            _ASSEMBLY,
            Column("position", "position", "cg:requirementAt", "who asks", required=True),
            Column("feature", "word", "cg:featureName", "what is asked for", required=True),
            Column("rule", "choice", "cg:rule", "how it is compared", required=True, choices=_RULES),
            Column("value", "value", "cg:value", "what must be offered, or leave it and name the neighbour"),
            Column("like", "position", "cg:relativeTo", "the neighbour that sets the value"),
            _GENERATIONS,
            _SOURCE,
        ),
    ),
    Table(
        "joints", "One row for each fastening that has to be opened.", "cg:Joint", ("assembly", "joint"), "{0}/{1}",
        (
            Column("assembly", "assembly", "cg:jointOf", "identifier of the assembly", required=True),
            Column("joint", "word", "", "short name such as joint-belt-guard", required=True),
            Column("name", "label", "skos:prefLabel", "what people call it"),
            Column("kind", "choice", "cg:jointKind", "how it is fastened", required=True, choices=_JOINTS),
            Column("joins", "position", "cg:joins", "the positions it holds together", many=True),
            Column("open [min]", "number", "cg:minutes", "working time to open it", required=True),
            Column("close [min]", "number", "cg:closeMinutes", "working time to make it again"),
            Column("tools", "label", "cg:tool", "what has to be at hand", many=True),
            Column("spoils", "position", "cg:disturbs", "positions whose part must be renewed afterwards", many=True),
            Column("opens after", "joint", "cg:opensAfter", "joints that must be open first", many=True),
            _SOURCE,
        ),
    ),
    Table(
        "marks", "One row for each thing by which the unit is recognised.", "cg:Mark",
        ("assembly", "generation", "feature"), "{0}/{1}.mark-{2}",
        (
            _ASSEMBLY,
            Column("generation", "generation", "cg:markOf", "empty: the whole assembly"),
            Column("feature", "feature", "cg:shows", "such as drive-layout", required=True),
            Column("value", "value", "cg:value", "a word, or a number such as 63 mm", required=True, many=True),
            _SOURCE,
        ),
    ),
    Table(
        "facts", "Everything that no other table holds: one statement a row, written as in Turtle.", "", (), "",
        (
            Column("subject", "node", "", "what is spoken of", required=True),
            Column("property", "node", "", "what is said", required=True),
            Column("value", "term", "", "a node, a quoted text, a number, or a number and its unit", required=True),
        ),
    ),
)  # fmt: skip

TABLES: Final = MappingProxyType({table.name: table for table in _TABLES})
"""Every table by name, in the order in which a description grows."""
