"""Which of the described units stands here: told by its own features, also when one of them is misread."""

import numpy as np
import pytest

from clampgraph.answers.identifying.identify import IdentifyRequest, identify
from clampgraph.answers.identifying.identifying_features import OTHER, candidates_of, features_of
from clampgraph.diagnosis.identification import outcome_chances, posterior
from clampgraph.errors import DataError, QuantityError, UnknownNameError, WrongCallError

TANDEM = "brannoch-40t"
TANDEM_SEEN = {"taper": "BT40", "actuator": "tandem", "drive-layout": "belt drive"}
FIRST = {"thread-hand": "RH", "build-date": "2010", "serial-number": "2000"}
SECOND = {"thread-hand": "LH", "build-date": "2018-03-01", "serial-number": "5000"}


def ask(library, **fields):
    return identify(library, IdentifyRequest.model_validate(fields))


def best(answer):
    return answer.candidates[0].assembly, answer.candidates[0].generation


def own_features(library):
    """List what each generation shows, as the packs state it."""
    units = candidates_of(library)
    for name, unit in units.items():
        told = {}
        for key, feature in features_of(library, units).items():
            shown = sorted(feature.trait.shown.get(name, ()))
            if shown and feature.row["kind"] in ("word", "count"):
                told[key] = shown[0]
        since = unit.generation.built_from
        yield (
            unit,
            told
            | ({"build-date": since.isoformat()} if since else {})
            | ({"serial-number": str(unit.generation.serial_from)} if unit.generation.serial_from is not None else {}),
        )


def test_each_generation_is_found_from_its_own_features(library):
    """Told everything that its packs state, every unit comes first with more than nine tenths."""
    found = [((u.id, u.generation.id), ask(library, features=told)) for u, told in own_features(library)]
    assert len(found) >= 3
    assert [(name, best(answer)) for name, answer in found if best(answer) != name] == []
    assert min(answer.candidates[0].probability for _, answer in found) > 0.9


def test_probabilities_sum_to_one(library):
    """Candidates and the undescribed unit share all the probability."""
    answer = ask(library, features={"taper": "40"})
    assert sum(c.probability for c in answer.candidates) + answer.undescribed == pytest.approx(1.0)


@pytest.mark.parametrize("wrong", sorted(FIRST))
def test_one_wrong_observation_does_not_overturn(wrong, library):
    """Hand, date and serial number of the first generation, one misread as the second's: the first still leads."""
    answer = ask(library, features=TANDEM_SEEN | FIRST | {wrong: SECOND[wrong]})
    assert best(answer) == (TANDEM, "gen-1")
    assert answer.candidates[0].contradicted_by == (wrong,)


def test_a_wrong_taper_does_not_overturn_three_right_ones(library):
    """Actuator, drive and diameter of the tandem unit outweigh a misread taper."""
    answer = ask(library, features={**TANDEM_SEEN, "outside-diameter": "168 mm", "taper": "BT30"})
    assert answer.candidates[0].assembly == answer.candidates[1].assembly == TANDEM


@pytest.mark.parametrize(("key", "first", "second"), [(k, FIRST[k], SECOND[k]) for k in FIRST])
def test_generations_are_told_apart(key, first, second, library):
    """Thread hand, build date or serial number alone separates the generations of the tandem unit."""
    for told, generation in ((first, "gen-1"), (second, "gen-2")):
        answer = ask(library, features={**TANDEM_SEEN, key: told})
        assert best(answer) == (TANDEM, generation)
        assert answer.candidates[0].probability > 0.8


def test_a_year_of_change_leaves_both_generations_open(library):
    """The plate says 2014, the year in which the design changed: neither generation is contradicted."""
    answer = ask(library, features={**TANDEM_SEEN, "build-date": "2014"})
    assert [c.contradicted_by for c in answer.candidates[:2]] == [(), ()]


def test_the_next_feature_separates_best(library):
    """Gains are drops of entropy, enumerated over every outcome; hand, date and number lead, one of them comes next."""
    units = candidates_of(library)
    traits = {key: feature.trait for key, feature in features_of(library, units).items()}
    answer = ask(library, features=TANDEM_SEEN)
    told = {o.key: o.read_as for o in answer.observed}
    prior = np.array([*[0.95 / len(units)] * len(units), 0.05])

    def left(key):
        now = posterior(traits, told, list(units), prior)
        chances = outcome_chances(traits[key], list(units), now)
        after = [posterior(traits, told | {key: [o]}, list(units), prior) for o in traits[key].outcomes]
        return sum(c * -(p * np.log2(p)).sum() for c, p in zip(chances, after, strict=True))

    now = posterior(traits, told, list(units), prior)
    gains = {f.key: -(now * np.log2(now)).sum() - left(f.key) for f in answer.features}
    assert [f.gain for f in answer.features] == pytest.approx(sorted(gains.values(), reverse=True))
    assert answer.next_feature is not None
    assert gains[answer.next_feature.key] >= 0.9 * max(gains.values())
    assert set(sorted(gains, key=gains.__getitem__)[-3:]) == set(FIRST)


