"""What a shop knows of itself fills in what a question leaves open, and never goes before it."""

import pytest

from clampgraph import paths
from clampgraph.answers.diagnosing.diagnose import diagnose
from clampgraph.answers.diagnosing.diagnosis import DiagnoseRequest
from clampgraph.answers.models import parse
from clampgraph.answers.site import Site, apply_site, read_site
from clampgraph.errors import QuantityError, UnknownNameError, WrongCallError

QUESTION = {"assembly": "brannoch-40t", "seen": ["slow-return"]}


@pytest.fixture
def site(library, tmp_path):
    def read(text: str) -> Site:
        file = tmp_path / "shop.toml"
        file.write_text(text, "utf-8")
        return read_site(library, file)

    return read


def chance(library, request, node):
    answer = diagnose(library, parse(DiagnoseRequest, {**request, "all": True}))
    return next(c.probability for c in answer.causes if c.node == node)


def test_the_demo_site(library):
    """Quillmere Gearworks has wet air, a young quick exhaust valve and an old main valve; both show."""
    shop = read_site(library, paths.data() / "demo" / "quillmere-gearworks.toml")
    filled = apply_site(shop, QUESTION)
    assert shop.name == "Quillmere Gearworks"
    assert filled["conditions"] == {"wet-air": True, "low-plant-pressure": False}
    assert filled["labour_rate"] == 72.0
    assert filled["ages"]["quick-exhaust-valve"] == pytest.approx(1.5 * 310 / 200)
    assert filled["ages"]["piston-seal"] == pytest.approx(6.0 * 310 / 200)
    ratio = {
        node: chance(library, filled, node) / chance(library, QUESTION, node)
        for node in ("main-valve:sluggish", "quick-exhaust-valve:diaphragm-sticks")
    }
    assert ratio["main-valve:sluggish"] > ratio["quick-exhaust-valve:diaphragm-sticks"]


@pytest.mark.parametrize("generation", ["gen-1", "gen-2"])
def test_every_generation_takes_it(generation, library):
    """Ages are given for positions that the generation has, and the question is answered."""
    shop = read_site(library, paths.data() / "demo" / "quillmere-gearworks.toml")
    filled = apply_site(shop, {**QUESTION, "generation": generation})
    assert set(filled["ages"]) == set(library.assembly("brannoch-40t", generation).positions)
    assert diagnose(library, parse(DiagnoseRequest, filled)).causes


def test_the_question_goes_first(site):
    """Ages, conditions and labour rate of the question stand against those of the site."""
    shop = site("labour_rate = 72\n[air]\nwater = 8\n[age_years.brannoch-40t]\nmain-valve = 9\n")
    asked = {**QUESTION, "ages": {"main-valve": 0.5}, "conditions": {"wet-air": False}, "labour_rate": 100.0}
    filled = apply_site(shop, asked)
    assert (filled["ages"]["main-valve"], filled["conditions"]["wet-air"], filled["labour_rate"]) == (0.5, False, 100.0)


def test_listed_conditions_are_taken_too(site):
    """A question may list the conditions that hold; the site's stand beside them."""
    filled = apply_site(site("[air]\nwater = 8\n"), {**QUESTION, "conditions": ["coolant-mist"]})
    assert filled["conditions"] == {"wet-air": True, "coolant-mist": True}


def test_an_empty_site_changes_nothing(site):
    """Who knows nothing fills in nothing, and the question is not touched."""
    asked = dict(QUESTION)
    assert apply_site(site(""), asked) == QUESTION
    assert asked == QUESTION


@pytest.mark.parametrize(
    ("air", "conditions"),
    [
        ("water = 7", {"wet-air": True}), ("water = 'X'", {"wet-air": True}), ("water = 'x'", {"wet-air": True}),
        ("oil = 'X'", {"wet-air": True}), ("water = 4\noil = 3", {"wet-air": False}), ("water = 4", {}),
        ("water = 5\noil = 1", {}), ("water = 2\noil = 'X'", {"wet-air": True}),
        ("particles = 3", {"dirty-air": False}),
        ("particles = 5", {}), ("particles = 7", {"dirty-air": True}),
    ],
)  # fmt: skip
def test_purity_classes_decide_conditions(air, conditions, site):
    """Liquid water or much oil is wet air; a dew point of 3 °C with little oil is dry; between, nothing is said."""
    assert dict(site(f"[air]\n{air}\n").conditions) == conditions


def test_what_is_known_goes_before_the_class(site):
    """A condition that is stated stands against the rule."""
    assert dict(site("[air]\nwater = 7\n[conditions]\nwet-air = false\n").conditions) == {"wet-air": False}


def test_dry_cutting_wets_no_plug(site):
    """Without coolant none reaches the plugs; other coolants say nothing."""
    assert dict(site('coolant = "dry"').conditions) == {"coolant-mist": False}
    assert dict(site('coolant = "emulsion"').conditions) == {}


def test_hard_use_ages_faster(site):
    """Twice the ordinary tool changes make three years six; hours count where changes are not told."""
    for text in ("cycles_per_year = 400000", "hours_per_year = 8000", "hours_per_year = 1\ncycles_per_year = 400000"):
        ages = apply_site(site(text), QUESTION)["ages"]
        assert set(ages.values()) == {6.0}


@pytest.mark.parametrize(
    ("text", "error", "words"),
    [
        ("labor_rate = 7", UnknownNameError, "no key 'labor_rate' in shop.toml; nearest: labour_rate"),
        ("[air]\nwatter = 7", UnknownNameError, "no key 'air.watter' in shop.toml; nearest: air.water"),
        ("[air]\nwater = 12", WrongCallError, "'air.water' in shop.toml is 12"),
        ("air = 7", WrongCallError, "'air' in shop.toml must be a table"),
        ('coolant = "emulsions"', UnknownNameError, "nearest: emulsion"),
        ("[conditions]\nwet-airs = true", UnknownNameError, "nearest: wet-air"),
        ("[conditions]\nwet-air = 1", WrongCallError, "write true or false"),
        ("[age_years.brannoch-40]\nrod = 1", UnknownNameError, "nearest: brannoch-40t"),
        ("[age_years.brannoch-40t]\nrods = 1", UnknownNameError, "nearest: age_years.brannoch-40t.rod"),
        ("[age_years]\nbrannoch-40t = 1", WrongCallError, "must be a table"),
        ("labour_rate = -1", QuantityError, "'labour_rate' in shop.toml is -1"),
        ("hours_per_year = inf", QuantityError, "above 0"),
        ("labour_rate = '70 EUR/h'", WrongCallError, "plain number"),
        ("labour_rate = true", WrongCallError, "plain number"),
        ("labour_rate", WrongCallError, "is not TOML"),
    ],
)  # fmt: skip
def test_bad_files_get_one_sentence(text, error, words, site):
    """File, key and what would be right."""
    with pytest.raises(error, match=words):
        site(text)


def test_a_missing_file_is_told(library, tmp_path):
    """The path stands in the sentence."""
    with pytest.raises(UnknownNameError, match=r"none\.toml"):
        read_site(library, tmp_path / "none.toml")


def test_an_unknown_assembly_is_told(site):
    """The question's own mistakes are told as ever."""
    with pytest.raises(UnknownNameError, match="nearest"):
        apply_site(site("labour_rate = 70"), {"assembly": "brannoch-40x"})
