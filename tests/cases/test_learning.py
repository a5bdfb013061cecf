"""Learned figures are the posteriors they claim to be, and their intervals hold the truth as often as they say."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import integrate, stats
from scipy.special import roots_jacobi

from clampgraph.cases.learning import LEVEL, PACK_LOOKS, PACK_YEARS, Learned, Rate, Strength, Trial

CHANCES = st.floats(0.01, 0.99)
TRIALS = st.lists(st.tuples(st.floats(0.0, 0.4), st.floats(0.5, 1.0), st.booleans()), max_size=25)


def tolerated(count, level=LEVEL):
    """Return how often intervals may hold in so many independent replicas; one run in a thousand falls outside."""
    return stats.binom.interval(0.999, count, level)


def test_nothing_learned_is_the_pack_to_the_digit():
    """Without data every figure is the pack's own number, not one that rounds to it."""
    for figure in (0.1, 0.3, 1e-7, 0.7000000000000001):
        assert Rate(figure, 0, 0.0).mean == figure
        assert Strength(figure, ()).mean == figure
        assert Learned().rate("valve", "sticks", figure) == figure
        assert Learned().strength("claim", figure) == figure
    assert not Learned()


@given(pack=st.floats(1e-4, 0.5), cases=st.integers(0, 40), years=st.floats(0.1, 1e4))
def test_a_rate_is_the_gamma_posterior(pack, cases, years):
    """Mean and bounds are those of scipy's gamma distribution of shape rW + N and rate W + E."""
    rate = Rate(pack, cases, years)
    posterior = stats.gamma(pack * PACK_YEARS + cases, scale=1.0 / (PACK_YEARS + years))
    assert rate.mean == pytest.approx(posterior.mean(), rel=1e-12)
    assert rate.interval(0.8) == pytest.approx(posterior.ppf([0.1, 0.9]), rel=1e-9, abs=1e-300)


@pytest.mark.parametrize(("pack", "cases", "years"), [(0.02, 3, 36.0), (0.1, 0, 500.0), (0.05, 40, 200.0)])
def test_a_rate_follows_from_bayes(pack, cases, years):
    """Prior times Poisson likelihood, integrated by quadrature, has the same mean."""

    def weight(rate):
        return stats.gamma.pdf(rate, pack * PACK_YEARS, scale=1 / PACK_YEARS) * stats.poisson.pmf(cases, rate * years)

    total, _ = integrate.quad(weight, 0.0, 2.0, limit=400, epsabs=0.0)
    mean, _ = integrate.quad(lambda rate: rate * weight(rate), 0.0, 2.0, limit=400, epsabs=0.0)
    assert Rate(pack, cases, years).mean == pytest.approx(mean / total, rel=1e-6)


def test_assumed_years_give_the_shares_of_a_dirichlet():
    """Where nobody stated years, rates are the pack's sum times the mean of a Dirichlet over the modes; no interval."""
    packs, found = np.array([0.02, 0.05, 0.004, 0.1]), np.array([5, 0, 2, 1])
    years = found.sum() / packs.sum()
    learned = [Rate(p, int(n), years, stated=False) for p, n in zip(packs, found, strict=True)]
    shares = stats.dirichlet(packs * PACK_YEARS + found).mean()
    assert [rate.mean for rate in learned] == pytest.approx(packs.sum() * shares, rel=1e-12)
    assert [rate.interval() for rate in learned] == [None] * 4


@given(pack=CHANCES, seen=st.integers(0, 30), unseen=st.integers(0, 30))
def test_a_strength_under_a_perfect_observer_is_the_beta_posterior(pack, seen, unseen):
    """When the symptom shows exactly if the link acts, mean and bounds are those of scipy's beta distribution."""
    trials = (Trial(0.0, 1.0, seen=True),) * seen + (Trial(0.0, 1.0, seen=False),) * unseen
    posterior = stats.beta(pack * PACK_LOOKS + seen, (1.0 - pack) * PACK_LOOKS + unseen)
    strength = Strength(pack, trials)
    assert strength.mean == pytest.approx(posterior.mean(), rel=1e-12)
    assert strength.interval() == pytest.approx(posterior.ppf([0.05, 0.95]), rel=1e-7, abs=1e-9)
    assert strength.seen == seen


