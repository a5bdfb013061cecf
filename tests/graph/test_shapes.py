"""Sound packs pass; each unsound one is told what to write; nothing that can be fed in breaks the check."""

import contextlib
import re
import tempfile
from functools import cache
from pathlib import Path

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from clampgraph import paths
from clampgraph.answers.validate import validate
from clampgraph.errors import ClampgraphError, DataError, UnknownNameError, WrongCallError
from clampgraph.graph import load
from clampgraph.graph.named_queries import catalogue

PACKS = Path(__file__).parent.parent / "graph_data"
BAD = sorted((PACKS / "bad").glob("*.ttl"))
GOOD = PACKS / "good" / "small-unit.ttl"


@cache
def findings_of(pack):
    return validate([pack]).findings


def expected_of(pack):
    return pack.read_text("utf-8").splitlines()[0].removeprefix("# expect: ")


def test_the_shipped_packs_are_sound():
    """The knowledge and the demo that everyone starts from have nothing to correct."""
    assert [(f.pack, f.line, f.message) for f in validate([paths.data()]).findings] == []


def test_a_small_complete_unit_is_sound():
    """The pack that the bad ones differ from by one fault each has none itself."""
    assert findings_of(GOOD) == ()


@pytest.mark.parametrize("pack", BAD, ids=lambda p: p.stem)
def test_each_bad_pack_fails_with_its_own_message(pack):
    """An author reads what is wrong with this pack, not that something is."""
    answer = validate([pack])
    assert not answer.valid
    assert any(expected_of(pack) in f.message for f in answer.findings), [f.message for f in answer.findings]
    assert len(answer.findings) <= 2
    assert {f.pack for f in answer.findings} == {pack.name}


def test_bad_packs_tell_different_things():
    """Messages are told apart by what they ask for: no rule is tested by many packs and others by none."""
    assert len({expected_of(pack) for pack in BAD}) >= len(BAD) - 3
    assert len(BAD) >= 20


def test_every_rule_finds_something_in_the_bad_packs():
    """No hygiene query is there that never strikes."""
    readable = [pack for pack in BAD if pack.stem not in ("syntax", "literal-unreadable", "quoted-triple")]
    idle = {name for name in catalogue() if name.startswith("hygiene/find-")}
    for pack in readable:
        graph = load([paths.ontology() / "terms.ttl", pack])
        idle -= {name for name in idle if graph.ask(name)}
    assert idle == set()


def test_a_finding_names_line_subject_and_example():
    """The author is led to the line and shown what to write."""
    (found,) = findings_of(PACKS / "bad" / "strength-above-one.ttl")
    text = (PACKS / "bad" / "strength-above-one.ttl").read_text("utf-8").splitlines()
    assert found.line is not None
    assert text[found.line - 1].startswith("x:plug-vent ")
    assert found.focus == "https://example.org/pack#plug-vent"
    assert found.hint == "It says 1.4. Write for example: cg:strength 0.8 ."


def test_an_unknown_word_is_told_the_nearest_ones():
    """A typing error is answered with the word that was meant."""
    (found,) = findings_of(PACKS / "bad" / "word-unknown.ttl")
    assert "severity" in (found.hint or "")


def test_a_cycle_is_named_member_by_member():
    """All links of the circle are told, in order, back to the first."""
    (found,) = findings_of(PACKS / "bad" / "influence-in-a-circle.ttl")
    ring = found.message.partition(": ")[2].partition(";")[0].split(" → ")
    assert ring[0] == ring[-1]
    ports = {m.split("/")[1] for m in ring}
    assert len(ports) == len(ring) - 1 > 1
    assert ports <= {"hose-a.1", "hose-a.2", "hose-b.1", "hose-b.2"}


def test_one_bad_file_hides_nothing_of_the_others(tmp_path):
    """A syntax error is told with line and column, and the next file is checked all the same."""
    (tmp_path / "a.ttl").write_text("<urn:a> <urn:b> .\n", "utf-8")
    (tmp_path / "b.ttl").write_text((PACKS / "bad" / "price-negative.ttl").read_text("utf-8"), "utf-8")
    found = validate([tmp_path]).findings
    assert [f.pack for f in found] == ["a.ttl", "b.ttl"]
    assert re.match(r"Syntax error at line 1, column \d+: ", found[0].message)


