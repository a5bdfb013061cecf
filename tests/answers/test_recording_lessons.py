"""What cases teach: the right figures and no others, as sure as they say, and diagnoses grow better by them."""

from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from clampgraph.answers.diagnosing.diagnose import diagnose
from clampgraph.answers.diagnosing.diagnosis import DiagnoseRequest
from clampgraph.answers.recording.calibrating import calibration
from clampgraph.answers.recording.cases import RecordRequest
from clampgraph.answers.recording.figures import figures
from clampgraph.answers.recording.last_links import last_links
from clampgraph.answers.recording.lessons import Classroom, Teacher, standing
from clampgraph.answers.recording.record import record
from clampgraph.cases.learning import PACK_LOOKS, PACK_YEARS, Learned
from clampgraph.cases.records import Case, Exposure, Findings, NewCase
from clampgraph.cases.store import CaseStore
from clampgraph.diagnosis.derive import network_of
from clampgraph.diagnosis.inference import compile_network
from clampgraph.diagnosis.network import Network
from clampgraph.diagnosis.relevance import upstream

UNIT = "brannoch-30s"


def case(number, found, seen=(), unseen=(), **more):
    """Return a case of the unit that was recorded as the so-manieth."""
    unit = more.pop("assembly", UNIT)
    return Case(number, "", NewCase(unit, "gen-1", Findings(tuple(seen), tuple(unseen)), tuple(found), **more))


def with_strength(library, assembly, claim, strength):
    """Return the network of a unit in which one claim has another strength."""
    influence = library.influence(assembly)
    changed = tuple(replace(k, strength=strength) if k.claim == claim else k for k in influence.influences)
    return network_of(replace(influence, influences=changed), library.knowledge)


@pytest.mark.parametrize(
    ("unit", "found", "conditions"),
    [
        ("brannoch-30s", ["silencer:clogged"], {}),
        ("brannoch-40t", ["quick-exhaust-valve:diaphragm-sticks"], {"wet-air": True}),
        ("brannoch-40t", ["quick-exhaust-valve:diaphragm-sticks", "silencer:clogged"], {}),
        ("ulvedal-63h", ["accumulator:precharge-lost"], {}),
    ],
)
def test_a_last_link_is_weighed_exactly(library, unit, found, conditions):
    """The chance of a symptom is `low` in the network without the last link, and `high` in the one where it is sure."""
    assembly = library.assembly(unit)
    links = last_links(library, assembly, found, conditions)
    assert len(links) > 1
    for symptom, link in list(links.items())[:4]:
        for strength, told in ((0.0, link.low), (1.0, link.high)):
            node = f"symptom/{symptom}"
            network = with_strength(library, assembly, link.claim, strength)
            network = upstream(network, [node, *(n.id for n in network.of_kind("failure-mode"))])
            plan = compile_network(network)
            world = {n.id: n.id in found for n in network.of_kind("failure-mode")}
            known = {f"condition/{name}": state for name, state in conditions.items()}
            world |= {name: state for name, state in known.items() if name in network.by_id}
            chance = plan.evaluate(plan.evidence([world])).posterior[0][plan.node_ids.index(node)]
            assert told == pytest.approx(chance, abs=1e-12)


def test_only_figures_with_data_change(library):
    """In a unit's network exactly the rates of its types and the strengths that were looked at are not the pack's."""
    assembly = library.assembly(UNIT)
    links = last_links(library, assembly, ["silencer:clogged"], {})
    symptom = next(iter(links))
    learned = Classroom(library).learn([case(1, ["silencer:clogged"], [symptom])], [])
    assert set(learned.strengths) == {links[symptom].claim}
    taught = library.taught(learned)
    for unit in library.assemblies:
        mine = {p.type.id for p in assembly.positions.values()}
        before, after = library.network(library.assembly(unit)), taught.network(library.assembly(unit))
        assert [n.id for n in before] == [n.id for n in after]
        for old, new in zip(before, after, strict=True):
            if old.kind == "failure-mode":
                own = library.assembly(unit).positions[old.position].type.id in mine
                assert (old.leak != new.leak) == own
            elif old.kind == "symptom":
                changed = [a.claim for a, b in zip(old.links, new.links, strict=True) if a.strength != b.strength]
                assert set(changed) <= set(learned.strengths)
            else:
                assert old.leak == new.leak
                assert old.links == new.links
    assert library.network(assembly) is library.network(assembly)
    assert library.learned == Learned()


