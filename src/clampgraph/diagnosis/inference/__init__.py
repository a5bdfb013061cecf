"""Exact inference: from findings to the probability of every node, for one case or for thousands.

What is computed
----------------
A diagnosis network says how each node depends on its parents, so that the probability of one complete state
of the world is a product of one factor for each node (Pearl 1988).
The probability of some findings is the sum of that product over all worlds that agree with them.
There are 2 to the power of n worlds; the engine never lists them.

How
---
1. *Merge.* `skeleton` finds the nodes that are one variable: a node that repeats its parent,
   and certain gates over the same parents.
2. *Order and decompose.* Summing one variable out joins its neighbours in one table.
   `ordering` looks for an order whose tables stay small, in few rounds.
   `decomposition` turns a noisy-OR or AND gate over many parents into a tree of gates over two, along that order,
   without a subtraction, so that rare causes keep their digits; then the small gates are ordered once more.
   `search` tries several rules and keeps the cheapest outcome.
   The largest table decides what is possible at all: the width is the number of its variables minus one.
   If a network is too wide for the memory allowed, `TooWideError` says which nodes are tied together.
3. *Eliminate, symbolically.* `elimination` does not compute the sums;
   it writes them down, once for all evidence.
   The outcome is an arithmetic circuit of sums and products whose inputs are the evidence indicators:
   one for each state of each variable, 0 if the evidence rules it out.
   Its value is the network polynomial (Darwiche 2003).
4. *Lay out.* `layout` sorts the circuit into rounds, so that `evaluation` needs a few array calls for each.
5. *Evaluate.* Upward gives P(evidence).
   The polynomial is linear in every indicator, so its derivative by the indicator of *x*
   is P(x, evidence without X), and one pass downward yields all derivatives, that is all posteriors, at once.
   Nothing is divided but the final P(x, evidence) by P(evidence):
   evidence that cannot occur shows as a probability of 0, not as a NaN.

All numbers are sums of products of non-negative numbers, so a result is good to about 1e-14 of its own size.
A case less probable than 1e-200 is computed again in extended precision, where the machine has it.

Doors
-----
`compile_network` takes a diagnosis network and returns a `Plan`;
`compile_tables` takes any discrete network and returns a `TablePlan`. Both keep nothing of a question,
can be shared between threads and pickled.
`plan_findings` takes a diagnosis network that is asked over and over, with other findings each time, and returns
a `FindingsPlan`: what can be found (`leaves`) is no part of its circuits, and those it compiles stay on a `Shelf`.

References
----------
All from memory, but for the noisy-OR formula of Pearl 1988, p. 184, which was seen quoted.

- J. Pearl, Probabilistic Reasoning in Intelligent Systems, 1988.
- D. Heckerman and J. S. Breese, Causal independence for probability assessment and inference, 1996.
- A. Darwiche, A differential approach to inference in Bayesian networks, Journal of the ACM 50(3), 2003.
- M. Chavira and A. Darwiche, Compiling Bayesian networks with local structure, IJCAI 2005.
- U. Kjaerulff, Triangulation of graphs: algorithms giving small total state space, 1990.
"""

from clampgraph.diagnosis.inference.findings import FindingsPlan, plan_findings
from clampgraph.diagnosis.inference.plan import AnyPlan, Evaluation, Plan, compile_network, posteriors
from clampgraph.diagnosis.inference.shelf import Shelf
from clampgraph.diagnosis.inference.solver import MEMORY_LIMIT_BYTES, Evidence
from clampgraph.diagnosis.inference.tables import (
    GeneralNetwork,
    TableEvaluation,
    TablePlan,
    Variable,
    compile_tables,
)

__all__ = [
    "MEMORY_LIMIT_BYTES",
    "AnyPlan",
    "Evaluation",
    "Evidence",
    "FindingsPlan",
    "GeneralNetwork",
    "Plan",
    "Shelf",
    "TableEvaluation",
    "TablePlan",
    "Variable",
    "compile_network",
    "compile_tables",
    "plan_findings",
    "posteriors",
]