def test_what_a_broken_file_describes_does_not_dangle(tmp_path):
    """A reference into a file that could not be read is not told as a second fault."""
    text = GOOD.read_text("utf-8")
    cut = text.index("x:joined-1")
    head = text[: text.index("x:unit a")]
    (tmp_path / "a.ttl").write_text(text[:cut] + "oops\n", "utf-8")
    (tmp_path / "b.ttl").write_text(head + text[cut:], "utf-8")
    assert [f.pack for f in validate([tmp_path]).findings] == ["a.ttl"]


def test_names_of_blank_nodes_change_nothing(tmp_path):
    """Two writings of one pack that differ only in blank-node labels get the same answer."""
    source = PACKS / "bad" / "rate-of-wrong-dimension.ttl"
    answers = []
    for label in ("b1", "zz"):
        pack = tmp_path / source.name
        text = re.sub(r"\[ (qudt:[^]]*) \]", f"_:{label}", source.read_text("utf-8"))
        pack.write_text(f"{text}\n_:{label} qudt:numericValue 0.01 ; qudt:hasUnit unit:BAR .\n", "utf-8")
        answers.append(validate([pack]))
    assert answers[0] == answers[1]
    assert not answers[0].valid


def test_findings_come_in_order():
    """Errors before warnings, then by file, line and subject."""
    found = validate([PACKS / "bad"]).findings
    keys = [(f.severity, f.pack, f.line or 0, f.focus or "", f.message) for f in found]
    assert keys == sorted(keys)


def test_text_that_is_not_utf_8_is_told_with_its_line(tmp_path):
    """The author learns which byte on which line to save anew."""
    (tmp_path / "a.ttl").write_bytes("# fine\n# K\xe4fig\n".encode("latin-1"))
    (found,) = validate([tmp_path]).findings
    assert (found.line, found.message) == (2, "Byte 0xe4 at line 2 is not UTF-8.")


@pytest.mark.parametrize(
    ("make", "error"),
    [
        (lambda folder: folder / "missing.ttl", UnknownNameError),
        (lambda folder: folder, WrongCallError),
        (lambda folder: Path((folder / "pack.rdf").write_text("<a/>") and str(folder / "pack.rdf")), DataError),
    ],
    ids=["missing", "empty folder", "other suffix"],
)
def test_what_is_no_pack_is_refused_in_a_sentence(tmp_path, make, error):
    """Missing files, empty folders and other formats are refused before anything is checked."""
    with pytest.raises(error, match=r"^[^\n]+\.$"):
        validate([make(tmp_path)])


def test_nothing_is_fetched(tmp_path, monkeypatch):
    """Imports in a pack stay words: the check opens no connection."""

    def refuse(*_args, **_kwargs):
        pytest.fail("a connection was opened")

    monkeypatch.setattr("socket.socket.connect", refuse)
    monkeypatch.setattr("urllib.request.urlopen", refuse)
    pack = tmp_path / "a.ttl"
    pack.write_text(
        GOOD.read_text("utf-8") + "<urn:x> <http://www.w3.org/2002/07/owl#imports> <http://127.0.0.1:9/y> .\n"
    )
    assert validate([pack]).valid


SHIPPED = (paths.data() / "demo" / "brannoch-30s.ttl").read_bytes()
EDITS = st.lists(st.tuples(st.integers(0, len(SHIPPED) - 1), st.integers(0, 255)), max_size=3)


@settings(max_examples=40)
@given(end=st.integers(0, len(SHIPPED)), edits=EDITS)
@example(end=0, edits=[])
def test_damaged_packs_never_break_the_check(end, edits):
    """Whatever is cut off or flipped, the answer is findings or one sentence."""
    data = bytearray(SHIPPED)
    for place, byte in edits:
        data[place] = byte
    with tempfile.TemporaryDirectory() as folder:
        pack = Path(folder) / "pack.ttl"
        pack.write_bytes(bytes(data[:end]) if len(edits) < 2 else bytes(data))
        with contextlib.suppress(ClampgraphError):
            answer = validate([pack])
            assert answer.valid == all(f.severity != "error" for f in answer.findings)
