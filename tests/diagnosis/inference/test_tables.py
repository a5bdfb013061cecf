"""The door for general networks: sizes, refusals, and tables against every world."""

import itertools

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from clampgraph.diagnosis.inference import GeneralNetwork, Variable, compile_tables
from clampgraph.errors import CycleError, DataError, UnknownNameError, WrongCallError


@st.composite
def general_networks(draw):
    """Draw up to five variables of one to four states with random tables, some entries 0."""
    variables = []
    for index in range(draw(st.integers(1, 5))):
        parents = draw(st.lists(st.sampled_from(variables), max_size=3, unique=True)) if variables else []
        states = tuple(f"s{k}" for k in range(draw(st.integers(1, 4))))
        rng = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
        table = rng.random((*(len(p.states) for p in parents), len(states)))
        table *= rng.random(table.shape) < draw(st.sampled_from([1.0, 0.6]))
        table[..., 0] += table.sum(axis=-1) == 0.0
        table /= table.sum(axis=-1, keepdims=True)
        variables.append(Variable(f"v{index}", states, table, tuple(p.id for p in parents)))
    return GeneralNetwork(tuple(variables))


def joint(network):
    """Return the whole joint distribution, one axis a variable."""
    place = {variable.id: axis for axis, variable in enumerate(network.variables)}
    table = np.empty([len(v.states) for v in network.variables])
    for world in itertools.product(*(range(n) for n in table.shape)):
        chances = (v.table[(*(world[place[p]] for p in v.parents), world[place[v.id]])] for v in network.variables)
        table[world] = np.prod(list(chances))
    return table


@given(st.data())
def test_equals_the_joint_distribution(data):
    """Posteriors of every state equal the conditioned joint distribution."""
    network = data.draw(general_networks())
    sizes = [len(v.states) for v in network.variables]
    evidence = np.array([[data.draw(st.integers(-1, n - 1)) for n in sizes] for _ in range(6)])
    found = compile_tables(network).evaluate(evidence)
    everything = joint(network)
    for row, states in enumerate(evidence):
        agree = np.zeros_like(everything)
        window = tuple(slice(None) if s < 0 else slice(s, s + 1) for s in states)
        agree[window] = everything[window]
        total = agree.sum()
        assert found.possible[row] == (total > 0.0)
        assert found.probability[row] == pytest.approx(total, rel=1e-12)
        for axis, variable in enumerate(network.variables):
            rest = tuple(a for a in range(agree.ndim) if a != axis)
            expected = agree.sum(axis=rest) / (total or 1.0)
            np.testing.assert_allclose(found.posterior[variable.id][row], expected, rtol=0.0, atol=1e-12)


def test_network_without_variables():
    """No variables, one certain world."""
    found = compile_tables(GeneralNetwork(())).evaluate(np.empty((2, 0), int))
    assert found.probability.tolist() == [1.0, 1.0]
    assert found.posterior == {}


def test_many_states():
    """A state number beyond the reach of eight bits is told apart."""
    states = tuple(f"s{k}" for k in range(300))
    plan = compile_tables(GeneralNetwork((Variable("v", states, np.full(300, 1 / 300)),)))
    found = plan.evaluate(plan.evidence([{"v": "s299"}, {}]))
    assert found.probability.tolist() == pytest.approx([1 / 300, 1.0])
    assert found.posterior["v"][0].argmax() == 299
    assert plan.likelihood(plan.evidence([{"v": "s200"}]))[0] == pytest.approx(1 / 300)


def coin(name="coin", parents=(), table=(0.5, 0.5)):
    return Variable(name, ("head", "tail"), np.array(table), parents)


@pytest.mark.parametrize(
    ("variables", "error", "sentence"),
    [
        ((coin(), coin()), DataError, "Two variables of the network share one id"),
        ((coin(parents=("die",)),), DataError, "coin in the network has the parent die"),
        (
            (coin(table=[[0.5, 0.5]]),),
            DataError,
            r"has the shape \(1, 2\); parents and states ask for \(2,\)",
        ),
        ((coin(table=[0.5, 0.6]),), DataError, "The table of coin in the network is no distribution"),
        ((coin(table=[-0.5, 1.5]),), DataError, "no distribution"),
        ((coin(table=[np.nan, 0.5]),), DataError, "no distribution"),
        (
            (coin(parents=("coin",), table=[[0.5, 0.5]] * 2),),
            CycleError,
            "runs in a circle in the network: coin",
        ),
    ],
)
def test_unsound_networks_are_refused(variables, error, sentence):
    """A network that says no joint distribution is refused with its fault."""
    with pytest.raises(error, match=sentence):
        GeneralNetwork(variables)


def test_unknown_names_are_refused():
    """Variables and states that do not exist are told, with the nearest."""
    plan = compile_tables(GeneralNetwork((coin(),)))
    with pytest.raises(UnknownNameError, match="no variable 'coins' in the network; nearest: coin"):
        plan.evidence([{"coins": "head"}])
    with pytest.raises(UnknownNameError, match="no state 'heads' of coin; nearest: head"):
        plan.evidence([{"coin": "heads"}])
    with pytest.raises(WrongCallError):
        plan.evaluate(np.array([[2]]))
