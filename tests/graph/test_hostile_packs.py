"""Whatever a pack holds, the loader ends: with a graph, or with one sentence."""

import contextlib

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pyoxigraph import Store

from clampgraph import paths
from clampgraph.answers.library import Library
from clampgraph.errors import ClampgraphError, DataError
from clampgraph.graph.loading import filled

SOUND = (paths.data() / "demo" / "parties.ttl").read_bytes()
WORDS = [
    b"<", b">", b'"', b'"""', b"@prefix", b"@base", b"[", b"]", b"(", b")", b"{", b"}", b"_:", b";", b".", b"a",
    b"\\u0000", b"\\", b"^^", b"@en", b"#", b"\xff", b"\x00", b"<http://127.0.0.1:1/x>", b"<file:///etc/hostname>",
    b"1e999", b"\n", b":",
]  # fmt: skip
SUFFIXES = ["ttl", "nt", "nq", "trig"]


def tried(folder, suffix, content):
    """Load content as a pack; a refusal must be one sentence that names the file."""
    pack = folder / f"pack.{suffix}"
    pack.write_bytes(content)
    with contextlib.suppress(DataError), said():
        filled(Store(), [pack])


@contextlib.contextmanager
def said():
    """Hold an error to its form."""
    try:
        yield
    except ClampgraphError as error:
        told = str(error)
        if not told.endswith(".") or "\n" in told:
            pytest.fail(told)
        raise


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return tmp_path_factory.mktemp("hostile")


@given(content=st.binary(max_size=300), suffix=st.sampled_from(SUFFIXES))
@settings(max_examples=250)
def test_any_bytes(folder, content, suffix):
    """Noise in each of the four forms."""
    tried(folder, suffix, content)


@given(
    cuts=st.lists(
        st.tuples(st.integers(0, len(SOUND)), st.integers(0, 40), st.sampled_from(WORDS)), min_size=1, max_size=4
    )
)
@settings(max_examples=400)
def test_a_sound_pack_with_pieces_torn_out_and_put_in(folder, cuts):
    """Near misses are harder than noise."""
    content = SOUND
    for at, length, word in cuts:
        content = content[:at] + word + content[at + length :]
    tried(folder, "ttl", content)


@given(words=st.lists(st.sampled_from(WORDS), max_size=60), suffix=st.sampled_from(SUFFIXES))
@settings(max_examples=250)
def test_any_words_of_the_language(folder, words, suffix):
    """Tokens in every order."""
    tried(folder, suffix, b" ".join(words))


@pytest.mark.parametrize(
    "content",
    [
        b"<urn:a> <urn:b> " + b"[ <urn:b> " * 20_000,
        b"<urn:a> <urn:b> " + b"( " * 20_000,
        b"<urn:a> <urn:b> " + b"(" * 500 + b")" * 500 + b" .",
        b'<urn:a> <urn:b> "' + b"x" * 5_000_000 + b'" .',
        b"_:a <urn:b> _:b . _:b <urn:b> _:a . _:c <urn:b> _:c .",
        b"<urn:a\x00> <urn:b> <urn:c> .",
        b"<not an iri> <urn:b> <urn:c> .",
        b"<relative> <urn:b> <urn:c> .",
        b"\xef\xbb\xbf<urn:a> <urn:b> <urn:c> .",
        b'<urn:a> <urn:b> "\xff\xfe" .',
        b"@prefix p: <urn:p:> . " + b"p:a p:b p:c . " * 20_000,
        b"",
    ],
    ids=["nested-nodes", "nested-lists", "closed-lists", "huge-literal", "circles", "nul", "spaces", "relative", "mark",
         "no-utf8", "long", "empty"],
)  # fmt: skip
def test_extremes(folder, content):
    """Depth, length, circles, and characters that no IRI holds."""
    tried(folder, "ttl", content)


@pytest.mark.parametrize(
    "triples",
    [
        "d:unit a cg:Assembly .",
        'd:unit a cg:Assembly ; dcterms:identifier "unit" , "unit-too" .',
        "d:unit a cg:Assembly ; dcterms:identifier 12 .",
        'd:p a cg:Position ; cg:positionOf d:p ; dcterms:identifier "p" ; cg:ofType d:p .',
        "d:t a cg:ComponentType ; rdfs:subClassOf d:t .",
        'd:i a cg:Item ; <https://schema.org/mpn> "X" ; cg:contains d:i .',
    ],
)  # fmt: skip
def test_a_graph_that_makes_no_sense_is_told_when_it_is_asked(folder, triples):
    """Half-described things neither crash nor hang the answers about sound ones."""
    head = (
        "@prefix cg: <https://w3id.org/clampgraph/ns#> . @prefix d: <urn:d:> . "
        "@prefix dcterms: <http://purl.org/dc/terms/> . @prefix rdfs: <http://www.w3.org/2000/01/rdf-schema#> . "
    )
    pack = folder / "odd.ttl"
    pack.write_text(head + triples, "utf-8")
    library = Library.open([pack])
    for name in ("brannoch-40t", "unit"):
        with contextlib.suppress(ClampgraphError), said():
            assert list(library.network(library.assembly(name)).of_kind("symptom"))
