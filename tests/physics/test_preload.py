"""Preload and torque: laws and limits; published rows lie among the published tests."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from clampgraph.errors import QuantityError
from clampgraph.physics import preload
from clampgraph.physics.threads import ScrewThread

M12 = ScrewThread(d=0.012, P=0.00175)
HEAD = 0.01505
friction = st.floats(0.05, 0.3)
forces = st.floats(1.0, 1e6)


@given(F=forces, mu_G=friction, mu_K=friction)
def test_torque_and_preload_are_inverse(F, mu_G, mu_K):
    """The preload of the torque of a preload is that preload; the nut factor says the same."""
    M = preload.tightening_torque(M12, F=F, mu_G=mu_G, mu_K=mu_K, D_Km=HEAD)
    assert preload.preload_from_torque(M12, M=M, mu_G=mu_G, mu_K=mu_K, D_Km=HEAD) == pytest.approx(F)
    K = preload.nut_factor(M12, mu_G=mu_G, mu_K=mu_K, D_Km=HEAD)
    assert preload.short_form_torque(K=K, F=F, d=M12.d) == pytest.approx(M)


@given(F=forces, mu=friction)
def test_loosening_takes_less(F, mu):
    """The pitch hinders tightening and helps loosening."""
    tight = preload.tightening_torque(M12, F=F, mu_G=mu, mu_K=mu, D_Km=HEAD)
    loose = preload.loosening_torque(M12, F=F, mu_G=mu, mu_K=mu, D_Km=HEAD)
    assert 0 < loose < tight
    assert tight - loose == pytest.approx(F * M12.P * 0.32)


def test_frictionless_screw_undoes_itself():
    """Without friction the preload turns the screw out."""
    assert preload.loosening_torque(M12, F=1e4, mu_G=0.0, mu_K=0.0, D_Km=HEAD) < 0


@given(mu=friction, more=st.floats(0.001, 0.1))
def test_friction_costs_preload(mu, more):
    """More friction leaves less of the yield strength for preload."""
    low, high = (preload.assembly_preload(M12, R_p=640e6, mu_G=m) for m in (mu, mu + more))
    assert high < low < M12.A_s * 640e6


@pytest.mark.parametrize("pitch", [(0.008, 0.00125, 0.0103), (0.010, 0.0015, 0.0128), (0.012, 0.00175, HEAD)])
def test_nut_factor_of_oiled_bolts(pitch):
    """Regression values: 0.155 to 0.165 at a friction of 0.12."""
    d, P, D_Km = pitch
    assert 0.155 <= preload.nut_factor(ScrewThread(d, P), mu_G=0.12, mu_K=0.12, D_Km=D_Km) <= 0.166


@pytest.mark.parametrize(
    ("call", "said"),
    [
        (lambda: preload.tightening_torque(M12, F=-1.0, mu_G=0.1, mu_K=0.1, D_Km=HEAD), "F = -1"),
        (lambda: preload.preload_from_torque(M12, M=1.0, mu_G=12.0, mu_K=0.1, D_Km=HEAD), "mu_G = 12"),
        (lambda: preload.nut_factor(M12, mu_G=0.1, mu_K=0.1, D_Km=0.0), "D_Km = 0"),
        (lambda: preload.assembly_preload(M12, R_p=0.0, mu_G=0.1), "R_p = 0"),
        (lambda: preload.assembly_preload(M12, R_p=640e6, mu_G=0.1, nu=0.0), "nu = 0"),
        (lambda: preload.short_form_torque(K=1.5, F=1.0, d=0.01), "K = 1.5"),
    ],
)
def test_refusals(call, said):
    """Values outside their range are refused."""
    with pytest.raises(QuantityError, match=said):
        call()
