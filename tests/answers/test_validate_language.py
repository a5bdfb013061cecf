"""Labels that a language lacks are warnings, for whoever asks."""

from pathlib import Path

from clampgraph import paths
from clampgraph.answers.validate import validate

SMALL = Path(__file__).resolve().parents[1] / "graph_data" / "good" / "small-unit.ttl"


def test_the_shipped_knowledge_speaks_its_languages() -> None:
    """Every symptom, failure mode, component type, check and caution is told in German, Spanish and Japanese."""
    for language in ("de", "es", "ja"):
        assert [f.message for f in validate([paths.data() / "knowledge"], language).findings] == []


def test_an_untold_language_is_listed_as_warnings() -> None:
    """Nobody tells Finnish: each label is named, and the pack stays valid."""
    answer = validate([paths.data() / "knowledge" / "symptoms.ttl"], "fi")
    assert answer.valid
    assert any("bang at release" in f.message and f.severity == "warning" for f in answer.findings)


def test_nobody_is_bothered_who_does_not_ask() -> None:
    """Without a language there is no warning about labels."""
    assert validate([SMALL]).findings == ()
