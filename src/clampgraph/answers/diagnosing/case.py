"""One question with everything reasoned about it: what the parts of a diagnosis share."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from clampgraph.answers.diagnosing.diagnosis import DiagnoseRequest
from clampgraph.answers.library import Library
from clampgraph.assembly import Assembly
from clampgraph.diagnosis.inference import Plan
from clampgraph.diagnosis.network import Network

__all__ = ["Case"]

QUICK_MEMORY = 2**28
"""Memory for a plan of what-ifs [byte]; what would need more takes too long to wait for at the machine."""


@dataclass(frozen=True)
class Case:
    """Findings at one assembly, and the probabilities before and after them.

    `findings` are the nodes that were found on: symptoms seen and abnormal outcomes of checks.
    """

    library: Library
    assembly: Assembly
    network: Network
    plan: Plan
    evidence: Mapping[str, bool]
    findings: tuple[str, ...]
    posterior: Mapping[str, float]
    before: Mapping[str, float]
    request: DiagnoseRequest

    def plan_with(self, nodes: Iterable[str]) -> Plan:
        """Return a plan that also holds some nodes that nobody observed yet.

        Raises
        ------
        TooWideError
            If they tie more of the network together than is quickly solved.
        """
        wanted = [*self.evidence, *nodes]
        return self.library.plan(self.assembly, self.network, self.request.ages, wanted, QUICK_MEMORY)

    def prior(self, node: str) -> float:
        """Return the probability of a node before anything was found."""
        return self.before.get(node, self.posterior[node])

    def name(self, finding: str) -> str:
        """Return a finding as the user writes it: a symptom, or check=outcome."""
        node = self.network.by_id[finding]
        return node.symptom if node.symptom is not None else f"{node.check}={node.outcome}"