def test_rates_count_all_units_with_the_type(library):
    """A type in two units gets the faults and the unit-years of both; of statements the newest one counts."""
    exposures = [Exposure(UNIT, 5.0, ""), Exposure(UNIT, 40.0, ""), Exposure("brannoch-40t", 60.0, "")]
    told = [case(1, ["silencer:clogged"]), case(2, ["silencer:clogged"], assembly="brannoch-40t")]
    told[1] = replace(told[1], told=replace(told[1].told, generation="gen-2"))
    learned = Classroom(library).learn(told, exposures)
    type_ = library.assembly(UNIT).positions["silencer"].type
    number = {
        unit: sum(p.type.id == type_.id for p in library.assembly(unit).positions.values())
        for unit in (UNIT, "brannoch-40t")
    }
    rate = learned.rates[type_.id, "clogged"]
    years = 40.0 * number[UNIT] + 60.0 * number["brannoch-40t"]
    assert (rate.cases, rate.years, rate.stated) == (2, years, True)
    pack = type_.modes["clogged"].rate
    assert rate.mean == pytest.approx((pack * PACK_YEARS + 2) / (PACK_YEARS + years), rel=1e-14)


def test_without_stated_years_only_ratios_move(library):
    """Where nobody stated years, the sum of all rates of the unit stays what the pack says."""
    learned = Classroom(library).learn([case(n, ["silencer:clogged"]) for n in range(1, 8)], [])
    total, pack = 0.0, 0.0
    for position in library.assembly(UNIT).positions.values():
        for mode in position.type.modes.values():
            total += learned.rate(position.type.id, mode.id, mode.rate)
            pack += mode.rate
    one_each = {p.type.id for p in library.assembly(UNIT).positions.values()}
    assert len(one_each) == len(library.assembly(UNIT).positions)
    assert total == pytest.approx(pack, rel=1e-12)
    assert not any(rate.stated for rate in learned.rates.values())


def test_corrected_cases_and_lost_names_teach_nothing(library):
    """What a later case corrects is not counted, and neither is what no pack knows any more."""
    told = [
        case(1, ["silencer:clogged"]),
        case(2, [], corrects=1),
        case(3, ["gone:worn"]),
        case(4, [], assembly="gone"),
    ]
    learned = Classroom(library).learn(standing(told), [])
    assert not learned
    assert learned.passed_over == 2


def simulated(library, truth, machine_years, chance):
    """Live through machine-years: faults by their true rates, each one a job; every symptom looked for, air dry."""
    assembly = library.assembly(UNIT)
    network = library.taught(truth).network(assembly)
    history = []
    for position in assembly.positions.values():
        for mode in position.type.modes.values():
            rate = truth.rate(position.type.id, mode.id, mode.rate)
            for _ in range(chance.poisson(rate * machine_years)):
                fault = f"{position.id}:{mode.id}"
                seen = shown(network, fault, chance)
                unseen = [n.symptom for n in network.of_kind("symptom") if n.symptom not in seen]
                dry = {n.id.partition("/")[2]: False for n in network.of_kind("condition")}
                findings = Findings(tuple(seen), tuple(unseen), conditions=dry)
                history.append(NewCase(UNIT, "gen-1", findings, (fault,)))
    chance.shuffle(history)
    return [Case(number, "", told) for number, told in enumerate(history, 1)]


def shown(network: Network, fault, chance):
    """Draw the symptoms of one fault, node by node."""
    on = {}
    for node in network:
        if node.kind in ("failure-mode", "condition"):
            on[node.id] = node.id == fault
        elif node.gate == "and":
            on[node.id] = chance.random() < (node.strength if all(on[k.parent] for k in node.links) else node.leak)
        else:
            silent = 1.0 - node.leak
            for link in node.links:
                silent *= 1.0 - link.strength * on[link.parent]
            on[node.id] = chance.random() >= silent
    return [n.symptom for n in network.of_kind("symptom") if on[n.id]]


def known(library, chance):
    """Draw the true figures of a site as the pack believes in its own."""
    assembly = library.assembly(UNIT)
    rates, strengths = {}, {}
    for position in assembly.positions.values():
        for mode in position.type.modes.values():
            rates[position.type.id, mode.id] = float(chance.gamma(mode.rate * PACK_YEARS, 1.0 / PACK_YEARS))
    for symptom in library.knowledge.symptoms.values():
        for sign in symptom.signs:
            if 0.0 < sign.strength < 1.0:
                true = chance.beta(sign.strength * PACK_LOOKS, (1.0 - sign.strength) * PACK_LOOKS)
                strengths[sign.claim] = float(true)
    return Truth(rates, strengths)


