"""What users found becomes evidence, or one clear sentence."""

import pytest

from clampgraph.answers.diagnosing.diagnose import diagnose
from clampgraph.answers.diagnosing.diagnosis import DiagnoseRequest
from clampgraph.answers.models import parse
from clampgraph.errors import QuantityError, UnknownNameError, WrongCallError


def ask(library, **found):
    return diagnose(library, parse(DiagnoseRequest, {"assembly": "brannoch-40t", **found}))


@pytest.mark.parametrize(
    ("found", "kind", "best"),
    [
        ({"assembly": "branoch-40t"}, "assembly", "brannoch-40t"),
        ({"generation": "gen2"}, "generation", "gen-1"),
        ({"seen": ["bang-at-relaese"]}, "symptom", "bang-at-release"),
        ({"unseen": ["hiss-at-rst"]}, "symptom", "hiss-at-rest"),
        ({"seen": ["zzz"]}, "symptom", None),
        ({"readings": {"read-suply-pressure": "low"}}, "check", "read-supply-pressure"),
        ({"readings": {"read-supply-pressure": "lwo"}}, "outcome", "low"),
        ({"ages": {"piston-sel": 3}}, "position", "piston-seal"),
        ({"conditions": {"wet-ar": True}}, "condition", "wet-air"),
    ],
)
def test_unknown_names_come_with_the_nearest(library, found, kind, best):
    """An unknown id of every kind names the nearest three, where there are three."""
    with pytest.raises(UnknownNameError) as error:
        ask(library, **found)
    assert error.value.kind == kind
    few = {"assembly": len(library.assemblies), "generation": 2}.get(kind, 3)
    assert len(error.value.nearest) == min(few, 3)
    assert best is None or best in error.value.nearest
    assert str(error.value).startswith(f"There is no {kind} '")


@pytest.mark.parametrize(
    ("found", "error", "sentence"),
    [
        ({"seen": ["slow-return"], "unseen": ["slow-return"]}, WrongCallError, "seen and as unseen"),
        ({"ages": {"rod": -1}}, QuantityError, "The age of rod is -1 years"),
        ({"ages": {"rod": float("nan")}}, QuantityError, "The age of rod is nan years"),
        ({"ages": {"rod": float("inf")}}, QuantityError, "The age of rod is inf years"),
        ({"ages": {"rod": "old"}}, WrongCallError, "The field 'ages.rod' is wrong"),
        ({"labour_rate": 0}, WrongCallError, "The field 'labour_rate' is wrong"),
        ({"labour_rate": float("nan")}, WrongCallError, "The field 'labour_rate' is wrong"),
        ({"labour_rate": float("inf")}, WrongCallError, "The field 'labour_rate' is wrong"),
        ({"sen": ["slow-return"]}, WrongCallError, "The field 'sen' is wrong"),
        ({"assembly": None}, WrongCallError, "The field 'assembly' is wrong"),
        ({"readings": ["time-return=slow", "time-return=normal"]}, WrongCallError, "is given two outcomes"),
    ],
)  # fmt: skip
def test_wrong_calls_get_one_sentence(library, found, error, sentence):
    """What cannot be evidence is refused before anything is computed."""
    with pytest.raises(error, match=sentence):
        ask(library, **found)


def test_a_check_that_does_not_apply(library):
    """A check of a stage that the unit lacks is refused by name."""
    with pytest.raises(WrongCallError, match="read-approach-pressure does not apply to brannoch-30s"):
        ask(library, assembly="brannoch-30s", readings={"read-approach-pressure": "low"})


def test_conditions_may_be_a_list(library):
    """A list of conditions means that they hold."""
    listed = ask(library, conditions=["wet-air"])
    assert listed == ask(library, conditions={"wet-air": True})
    with pytest.raises(UnknownNameError):
        ask(library, conditions=[{"wet-air": True}])


def test_readings_may_be_texts(library):
    """Readings written as on the command line mean the same as a mapping."""
    assert ask(library, readings=["time-return=slow"]) == ask(library, readings={"time-return": "slow"})


def test_a_normal_reading_denies_every_outcome(library):
    """The outcome 'normal' speaks against each abnormal one."""
    normal = ask(library, seen=["bang-at-release"], readings={"operate-approach-valve-by-hand": "normal"}, all=True)
    unread = ask(library, seen=["bang-at-release"], all=True)
    before, after = ({c.node: c.probability for c in a.causes} for a in (unread, normal))
    assert after["approach-valve:stuck-shut"] < 0.3 * before["approach-valve:stuck-shut"]
    assert after["approach-valve:sluggish"] < before["approach-valve:sluggish"]
