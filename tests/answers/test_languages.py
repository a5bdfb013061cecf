"""German, Spanish and Japanese: trade words, visible gaps, and the same figures in every language."""

import pytest

from clampgraph import paths
from clampgraph.answers.diagnosing.diagnose import diagnose
from clampgraph.answers.diagnosing.diagnosis import DiagnoseRequest
from clampgraph.answers.languages import label, languages, missing_translations, preferred_language
from clampgraph.answers.library import Library
from clampgraph.answers.symptoms import symptoms
from clampgraph.errors import UnknownNameError, WrongCallError
from clampgraph.graph.languages import MARK

K = "https://w3id.org/clampgraph/knowledge#"
SHIPPED = ["de", "es", "ja"]
GAP = """
@prefix cg: <https://w3id.org/clampgraph/ns#> . @prefix skos: <http://www.w3.org/2004/02/skos/core#> .
@prefix k: <https://w3id.org/clampgraph/knowledge#> . @prefix dcterms: <http://purl.org/dc/terms/> .
k:odd-part a cg:ComponentType ; dcterms:identifier "odd-part" ; skos:prefLabel "odd part"@en ; cg:kind "valve" ;
    cg:letterCode "QM" .
"""


@pytest.fixture
def gapped(tmp_path) -> Library:
    """Return the shipped packs and one component type that only English has a word for."""
    pack = tmp_path / "gap.ttl"
    pack.write_text(GAP, "utf-8")
    return Library.open([pack])


def test_the_shipped_languages(library):
    """English first, then what the label packs tell."""
    assert languages(library) == ("en", *SHIPPED)


@pytest.mark.parametrize("language", SHIPPED)
def test_labels_name_what_there_is(language, library):
    """Every symptom, check, caution and word of the shipped knowledge has its label."""
    told = {"Symptom": library.knowledge.symptoms, "Check": library.knowledge.checks}
    missing = [m.iri for m in missing_translations(library, language) if m.kind in told]
    assert missing == []


@pytest.mark.parametrize(
    ("name", "language", "text"),
    [
        ("disc-spring-stack", "de", "Tellerfederpaket"), ("pull-stud", "de", "Anzugsbolzen des Werkzeugs"),
        ("quick-exhaust-valve", "de", "Schnellentlüftungsventil"), ("drawbar", "de", "Zugstange"),
        ("quick-exhaust-valve", "es", "válvula de escape rápido"), ("return-spring", "es", "muelle de retorno"),
        ("disc-spring-stack", "es", "paquete de resortes de disco"), ("quick-exhaust-valve", "ja", "急速排気弁"),
        ("drawbar", "ja", "ドローバー"), ("pull-stud", "ja", "プルスタッド"),
        ("disc-spring-stack", "ja", "皿ばねスタック"),
    ],
)  # fmt: skip
def test_trade_words(name, language, text, library):
    """What the trade says (common practice)."""
    found = label(library, K + name, language)
    assert (found.text, found.language, found.fell_back) == (text, language, False)


def test_a_gap_falls_back_and_says_so(gapped):
    """A missing label is told in English, marked, and listed."""
    found = label(gapped, f"{K}odd-part", "de")
    assert (found.text, found.language, found.fell_back) == ("odd part", "en", True)
    assert gapped.in_language("de").knowledge.types["odd-part"].label == f"odd part{MARK}"
    assert [(m.kind, m.label) for m in missing_translations(gapped, "de") if m.iri == f"{K}odd-part"] == [
        ("ComponentType", "odd part")
    ]


def test_a_language_that_nobody_tells_is_refused(library):
    """The languages that there are stand in the sentence."""
    with pytest.raises(UnknownNameError, match="language 'fr'; nearest: en, de, es"):
        library.in_language("fr")


def test_a_thing_without_label_is_refused(library):
    """An IRI that names nothing has no label in any language."""
    with pytest.raises(UnknownNameError):
        label(library, f"{K}nothing", "de")


def without_texts(body):
    """Keep identifiers and figures of an answer, drop what people read."""
    if isinstance(body, dict):
        texts = {"label", "text", "advice", "how", "summary", "tools", "source", "target", "action", "mechanism"}
        return {k: without_texts(v) for k, v in body.items() if k not in texts}
    return [without_texts(v) for v in body] if isinstance(body, list) else body


@pytest.mark.parametrize("language", SHIPPED)
def test_figures_do_not_depend_on_the_language(language, library):
    """Causes, probabilities, checks and plan are the same; only the words differ."""
    request = DiagnoseRequest(assembly="brannoch-40t", seen=("slow-return",), unseen=("bang-at-release",))
    english, other = (diagnose(lib, request).body() for lib in (library, library.in_language(language)))
    assert without_texts(other) == without_texts(english)
    assert other["causes"][0]["label"] != english["causes"][0]["label"]
    assert other["cautions"][0]["text"] != english["cautions"][0]["text"]


def test_english_is_the_library_itself(library):
    """No copy is made for English, and one copy for each other language."""
    assert library.in_language("en") is library
    assert library.in_language("ja") is library.in_language("ja")


@pytest.mark.parametrize(
    ("text", "symptom"),
    [
        ("knallt beim Werkzeugwechsel", "bang-at-release"), ("lässt nicht los", "no-release"),
        ("pierde la herramienta", "tool-pull-out"), ("工具が抜ける", "tool-pull-out"), ("戻りが遅い", "slow-return"),
    ],
)  # fmt: skip
def test_words_of_every_language_find_the_symptom(text, symptom, library):
    """Whoever types German, Spanish or Japanese finds the symptom, whatever language the answer speaks."""
    for lib in (library, library.in_language("ja")):
        assert symptoms(lib, text).symptoms[0].id == symptom


def test_alternatives_speak_one_language(library):
    """An English answer lists English words, a German one German words; English words still find it."""
    words = {lib: symptoms(lib, "won't let go").symptoms[0] for lib in (library, library.in_language("de"))}
    english, german = words.values()
    assert english.id == german.id == "no-release"
    assert "lässt nicht los" in german.alternatives
    assert not set(english.alternatives) & set(german.alternatives)


@pytest.mark.parametrize(
    ("header", "language"),
    [
        ("de", "de"), ("de-CH", "de"), ("DE-ch, en;q=0.8", "de"), ("fr, ja;q=0.5, en;q=0.4", "ja"),
        ("en;q=0.8, es", "es"),
        ("*", "en"), ("fr", "en"), ("", "en"), ("de;q=0", "en"), ("ja;q=0.3 , de ; q=0.9", "de"),
    ],
)  # fmt: skip
def test_what_a_browser_asks_for(header, language, library):
    """Weights, regions and languages that nobody tells (RFC 9110, section 12.5.4)."""
    assert preferred_language(header, languages(library)) == language


@pytest.mark.parametrize("header", ["de;q=high", "d e", ";q=1", "de;q=2"])
def test_a_header_that_is_none_is_refused(header, library):
    """One sentence says how to write it."""
    with pytest.raises(WrongCallError, match="write for example"):
        preferred_language(header, languages(library))


@pytest.mark.parametrize("language", SHIPPED)
def test_label_packs_hold_labels_only(language):
    """A label pack adds words and nothing else, in its own language alone."""
    file = paths.data() / "knowledge" / f"labels-{language}.ttl"
    own = [line for line in file.read_text("utf-8").splitlines() if line and not line.startswith(("#", "@prefix"))]
    assert all("Label" in line and f'"@{language}' in line for line in own)
