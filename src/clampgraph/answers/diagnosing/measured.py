r"""A measured number as evidence: how likely it makes each outcome of its check.

The bands of a check split the scale into outcomes, as shares of the healthy value of this assembly, which is
simulated from its data. A reading v with the standard error s of its instrument has the likelihood

.. math:: L(o) = \Phi\left(\frac{b_o - v}{s}\right) - \Phi\left(\frac{a_o - v}{s}\right)

under an outcome with the band from a to b: every true value in the band is taken as equally likely beforehand near
the reading. What no band claims is normal. The likelihoods enter as virtual evidence (Pearl 1988): the belief is the
mixture of the beliefs under each outcome, weighted by likelihood times probability of that outcome, which is exact
because the probability of the evidence is linear in it.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from clampgraph.answers.library import Library
from clampgraph.assembly import Assembly
from clampgraph.diagnosis.troubleshooting import NORMAL
from clampgraph.errors import WrongCallError
from clampgraph.units import Quantity, from_qudt, from_si, parse

__all__ = ["Measured", "is_number", "measured"]


@dataclass(frozen=True, slots=True)
class Measured:
    """A reading with the healthy value it is held against, and the likelihood of each outcome, normal included."""

    check: str
    value: Quantity
    healthy: Quantity
    likelihood: Mapping[str, float]

    @property
    def likeliest(self) -> str:
        """The outcome that the reading fits best."""
        return max(self.likelihood, key=lambda outcome: self.likelihood[outcome])


def is_number(text: str) -> bool:
    """Say whether a reading is a measured value rather than the name of an outcome."""
    return text.strip()[:1].isdigit() or text.strip()[:1] in {"-", "+", ".", "\N{MINUS SIGN}"}


def measured(library: Library, assembly: Assembly, check: str, text: str) -> Measured:
    """Read a measured value such as ``4.1bar`` for a check.

    Raises
    ------
    WrongCallError
        If the check gives no number, or this assembly has nothing to hold it against.
    QuantityError
        If the text is no quantity of what the check measures, or is negative.
    """
    # The simulation is loaded only where there is a number to hold against it: most diagnoses have none.
    from clampgraph.answers.stroke.parameters import parameters_of  # noqa: PLC0415
    from clampgraph.answers.stroke.simulate import UNITS, simulated  # noqa: PLC0415
    from clampgraph.physics.stroke import DIMENSIONS, observe  # noqa: PLC0415

    name = check.partition("@")[0]
    rows = [row for row in library.graph.ask("simulation/list-measures") if row["check"] == name]
    if not rows:
        outcomes = [o.id for o in library.knowledge.checks[name].outcomes]
        raise WrongCallError(f"The check {name} gives no number; say one of {', '.join([*outcomes, NORMAL])}.")
    observable = str(rows[0]["observable"])
    value = parse(text, DIMENSIONS[observable])
    healthy = observe(simulated(parameters_of(library, assembly))).get(observable)
    if value.si < 0.0 or healthy is None or healthy == 0.0:
        raise WrongCallError(
            f"{name} of {assembly.id} reads {text}, which is below zero: give the value without its sign."
            if value.si < 0.0
            else f"{assembly.id} has no healthy {observable} to hold {text} against; say the outcome of {name} by name."
        )
    error = Quantity(float(str(rows[0]["error"])), from_qudt(str(rows[0]["errorUnit"]))).si
    likelihood = {
        str(row["outcome"]): _below((_edge(row, "high", healthy) - value.si) / error)
        - _below((_edge(row, "low", healthy) - value.si) / error)
        for row in rows
    }
    likelihood[NORMAL] = max(0.0, 1.0 - sum(likelihood.values()))
    told = from_si(healthy, UNITS[DIMENSIONS[observable]])
    return Measured(check, value, told, likelihood)


def _edge(row: Mapping[str, Any], side: str, healthy: float) -> float:
    """Return one end of a band in SI; a bare number is a share of the healthy value."""
    if row[side] is None:
        return -math.inf if side == "low" else math.inf
    edge = Quantity(float(row[side]), from_qudt(str(row["bandUnit"])))
    return edge.value * healthy if edge.dimension == "ratio" else edge.si


def _below(z: float) -> float:
    return 0.5 * (1.0 + math.erf(z / math.sqrt(2.0)))