@given(pack=st.floats(0.1, 0.9), told=TRIALS)
def test_a_strength_under_an_imperfect_observer_follows_from_bayes(pack, told):
    """Prior times likelihood, by Gauss-Jacobi quadrature, which is exact for polynomials, has the same mean."""
    a, b = pack * PACK_LOOKS, (1.0 - pack) * PACK_LOOKS
    nodes, weights = roots_jacobi(40, b - 1.0, a - 1.0)
    w = (nodes + 1.0) / 2.0
    likelihood = np.ones_like(w)
    for low, high, seen in told:
        shows = low + (high - low) * w
        likelihood *= shows if seen else 1.0 - shows
    mean = (weights * likelihood * w).sum() / (weights * likelihood).sum()
    assert Strength(pack, tuple(Trial(*trial) for trial in told)).mean == pytest.approx(mean, rel=1e-9)


def test_the_order_of_cases_does_not_matter():
    """A posterior knows no order, and dropping faint weights changes no digit that counts."""
    chance = np.random.default_rng(5)
    trials = [Trial(0.05, 0.8, seen=bool(s)) for s in chance.random(3000) < 0.55]
    there, back = Strength(0.9, tuple(trials)), Strength(0.9, tuple(reversed(trials)))
    assert there.mean == pytest.approx(back.mean, rel=1e-12)
    assert there.mean == pytest.approx((0.55 - 0.05) / 0.75, abs=0.04)


def test_intervals_of_rates_hold_as_often_as_they_say():
    """True rates drawn as the pack believes, faults drawn from them: nine intervals in ten hold, and eight at 0.8."""
    chance, replicas, held = np.random.default_rng(11), 4000, {0.9: 0, 0.8: 0}
    for _ in range(replicas):
        pack, years = chance.choice([0.01, 0.03, 0.1]), chance.choice([10.0, 100.0, 1000.0])
        true = chance.gamma(pack * PACK_YEARS, 1.0 / PACK_YEARS)
        rate = Rate(pack, int(chance.poisson(true * years)), years)
        for level in held:
            low, high = rate.interval(level)
            held[level] += low <= true <= high
    for level, count in held.items():
        low, high = tolerated(replicas, level)
        assert low <= count <= high
    assert not tolerated(replicas, 0.8)[0] <= held[0.9] <= tolerated(replicas, 0.8)[1]


def test_intervals_of_strengths_hold_as_often_as_they_say():
    """The same for strengths, seen through observers of every quality."""
    chance, replicas, held = np.random.default_rng(12), 600, 0
    for _ in range(replicas):
        pack = chance.choice([0.4, 0.8, 0.92])
        true = chance.beta(pack * PACK_LOOKS, (1.0 - pack) * PACK_LOOKS)
        lows, highs = chance.uniform(0.0, 0.2, 25), chance.uniform(0.4, 1.0, 25)
        seen = chance.random(25) < lows + (highs - lows) * true
        trials = tuple(Trial(low, high, bool(s)) for low, high, s in zip(lows, highs, seen, strict=True))
        low, high = Strength(pack, trials).interval()
        held += low <= true <= high
    low, high = tolerated(replicas)
    assert low <= held <= high


def test_much_data_finds_a_truth_that_the_pack_did_not_know():
    """A site whose figures are not the pack's: with enough cases nine intervals in ten hold its own."""
    chance, replicas, rates, strengths = np.random.default_rng(13), 300, 0, 0
    for _ in range(replicas):
        low, high = Rate(0.02, int(chance.poisson(0.08 * 5000.0)), 5000.0).interval()
        rates += low <= 0.08 <= high
        seen = chance.random(200) < 0.02 + (0.9 - 0.02) * 0.6
        low, high = Strength(0.9, tuple(Trial(0.02, 0.9, bool(s)) for s in seen)).interval()
        strengths += low <= 0.6 <= high
    # The pack still pulls a little; it may cost a few points of a hundred.
    low, high = tolerated(replicas, 0.87)[0], tolerated(replicas, 0.9)[1]
    assert low <= rates <= high
    assert low <= strengths <= high