def test_no_lock_out_for_a_hair_of_information(library):
    """The coil tells the generations of the coaxial unit nearly as well as the port thread, and without lock-out."""
    answer = ask(library, features={"actuator": "coaxial"})
    best_gain, chosen = answer.features[0], answer.next_feature
    assert (best_gain.key, best_gain.lockout) == ("port-thread", True)
    assert chosen is not None
    assert not chosen.lockout
    assert chosen.gain > 0.9 * best_gain.gain


@pytest.mark.parametrize(
    ("features", "unit"),
    [
        ({"taper": "HSK-A63", "rotary-unions": "1"}, ("ulvedal-63h", "gen-2")),
        ({"taper": "HSK-A63", "port-thread": "G 1/4"}, ("ulvedal-63h", "gen-1")),
        ({"taper": "CAT50", "solenoid-voltage": "230 V"}, ("ulvedal-50b", "gen-1")),
        ({"taper": "SK40", "actuator": "ring cylinder", "port-thread": "NPT 3/8"}, ("ulvedal-40c", "gen-1")),
        ({"main-valves": "2", "drive-layout": "inline", "build-date": "2020"}, ("ulvedal-40c", "gen-2")),
    ],
)
def test_few_features_tell_a_unit(features, unit, library):
    """Options such as through-coolant, solenoid voltage and port threads decide between generations."""
    answer = ask(library, features=features)
    assert best(answer) == unit
    assert answer.candidates[0].probability > 0.8


def test_a_settled_case_asks_for_nothing(library):
    """When everything was seen, no further look is asked for."""
    features = next(told for unit, told in own_features(library) if unit.id == TANDEM)
    still = [f.key for f in ask(library, features=features).features]
    assert ask(library, features=features, unreadable=still).next_feature is None


def test_what_cannot_be_seen_is_not_asked_for(library):
    """A plate that is gone is not asked for again."""
    answer = ask(library, features=TANDEM_SEEN, unreadable=["serial-number", "build-date"])
    assert answer.next_feature is not None
    assert answer.next_feature.key == "thread-hand"
    assert answer.next_feature.lockout


def test_every_feature_says_how_to_look_safely(library):
    """Question, safe way, minutes and values stand beside each feature; looking inside needs lock-out."""
    for f in ask(library).features:
        assert f.question.endswith("?")
        assert len(f.how) > 40
        assert f.minutes > 0
        assert sum(v.probability for v in f.values) == pytest.approx(1.0)
        assert ("lock out" in f.how.lower()) == f.lockout


def test_an_unlike_unit_is_admitted(library):
    """Features that no described unit shows raise the chance that nobody described this one."""
    keys = ("taper", "actuator", "drive-layout", "bolt-pattern", "main-valves", "outside-diameter")
    strange = dict.fromkeys(keys[:-1], OTHER) | {"outside-diameter": "900 mm"}
    assert ask(library, features=strange).undescribed > 0.9


def test_trade_text_is_read(library):
    """Inches, trade names, loose spelling and bare numbers all come through."""
    answer = ask(library, features={"taper": "cat 40", "outside-diameter": "6 5/8 in", "serial-number": 1200})
    assert answer.observed[0].read_as == ("ISO 7388-1 size 40",)
    assert answer.observed[1].read_as == ("168 mm",)
    assert best(answer) == (TANDEM, "gen-1")


def test_texts_of_the_command_line_are_read(library):
    """KEY=VALUE texts mean the same as a mapping."""
    listed = ask(library, features=["taper=BT40", "thread-hand=LH"])
    assert listed == ask(library, features={"taper": "BT40", "thread-hand": "LH"})


@pytest.mark.parametrize(
    ("features", "error", "words"),
    [
        ({"tapers": "40"}, UnknownNameError, "There is no feature 'tapers'; nearest: taper"),
        ({"thread-hand": "lef"}, UnknownNameError, "of thread-hand; say 'other' if it is none of them; nearest: left"),
        ({"outside-diameter": "168"}, QuantityError, "has no unit"),
        ({"outside-diameter": "168 bar"}, QuantityError, "length"),
        ({"build-date": "07/2014"}, WrongCallError, "write 2014-07-01"),
        ({"build-date": "2014-13"}, WrongCallError, "write 2014-07-01"),
        ({"build-date": "9999-12"}, WrongCallError, "write 2014-07-01"),
        ({"serial-number": "A-12"}, WrongCallError, "whole number"),
        ({"main-valves": "-1"}, WrongCallError, "whole number"),
    ],
)  # fmt: skip
def test_bad_values_get_one_sentence(features, error, words, library):
    """What cannot be read is told with what would be right."""
    with pytest.raises(error, match=words):
        ask(library, features=features)


def test_seen_and_unreadable_contradict(library):
    """A feature cannot be both."""
    with pytest.raises(WrongCallError, match="taper"):
        ask(library, features={"taper": "40"}, unreadable=["taper"])


def test_nothing_described_is_a_fault_of_the_data():
    """Without assemblies there is nothing to identify."""

    class Empty:
        assemblies = {}  # noqa: RUF012  # a stand-in with one attribute

    with pytest.raises(DataError, match="load a pack"):
        identify(Empty(), IdentifyRequest())
