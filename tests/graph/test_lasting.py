"""A graph outlasts its edition while everything that was read from it reads the same."""

import threading

import pytest
from pyoxigraph import Literal, NamedNode, Quad, RdfFormat, Store

from clampgraph.graph import GraphStore, lasting
from clampgraph.graph.languages import in_language
from clampgraph.graph.lasting import Lasting

PLACE = "https://example.org/pack/"
LABELS = "https://example.org/label"
PREFIXES = """
@prefix cg: <https://w3id.org/clampgraph/ns#> .
@prefix skos: <http://www.w3.org/2004/02/skos/core#> .
"""
UNIT = '<https://example.org/x> a cg:Assembly ; skos:prefLabel "{}"@en , "{}"@de .'


def graph(*lines):
    store = Store()
    store.load(("".join((PREFIXES, *lines))).encode(), format=RdfFormat.TURTLE)
    return GraphStore(store)


def symptom(name, english, german=None):
    told = f' , "{german}"@de' if german else ""
    return f'<{PLACE}{name}> a cg:Symptom ; <http://purl.org/dc/terms/identifier> "{name}" ; skos:prefLabel "{english}"@en{told} .'  # noqa: E501


ONE = graph(symptom("one", "a hiss", "ein Zischen"))


def read(of):
    return of.ask("knowledge/list-symptom-labels")


def test_it_goes_over_where_nothing_that_was_read_is_another():
    """What was not asked for may differ, and is read from the new graph from then on."""
    kept, other = Lasting(ONE), graph(symptom("one", "a hiss", "ein Zischen"), symptom("two", "a bang"))
    assert kept.ask("knowledge/list-sources") == []
    assert kept.goes_over(other)
    assert kept.graph is other
    assert read(kept) == read(other) != read(ONE)
    assert len(kept) == len(other)


def test_it_stays_where_something_was_read_that_is_another():
    """One row more is enough, and so is another text; the old graph goes on answering."""
    for other in (graph(symptom("one", "a hiss"), symptom("two", "a bang")), graph(symptom("one", "a bang")), graph()):
        kept = Lasting(ONE)
        before = read(kept)
        assert not kept.goes_over(other)
        assert kept.graph is ONE
        assert read(kept) == before


def test_bindings_are_part_of_a_question():
    """The same query about something else is another question."""
    kept = Lasting(ONE)
    kept.ask("languages/list-labels", iri=f"{PLACE}one")
    assert kept.goes_over(graph(symptom("one", "a hiss", "ein Zischen"), symptom("two", "a bang")))
    assert not kept.goes_over(graph(symptom("one", "a hiss", "Zischen"), symptom("two", "a bang")))


def test_it_goes_over_together_with_its_twins():
    """A German word that changed holds back the English graph too, for what is derived is shared."""
    kept = Lasting(ONE)
    german = in_language(kept, "de")
    assert in_language(kept, "de") is german
    assert "ein Zischen" in str(read(german))
    assert not kept.goes_over(graph(symptom("one", "a hiss", "Zischen")))
    assert (kept.graph, "ein Zischen" in str(read(german))) == (ONE, True)
    other = graph(symptom("one", "a hiss", "ein Zischen"), '<https://example.org/x> skos:note "new" .')
    assert kept.goes_over(other)
    assert kept.graph is other
    assert "ein Zischen" in str(read(german))
    assert len(german) == len(other)


def test_too_much_that_was_read_is_not_read_again(monkeypatch):
    """Loading must not take for ever because a fleet was asked about in all its parts."""
    monkeypatch.setattr(lasting, "MOST_READ", 2)
    kept = Lasting(ONE)
    for number in range(3):
        kept.ask("languages/list-labels", iri=f"{PLACE}{number}")
    assert not kept.goes_over(ONE)


class Slow(GraphStore):
    """A graph whose first answer takes as long as it is told to."""

    def __init__(self, beneath):
        self.beneath, self.asked, self.open = beneath, threading.Event(), threading.Event()

    def ask(self, name, **bindings):
        """Answer once the door is open."""
        rows = self.beneath.ask(name, **bindings)
        self.asked.set()
        assert self.open.wait(20)
        return rows


def test_an_answer_under_way_is_read_again():
    """Nobody checked what it read, so after the change it is read from the new graph."""
    slow, other = Slow(ONE), graph(symptom("two", "a bang"))
    kept, found = Lasting(slow), []
    asking = threading.Thread(target=lambda: found.append(read(kept)))
    asking.start()
    assert slow.asked.wait(20)
    assert kept.goes_over(other)
    slow.open.set()
    asking.join(20)
    assert found == [read(other)]
    assert not kept.goes_over(ONE)


@pytest.mark.parametrize("text", ["a", "\ud7ff\U0001f600"])
def test_any_text_can_be_remembered(text):
    """Also what lies beyond the usual alphabets."""
    store = Store()
    store.add(Quad(NamedNode(f"{PLACE}x"), NamedNode("http://www.w3.org/2004/02/skos/core#prefLabel"), Literal(text)))
    kept = Lasting(GraphStore(store))
    kept.ask("languages/list-labels", iri=f"{PLACE}x")
    assert kept.goes_over(GraphStore(store))


def test_what_a_graph_offers_is_offered_through_it(library):
    """Raw queries, named queries with a form, the triples and their edition."""
    kept = Lasting(library.graph)
    assert kept.edition == library.graph.edition
    assert kept.reply("knowledge/list-sources", {}).body == library.graph.reply("knowledge/list-sources", {}).body
