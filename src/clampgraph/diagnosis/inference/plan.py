"""A diagnosis network compiled once, and the questions that it answers."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from difflib import get_close_matches
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from clampgraph.diagnosis.inference.search import cheapest, ways
from clampgraph.diagnosis.inference.skeleton import skeleton
from clampgraph.diagnosis.inference.solver import MEMORY_LIMIT_BYTES, Evidence, Solver, compile_problem
from clampgraph.diagnosis.network import Network
from clampgraph.errors import ImpossibleEvidenceError, UnknownNameError

__all__ = ["AnyPlan", "Evaluation", "Plan", "compile_network", "posteriors"]

_UNKNOWN = -1


@dataclass(frozen=True)
class Evaluation:
    """Answers to a batch of evidence sets.

    Parameters
    ----------
    probability
        P(evidence), shape (batch,). Below about 1e-308 it reads 0 although the evidence is possible.
    posterior
        P(node on | evidence), shape (batch, nodes); 0 throughout a row whose evidence is impossible.
    possible
        Whether the evidence can occur, shape (batch,).
    """

    probability: NDArray[np.float64]
    posterior: NDArray[np.float64]
    possible: NDArray[np.bool_]


class AnyPlan(Protocol):
    """What findings can be put to: a network compiled once, or one compiled as findings come."""

    @property
    def node_ids(self) -> tuple[str, ...]:
        """The columns of a posterior."""

    @property
    def columns(self) -> Mapping[str, int]:
        """The columns of the evidence, those of a posterior first."""

    def evidence(self, findings: Sequence[Mapping[str, bool]]) -> Evidence:
        """Turn findings into an array, one row for each set."""

    def evaluate(self, evidence: Evidence) -> Evaluation:
        """Return probability and posteriors of every evidence set."""

    def likelihood(self, evidence: Evidence) -> NDArray[np.float64]:
        """Return the probability of every evidence set."""


@dataclass(frozen=True)
class Plan:
    """A compiled network; make one with `compile_network`.

    Parameters
    ----------
    node_ids
        The columns of evidence and posterior, in this order.
    place
        Where the network comes from, for messages.
    """

    node_ids: tuple[str, ...]
    place: str
    solver: Solver = field(repr=False)
    columns: Mapping[str, int] = field(repr=False)

    @property
    def width(self) -> int:
        """Variables in the largest clique of the decomposed network, minus one."""
        return self.solver.width

    @property
    def size(self) -> int:
        """Products in the upward pass of one case."""
        return self.solver.circuit.terms

    @property
    def depth(self) -> int:
        """Rounds of the upward pass."""
        return len(self.solver.circuit.rounds)

    def evidence(self, findings: Sequence[Mapping[str, bool]]) -> Evidence:
        """Turn findings into an array, one row for each set.

        Raises
        ------
        UnknownNameError
            If an id names no node.
        """
        rows = np.full((len(findings), len(self.node_ids)), _UNKNOWN, np.int8)
        for row, found in zip(rows, findings, strict=True):
            for name, state in found.items():
                row[self._column(name)] = bool(state)
        return rows

    def _column(self, name: str) -> int:
        if name not in self.columns:
            raise UnknownNameError("node", name, get_close_matches(name, self.node_ids), f"in {self.place}")
        return self.columns[name]

    def evaluate(self, evidence: Evidence) -> Evaluation:
        """Return the posterior of every node for every evidence set.

        Parameters
        ----------
        evidence
            Shape (batch, nodes): -1 not observed, 0 off, 1 on.

        Raises
        ------
        WrongCallError
            If shape or numbers are others than these.
        """
        found = self.solver.solve(evidence, self.solver.base + 1)
        return Evaluation(found.probability, found.marginals, found.possible)

    def likelihood(self, evidence: Evidence) -> NDArray[np.float64]:
        """Return P(evidence) for every evidence set, shape (batch,); half the work of `evaluate` or less."""
        return self.solver.solve(evidence).probability


def compile_network(network: Network, *, memory_limit_bytes: int = MEMORY_LIMIT_BYTES) -> Plan:
    """Compile a network for exact inference.

    Parameters
    ----------
    network
        Noisy-OR and AND gates over binary nodes.
    memory_limit_bytes
        [byte] What the compiled network may take.

    Raises
    ------
    TooWideError
        If it would take more; the sentence names the nodes that loops tie together.
    DataError
        If a link of an AND gate has a strength other than 1.

    Examples
    --------
    >>> from clampgraph.diagnosis.network import Link, Network, Node
    >>> seal = Node("seal-worn", "failure-mode", 0.01)
    >>> hiss = Node("hiss", "symptom", 0.001, (Link("seal-worn", 0.9),))
    >>> plan = compile_network(Network((seal, hiss)))
    >>> {name: round(chance, 4) for name, chance in posteriors(plan, {"hiss": True}).items()}
    {'seal-worn': 0.9009, 'hiss': 1.0}
    """
    ids = tuple(node.id for node in network)
    order, draft = cheapest(ways(skeleton(network)))
    solver = compile_problem(draft.problem(), order, memory_limit_bytes)
    return Plan(ids, network.place, solver, {name: column for column, name in enumerate(ids)})


def posteriors(plan: AnyPlan, evidence: Mapping[str, bool]) -> dict[str, float]:
    """Return P(node on | evidence) for every node.

    Raises
    ------
    ImpossibleEvidenceError
        If the findings cannot occur together; names a smallest set of them that already conflicts:
        leave any one of it out and the rest is possible.
    UnknownNameError
        If a finding names no node.
    """
    found = plan.evaluate(plan.evidence([evidence]))
    if not found.possible[0]:
        raise ImpossibleEvidenceError(_conflict(plan, evidence))
    return dict(zip(plan.node_ids, found.posterior[0].tolist(), strict=True))


def _conflict(plan: AnyPlan, evidence: Mapping[str, bool]) -> tuple[str, ...]:
    """Leave findings out one by one, for good where the rest still conflicts."""
    kept = dict(evidence)
    for name in evidence:
        rest = {other: state for other, state in kept.items() if other != name}
        if not plan.evaluate(plan.evidence([rest])).possible[0]:
            kept = rest
    return tuple(kept)
