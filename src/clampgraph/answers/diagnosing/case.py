"""One question with everything reasoned about it: what the parts of a diagnosis share."""

from collections.abc import Mapping
from dataclasses import dataclass

from clampgraph.answers.diagnosing.diagnosis import DiagnoseRequest
from clampgraph.answers.diagnosing.study import Study
from clampgraph.answers.library import Library
from clampgraph.assembly import Assembly
from clampgraph.diagnosis.network import Network

__all__ = ["Case"]


@dataclass(frozen=True)
class Case:
    """Findings at one assembly, and the probabilities before and after them.

    `findings` are the nodes that were found on: symptoms seen and abnormal outcomes of checks.
    """

    library: Library
    assembly: Assembly
    study: Study
    evidence: Mapping[str, bool]
    findings: tuple[str, ...]
    posterior: Mapping[str, float]
    before: Mapping[str, float]
    request: DiagnoseRequest

    @property
    def network(self) -> Network:
        """The network of the assembly."""
        return self.study.network

    def prior(self, node: str) -> float:
        """Return the probability of a node before anything was found."""
        return self.before.get(node, self.posterior[node])

    def name(self, finding: str) -> str:
        """Return a finding as the user writes it: a symptom, or check=outcome."""
        node = self.network.by_id[finding]
        return node.symptom if node.symptom is not None else f"{node.check}={node.outcome}"