class Truth(Learned):
    """Figures of a site that are known because we made them."""

    def __bool__(self):
        """Say that they differ from the pack's."""
        return True

    def rate(self, type_id, mode, pack):
        """Return a true rate."""
        return self.rates.get((type_id, mode), pack)

    def strength(self, claim, pack):
        """Return a true strength."""
        return self.strengths.get(claim, pack)


def test_intervals_hold_the_truth_of_simulated_sites(library):
    """Thirty sites live through eighty machine-years; nine intervals in ten, of all that is learned, hold the truth."""
    chance, classroom = np.random.default_rng(2), Classroom(library)
    shares = {"rates": [], "strengths": []}
    for _ in range(30):
        truth = known(library, chance)
        history = simulated(library, truth, 80.0, chance)
        learned = classroom.learn(history, [Exposure(UNIT, 80.0, "")])
        assert learned.strengths
        for name, moved in (("rates", learned.rates), ("strengths", learned.strengths)):
            true = getattr(truth, name)
            held = [low <= true[key] <= high for key, f in moved.items() for low, high in [f.interval()]]
            shares[name].append(np.mean(held))
    for name, found in shares.items():
        # Figures of one site share its cases, so the sites are the independent replicas.
        error = np.std(found, ddof=1) / np.sqrt(len(found))
        assert abs(np.mean(found) - 0.9) < stats.t.ppf(0.9995, len(found) - 1) * error, name
        assert error < 0.02


def test_cases_make_diagnoses_better(library, tmp_path):
    """A site with habits of its own: figures learned from earlier cases predict later ones better than the pack's."""
    chance = np.random.default_rng(4)
    truth = Truth(known(library, chance).rates, {})
    type_ = library.assembly(UNIT).positions["silencer"].type.id
    truth.rates[type_, "clogged"] = 1.0
    store = CaseStore(str(tmp_path / "cases.sqlite"))
    for told in simulated(library, truth, 25.0, chance):
        store.record(told.told, str(told.id))
    answer = calibration(library, store)
    assert answer.cases == len(store.cases()) > 30
    assert answer.brier < 0.95 * answer.brier_pack
    assert answer.first_found > answer.first_found_pack
    assert sum(b.count for b in answer.bins) == answer.predictions
    store.close()


def test_predictions_use_earlier_cases_only(library, tmp_path):
    """The first case is predicted with the pack's figures, the second with those that the first one taught."""
    store = CaseStore(str(tmp_path / "cases.sqlite"))
    first = store.record(case(0, ["silencer:clogged"], ["slow-return"]).told, "1")
    one = calibration(library, store)
    pack = chances(library)
    assert one.brier == one.brier_pack == pytest.approx(score(pack, "silencer:clogged"), rel=1e-12)
    store.record(case(0, ["piston-seal:swollen"], ["slow-return"]).told, "2")
    two = calibration(library, store)
    taught = library.taught(Classroom(library).learn([first], []))
    expected = (score(pack, "silencer:clogged") + score(chances(taught), "piston-seal:swollen")) / 2
    assert two.brier == pytest.approx(expected, rel=1e-12)
    assert two.brier_pack != two.brier
    store.record(case(0, ["silencer:clogged"], ["slow-return"], corrects=1).told, "3")
    store.record(case(0, ["silencer:clogged"], ["slow-return"], corrects=2).told, "4")
    assert calibration(library, store).cases == 2
    store.close()


def chances(library):
    """Return what a diagnosis of the unit with a slow return says of every failure mode."""
    request = DiagnoseRequest(assembly=UNIT, seen=("slow-return",), all=True)
    return {c.node: c.probability for c in diagnose(library, request).causes}


def score(predicted, found):
    """Return the mean squared error of predictions when one cause was found."""
    return sum((p - (mode == found)) ** 2 for mode, p in predicted.items()) / len(predicted)


def test_figures_count_what_another_process_recorded_just_now(library, tmp_path):
    """Whoever asks what was learned is told of every case, also within the second for which a count is held."""
    here, there = (CaseStore(str(tmp_path / "cases.sqlite")) for _ in range(2))
    teacher = Teacher(here)
    assert figures(library, teacher).cases == 0
    job = {"assembly": UNIT, "evidence": {"seen": ["slow-return"]}, "found": ["silencer:clogged"]}
    record(library, there, RecordRequest.model_validate(job))
    told = figures(library, teacher)
    assert told.cases == 1
    assert [one.seen for one in told.strengths if one.symptom == "slow-return"] == [1]
