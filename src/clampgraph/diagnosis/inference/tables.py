"""The door for general networks: discrete variables with any number of states and explicit tables."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from difflib import get_close_matches
from graphlib import CycleError as Ring
from graphlib import TopologicalSorter

import numpy as np
from numpy.typing import NDArray

from clampgraph.diagnosis.inference.problem import Factor, Problem
from clampgraph.diagnosis.inference.search import cheapest, orders
from clampgraph.diagnosis.inference.solver import MEMORY_LIMIT_BYTES, Evidence, Solver, compile_problem
from clampgraph.errors import CycleError, DataError, UnknownNameError

__all__ = ["GeneralNetwork", "TableEvaluation", "TablePlan", "Variable", "compile_tables"]

_SUM_TOLERANCE = 1e-6


@dataclass(frozen=True, eq=False)
class Variable:
    """A discrete variable and its table: one axis for each parent, in their order, then its own states."""

    id: str
    states: tuple[str, ...]
    table: NDArray[np.float64]
    parents: tuple[str, ...] = ()


@dataclass(frozen=True, eq=False)
class GeneralNetwork:
    """Discrete variables in any order, checked once when made.

    Raises
    ------
    DataError
        If an id stands twice, a parent is missing, or a table has the wrong shape or does not sum to 1.
    CycleError
        If a variable is its own ancestor.
    """

    variables: tuple[Variable, ...]
    place: str = "the network"
    by_id: Mapping[str, Variable] = field(init=False, repr=False)

    def __post_init__(self) -> None:
        by_id = {variable.id: variable for variable in self.variables}
        if len(by_id) != len(self.variables):
            raise DataError(f"Two variables of {self.place} share one id; every variable needs its own.")
        for variable in self.variables:
            _check_table(variable, by_id, self.place)
        try:
            TopologicalSorter({v.id: v.parents for v in self.variables}).prepare()
        except Ring as ring:
            raise CycleError(ring.args[1][:-1], self.place) from None
        object.__setattr__(self, "by_id", by_id)


def _check_table(variable: Variable, by_id: Mapping[str, Variable], place: str) -> None:
    for parent in variable.parents:
        if parent not in by_id:
            raise DataError(f"{variable.id} in {place} has the parent {parent}, which is no variable of it.")
    shape = tuple(len(by_id[name].states) for name in (*variable.parents, variable.id))
    table, name = variable.table, f"The table of {variable.id} in {place}"
    if table.shape != shape:
        raise DataError(f"{name} has the shape {table.shape}; parents and states ask for {shape}.")
    if (table < 0.0).any() or not (abs(table.sum(axis=-1) - 1.0) <= _SUM_TOLERANCE).all():
        raise DataError(f"{name} is no distribution; entries are at least 0 and each row sums to 1.")


@dataclass(frozen=True)
class TableEvaluation:
    """Answers to a batch of evidence sets.

    Parameters
    ----------
    probability
        P(evidence), shape (batch,).
    posterior
        For each variable id, P(state | evidence), shape (batch, states); 0 where the evidence is impossible.
    possible
        Whether the evidence can occur, shape (batch,).
    """

    probability: NDArray[np.float64]
    posterior: Mapping[str, NDArray[np.float64]]
    possible: NDArray[np.bool_]


@dataclass(frozen=True)
class TablePlan:
    """A compiled general network; make one with `compile_tables`."""

    network: GeneralNetwork = field(repr=False)
    solver: Solver = field(repr=False)

    @property
    def ids(self) -> tuple[str, ...]:
        """The columns of the evidence."""
        return tuple(variable.id for variable in self.network.variables)

    @property
    def width(self) -> int:
        """Variables in the largest clique, minus one."""
        return self.solver.width

    def evidence(self, findings: Sequence[Mapping[str, str]]) -> Evidence:
        """Turn findings, variable id to state name, into an array, one row for each set.

        Raises
        ------
        UnknownNameError
            If an id names no variable, or a state is none of its states.
        """
        rows = np.full((len(findings), len(self.ids)), -1, np.intp)
        columns = {name: column for column, name in enumerate(self.ids)}
        for row, found in zip(rows, findings, strict=True):
            for name, state in found.items():
                if name not in columns:
                    near = get_close_matches(name, self.ids)
                    raise UnknownNameError("variable", name, near, f"in {self.network.place}")
                states = self.network.by_id[name].states
                if state not in states:
                    raise UnknownNameError("state", state, get_close_matches(state, states), f"of {name}")
                row[columns[name]] = states.index(state)
        return rows

    def evaluate(self, evidence: Evidence) -> TableEvaluation:
        """Return the posterior of every state for every evidence set.

        Parameters
        ----------
        evidence
            Shape (batch, variables): the number of a state, or -1 where nothing was observed.

        Raises
        ------
        WrongCallError
            If shape or numbers are others than these.
        """
        ends = np.cumsum(self.solver.cards)
        found = self.solver.solve(evidence, np.arange(ends[-1] if len(ends) else 0))
        split = np.split(found.marginals, ends[:-1], axis=1)
        return TableEvaluation(found.probability, dict(zip(self.ids, split, strict=False)), found.possible)

    def likelihood(self, evidence: Evidence) -> NDArray[np.float64]:
        """Return P(evidence) for every evidence set, shape (batch,)."""
        return self.solver.solve(evidence).probability


def compile_tables(network: GeneralNetwork, *, memory_limit_bytes: int = MEMORY_LIMIT_BYTES) -> TablePlan:
    """Compile a general network for exact inference.

    Parameters
    ----------
    network
        Discrete variables with explicit tables.
    memory_limit_bytes
        [byte] What the compiled network may take.

    Raises
    ------
    TooWideError
        If it would take more; the sentence names the variables that loops tie together.
    """
    column = {variable.id: index for index, variable in enumerate(network.variables)}
    problem = Problem(
        cards=tuple(len(variable.states) for variable in network.variables),
        labels=tuple(column),
        factors=tuple(
            Factor((*(column[p] for p in variable.parents), column[variable.id]), variable.table)
            for variable in network.variables
        ),
        observed=tuple(column.values()),
        place=network.place,
    )
    order, _ = cheapest(orders(problem.cards, [factor.scope for factor in problem.factors]))
    return TablePlan(network, compile_problem(problem, order, memory_limit_bytes))
