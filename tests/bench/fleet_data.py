"""A fleet to measure on: variants of the demo units as a stream of N-Triples, and work orders for them.

Everything follows from a seed, and nothing is held but the demo units: ten million triples take no more memory than
ten thousand. A variant has the topology of its demo unit and a name of its own; variants of one series share items,
and each series has items of its own with the same interfaces, so that items of one series fit the units of another.
"""

import random
import re
from collections import Counter, defaultdict
from itertools import count

from pyoxigraph import BlankNode, Literal, NamedNode, RdfFormat, Triple, parse, serialize
from tests.diagnosis.inference.worlds import gate_chances

from clampgraph import paths

__all__ = ["Fleet", "tickets"]

DEMO = "https://w3id.org/clampgraph/demo/"
MADE = "https://w3id.org/clampgraph/generated/"
SERIES, MAKES = 25, 20
"""Neighbouring variants that share items, and after how many series the items come round again."""
UNIT, SERIES_MARK = "unit-mark", "series-mark"
IDENTIFIER, MPN = "http://purl.org/dc/terms/identifier", "https://schema.org/mpn"


class Fleet:
    """So many variants, or as many as make so many triples."""

    def __init__(self, seed=1, units=None, triples=None):
        self.seed, self.units, self.triples = seed, units, triples
        self._own, self._shared = _templates()

    def names(self):
        """Yield the names of the variants, without end."""
        draw = random.Random(self.seed)  # noqa: S311 - reproducible, not secret
        kinds = sorted(self._own)
        for number in count():
            yield f"{draw.choice(kinds)}-v{number:06}"

    def parts(self):
        """Yield N-Triples, a unit or the items of a series at a time."""
        made = 0
        for number, name in enumerate(self.names()):
            if number == self.units or (self.triples is not None and made >= self.triples):
                return
            make = number // SERIES
            series = f"s{make % MAKES:02}"
            if number % SERIES == 0 and make < MAKES:
                yield _filled(self._shared, "", series)
                made += self._shared.count("\n")
            text = self._own[name.rpartition("-v")[0]]
            yield _filled(text, name, series)
            made += text.count("\n")

    def write(self, file):
        """Write the stream to a file; return how many variants and triples it holds."""
        units = triples = 0
        with file.open("w", encoding="utf-8") as out:
            for part in self.parts():
                out.write(part)
                triples += part.count("\n")
                units += f'<{IDENTIFIER}> "{part[part.find(MADE) + len(MADE) :].partition("/")[0]}"' in part
        return units, triples


def _filled(text, name, series):
    return text.replace(UNIT, name).replace(SERIES_MARK, series)


def _templates():
    """Return the statements of each demo unit, and those of all items, with marks where names go."""
    quads = [
        quad
        for file in sorted((paths.data() / "demo").glob("*.ttl"))
        for quad in parse(path=str(file), format=RdfFormat.TURTLE, rename_blank_nodes=True)
    ]
    names = sorted({q.subject.value.rpartition("/")[2] for q in quads if q.object.value.endswith("ns#Assembly")})
    of = defaultdict(list)
    for quad in quads:
        of[quad.subject].append(quad)
    return {name: _text(of, f"{DEMO}{name}/", name) for name in names}, _text(of, f"{DEMO}item/", None)


def _text(of, prefix, name):
    """Write all statements of the subjects that begin so, and of the blank nodes that hang on them."""
    numbers, queue = {}, [s for s in of if isinstance(s, NamedNode) and s.value.startswith(prefix)]
    found = []
    while queue:
        for quad in of[queue.pop(0)]:
            if isinstance(quad.object, BlankNode) and quad.object not in numbers:
                numbers[quad.object] = len(numbers)
                queue.append(quad.object)
            subject, value = _marked(quad.subject, name, numbers), _marked(quad.object, name, numbers)
            if quad.predicate.value == MPN:
                value = Literal(f"{value.value}-{SERIES_MARK}")
            found.append(Triple(subject, quad.predicate, value))
    return serialize(found, format=RdfFormat.N_TRIPLES).decode()


def _marked(term, name, numbers):
    if isinstance(term, BlankNode):
        # Blank nodes get names of their own: their labels would have to be unique over the whole stream.
        owner = SERIES_MARK if name is None else UNIT
        return NamedNode(f"{MADE}{owner}/node-{numbers[term]}")
    if isinstance(term, NamedNode):
        iri = term.value
        if name is not None and iri.startswith(f"{DEMO}{name}/"):
            return NamedNode(re.sub(rf"^{DEMO}{name}/(?:{name}$)?", f"{MADE}{UNIT}/", iri))
        if iri.startswith(f"{DEMO}item/"):
            return NamedNode(f"{MADE}item/{SERIES_MARK}/{iri.removeprefix(f'{DEMO}item/')}")
    if isinstance(term, Literal) and name is not None and term.value == name:
        return Literal(UNIT)
    return term


def tickets(library, assemblies, number, seed=1, *, distinct=False):
    """Return columns of work orders, as technicians write them.

    A fault is drawn by its prior, the symptoms that it shows by the network; one to three of them are told, now and
    then one that was looked for in vain, or a check that was made. With `distinct`, findings are drawn evenly.
    """
    draw = random.Random(seed)  # noqa: S311 - reproducible, not secret
    worlds = {name: _Symptoms(library.network(library.assembly(name)), draw, distinct) for name in assemblies}
    columns = {"ticket": [], "assembly": [], "seen": [], "unseen": [], "readings": []}
    for ticket in range(number):
        name = draw.choice(assemblies)
        for column, value in zip(columns.values(), (f"T{ticket:07}", name, *worlds[name].report()), strict=True):
            column.append(value)
    return columns


class _Symptoms:
    def __init__(self, network, draw, distinct):
        self.draw, self.distinct = draw, distinct
        self.symptoms = [node.symptom for node in network.of_kind("symptom")]
        self.checks = [(node.check, node.outcome) for node in network.of_kind("check")]
        self.shown = None if distinct else self._sampled(network)

    def _sampled(self, network, worlds=400):
        """Draw what faults show; each is drawn as often as its prior says."""
        modes = network.of_kind("failure-mode")
        weights, found = [node.leak for node in modes], Counter()
        while found.total() < worlds:
            fault, world = self.draw.choices(modes, weights)[0], {}
            for node in network:
                on = node.id == fault.id or (bool(node.links) and self.draw.random() < gate_chances(node, world)[1])
                world[node.id] = on
            seen = tuple(n.symptom for n in network.of_kind("symptom") if world[n.id])
            checks = tuple((n.check, n.outcome) for n in network.of_kind("check") if world[n.id])
            if seen:
                found[seen, checks] += 1
        return list(found), list(found.values())

    def report(self):
        draw = self.draw
        if self.distinct:
            picked = draw.sample(self.symptoms, draw.randint(1, 3))
            reading = "=".join(draw.choice(self.checks)) if draw.random() < 0.5 else ""
            return ";".join(picked[:1]), ";".join(picked[1:]), reading
        seen, checks = draw.choices(*self.shown)[0]
        told = draw.sample(seen, min(len(seen), draw.choices((1, 2, 3), (0.6, 0.3, 0.1))[0]))
        absent = [s for s in self.symptoms if s not in seen]
        unseen = draw.choice(absent) if absent and draw.random() < 0.15 else ""
        reading = "=".join(draw.choice(checks)) if checks and draw.random() < 0.15 else ""
        return ";".join(told), unseen, reading
