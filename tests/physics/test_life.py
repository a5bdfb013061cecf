"""Life figures against SciPy's Weibull distribution, and the worked example of ISO 13849-1."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import expon, weibull_min

from clampgraph.errors import QuantityError
from clampgraph.physics import life

scales = st.floats(1e-3, 1e9)
shapes = st.floats(0.3, 10.0)


@given(eta=scales, beta=shapes)
def test_weibull_equals_that_of_scipy(eta, beta):
    """Independent library: scipy.stats.weibull_min."""
    law = weibull_min(beta, scale=eta)
    assert life.weibull_b10(eta=eta, beta=beta) == pytest.approx(law.ppf(0.1), rel=1e-9)
    assert life.weibull_mean(eta=eta, beta=beta) == pytest.approx(law.mean(), rel=1e-9)
    assert life.weibull_survival(x=0.7 * eta, eta=eta, beta=beta) == pytest.approx(law.sf(0.7 * eta), rel=1e-9)
    assert life.weibull_scale(B10=life.weibull_b10(eta=eta, beta=beta), beta=beta) == pytest.approx(eta)


def test_mttfd_is_on_the_safe_side():
    """The 0.1 of the standard gives five per cent less than the exponential law (SciPy) behind it."""
    exact = 1e6 / -np.log(expon.sf(expon.ppf(0.1)))
    assert life.mttfd(B10D=1e6, n_op=1.0) / exact == pytest.approx(1.0536, abs=1e-3)


@given(B10D=st.floats(1.0, 1e9), n_op=st.floats(1e-9, 10.0), more=st.floats(1.01, 100.0))
def test_more_cycles_live_shorter(B10D, n_op, more):
    """Times fall with the cycle rate, and the mean is ten times the tenth."""
    assert life.t10d(B10D=B10D, n_op=more * n_op) < life.t10d(B10D=B10D, n_op=n_op)
    assert life.mttfd(B10D=B10D, n_op=n_op) == pytest.approx(10 * life.t10d(B10D=B10D, n_op=n_op))


def test_worked_example():
    """Worked example of ISO 13849-1 annex C (from memory): 60 million, 220 days of 16 h, every 5 s."""
    n_op = life.cycle_rate(d_op=220, h_op=16 * 3600.0, t_cycle=5.0)
    assert n_op * life.YEAR == pytest.approx(2.53e6, rel=2e-3)
    assert life.t10d(B10D=60e6, n_op=n_op) / life.YEAR == pytest.approx(23.7, abs=0.05)
    assert life.mttfd(B10D=60e6, n_op=n_op) / life.YEAR == pytest.approx(237, abs=0.5)


def test_survival_at_its_ends():
    """All work when new; arrays keep their shape."""
    assert life.weibull_survival(x=0.0, eta=1.0, beta=2.0) == 1.0
    shares = life.weibull_survival(x=np.linspace(0, 3, 7), eta=1.0, beta=2.0)
    assert shares.shape == (7,)
    assert (np.diff(shares) < 0).all()


@pytest.mark.parametrize(
    ("call", "said"),
    [
        (lambda: life.cycle_rate(d_op=400, h_op=3600.0, t_cycle=5.0), "d_op = 400"),
        (lambda: life.cycle_rate(d_op=200, h_op=1e5, t_cycle=5.0), "h_op"),
        (lambda: life.cycle_rate(d_op=200, h_op=3600.0, t_cycle=0.0), "t_cycle = 0"),
        (lambda: life.mttfd(B10D=0.0, n_op=1.0), "B10D = 0"),
        (lambda: life.t10d(B10D=1.0, n_op=0.0), "n_op = 0"),
        (lambda: life.weibull_b10(eta=1.0, beta=0.0), "beta = 0"),
        (lambda: life.weibull_survival(x=-1.0, eta=1.0, beta=1.0), "x = -1"),
    ],
)
def test_refusals(call, said):
    """Impossible duty and shapes are refused."""
    with pytest.raises(QuantityError, match=said):
        call()
