"""Turn what a user found into evidence on nodes, with one clear sentence for what cannot be."""

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import product
from typing import Protocol

from clampgraph.answers.diagnosing.measured import Measured, is_number, measured
from clampgraph.answers.library import Library, nearest
from clampgraph.answers.symptoms import search
from clampgraph.assembly import Assembly
from clampgraph.diagnosis.network import Network
from clampgraph.diagnosis.troubleshooting import NORMAL
from clampgraph.errors import QuantityError, UnknownNameError, WrongCallError

__all__ = ["Evidence", "FoundAtMachine", "check_ages", "evidence_of"]

NEGLIGIBLE = 1e-12
"""Likelihood below which an outcome of a measurement is left out."""


class FoundAtMachine(Protocol):
    """What every request with findings carries."""

    @property
    def seen(self) -> tuple[str, ...]:
        """Symptoms that were seen."""

    @property
    def unseen(self) -> tuple[str, ...]:
        """Symptoms that were looked for and are absent."""

    @property
    def readings(self) -> Mapping[str, str]:
        """Outcome by check, or a measured value such as ``4.1bar``."""

    @property
    def ages(self) -> Mapping[str, float]:
        """Age of the item by position [yr]."""

    @property
    def conditions(self) -> Mapping[str, bool]:
        """Conditions known to hold or not to hold."""


@dataclass(frozen=True, slots=True)
class Evidence:
    """States by node id, and what was named although nothing in the assembly leads to it or follows from it.

    A measured value stands in `nodes` as the outcome that it fits best; `weighed` lists the outcomes of each one
    as states of nodes, with their likelihood.
    """

    nodes: Mapping[str, bool]
    outside: tuple[str, ...]
    measurements: tuple[Measured, ...] = ()
    weighed: tuple[tuple[tuple[Mapping[str, bool], float], ...], ...] = ()

    def mixture(self) -> Iterator[tuple[dict[str, bool], float]]:
        """Yield the states of nodes under each combination of measured outcomes, with its likelihood."""
        for combination in product(*self.weighed) if self.weighed else ():
            states, likelihoods = zip(*combination, strict=True)
            yield {**self.nodes, **{node: on for each in states for node, on in each.items()}}, math.prod(likelihoods)


def evidence_of(library: Library, assembly: Assembly, network: Network, found: FoundAtMachine) -> Evidence:
    """Return what was found, as evidence on the nodes of a network.

    Raises
    ------
    UnknownNameError
        If a symptom, check, outcome or condition is not known.
    WrongCallError
        If a symptom is both seen and unseen.
    """
    both = sorted(set(found.seen) & set(found.unseen))
    if both:
        raise WrongCallError(f"The symptom '{both[0]}' is given as seen and as unseen; say one of them.")
    evidence: dict[str, bool] = {}
    for symptom, state in [*((s, True) for s in found.seen), *((s, False) for s in found.unseen)]:
        evidence[_symptom(library, symptom)] = state
    measurements, weighed = [], []
    for check, outcome in found.readings.items():
        if not is_number(outcome):
            evidence |= _reading(library, assembly, network, check, outcome)
            continue
        _reading(library, assembly, network, check, NORMAL)
        value = measured(library, assembly, check, outcome)
        measurements.append(value)
        weighed.append(tuple(_weighed(library, assembly, network, value)))
        evidence |= _reading(library, assembly, network, check, value.likeliest)
    for condition, state in found.conditions.items():
        known = library.knowledge.conditions
        if condition not in known:
            raise UnknownNameError("condition", condition, nearest(condition, known))
        evidence[f"condition/{condition}"] = state
    outside = tuple(node for node in evidence if node not in network.by_id)
    nodes = {node: state for node, state in evidence.items() if node in network.by_id}
    return Evidence(nodes, outside, tuple(measurements), tuple(weighed))


def _weighed(
    library: Library, assembly: Assembly, network: Network, value: Measured
) -> Iterator[tuple[Mapping[str, bool], float]]:
    """List the outcomes of a measurement as states of nodes, with their likelihood; one without it says nothing."""
    for outcome, likelihood in value.likelihood.items():
        if likelihood > NEGLIGIBLE:
            yield _reading(library, assembly, network, value.check, outcome), likelihood


def check_ages(assembly: Assembly, ages: Mapping[str, float]) -> None:
    """Refuse ages that belong to no position or are no age.

    Raises
    ------
    UnknownNameError
        If the assembly lacks the position.
    QuantityError
        If an age is negative or not a number.
    """
    for position, years in ages.items():
        if position not in assembly.positions:
            raise UnknownNameError("position", position, nearest(position, assembly.positions), f"in {assembly.id}")
        if not (math.isfinite(years) and years >= 0.0):
            raise QuantityError(f"The age of {position} is {years:g} years; give a number of years from 0 up.")


def _symptom(library: Library, symptom: str) -> str:
    known = library.knowledge.symptoms
    if symptom not in known:
        called = [found.id for found in search(library, symptom)]
        raise UnknownNameError("symptom", symptom, list(dict.fromkeys([*called, *nearest(symptom, known)])))
    return f"symptom/{symptom}"


def _reading(library: Library, assembly: Assembly, network: Network, check: str, outcome: str) -> dict[str, bool]:
    name = check.partition("@")[0]
    known = library.knowledge.checks
    if name not in known:
        raise UnknownNameError("check", check, nearest(name, known))
    names = [o.id for o in known[name].outcomes]
    if outcome != NORMAL and outcome not in names:
        raise UnknownNameError("outcome", outcome, [*nearest(outcome, names)[:2], NORMAL], f"of {name}")
    nodes = {node.outcome: node.id for node in network.of_kind("check") if node.check == check}
    if not nodes:
        places = sorted({n.check or "" for n in network.of_kind("check") if (n.check or "").startswith(f"{name}@")})
        if places:
            raise WrongCallError(f"{assembly.id} has {name} at several positions; say one of {', '.join(places)}.")
        raise WrongCallError(f"The check {name} does not apply to {assembly.id}; leave it out.")
    return {node: found == outcome for found, node in nodes.items()}
