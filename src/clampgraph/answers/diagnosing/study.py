"""What all questions about one unit share: its network, prepared for findings, and what follows from it alone."""

from collections.abc import Mapping
from functools import cached_property

from clampgraph.answers.library import Library
from clampgraph.assembly import Assembly, Knowledge
from clampgraph.diagnosis.explanation import InfluencePaths
from clampgraph.diagnosis.inference import AnyPlan, FindingsPlan, compile_network, plan_findings, posteriors
from clampgraph.diagnosis.network import Network, Node
from clampgraph.diagnosis.relevance import causes_of, tied_to, upstream
from clampgraph.diagnosis.troubleshooting import CheckOption

__all__ = ["DEAR", "Study", "study_of"]

DEAR = 50_000
"""Products of one evaluation from which on findings get a circuit of their own when it is asked hundreds of times."""


class Study:
    """One generation of an assembly at certain ages; each part is worked out when it is first needed."""

    def __init__(self, network: Network, knowledge: Knowledge) -> None:
        self.network, self._checks = network, knowledge.checks
        self.plan: FindingsPlan = plan_findings(
            network,
            [node.id for node in network if node.kind in ("condition", "failure-mode")],
            [node.id for node in network if node.kind in ("symptom", "check")],
        )
        self.paths = InfluencePaths(network)
        self._above: dict[str, frozenset[str]] = {}

    @cached_property
    def modes(self) -> tuple[Node, ...]:
        """Every failure mode of the unit."""
        return tuple(self.network.of_kind("failure-mode"))

    @cached_property
    def before(self) -> Mapping[str, float]:
        """The probability of every cause before anything is found."""
        return posteriors(self.plan, {})

    def narrow_plan(self, evidence: Mapping[str, bool]) -> AnyPlan:
        """Return the plan that takes hundreds of evaluations of the very same findings best.

        Where these are dear, a circuit of what lies upstream of them alone is soon paid for.
        """
        if self.plan.cost(self.plan.evidence([evidence]))[0] <= DEAR:
            return self.plan
        return compile_network(upstream(self.network, evidence))

    def above(self, node: str) -> frozenset[str]:
        """Return a node and everything that influences it."""
        if node not in self._above:
            self._above[node] = causes_of(self.network, [node])
        return self._above[node]

    @cached_property
    def options(self) -> tuple[CheckOption, ...]:
        """The checks that the unit has, in alphabetical order."""
        outcomes: dict[str, dict[str, str]] = {}
        for node in self.network.of_kind("check"):
            outcomes.setdefault(node.check or "", {})[node.outcome] = node.id
        known = self._checks
        return tuple(
            CheckOption(name, known[name.partition("@")[0]].minutes, known[name.partition("@")[0]].lockout, nodes)
            for name, nodes in sorted(outcomes.items())
        )

    def open_options(
        self, findings: tuple[str, ...], evidence: Mapping[str, bool], made: Mapping[str, str]
    ) -> list[CheckOption]:
        """Return the checks that were not made yet and that can tell anything about the findings."""
        tied = tied_to(map(self.above, findings), map(self.above, evidence))
        return [
            option
            for option in self.options
            if option.id not in made and any(not tied.isdisjoint(self.above(node)) for node in option.nodes.values())
        ]


def study_of(library: Library, assembly: Assembly, ages: Mapping[str, float]) -> Study:
    """Return the study of a unit at certain ages; the last ones used are kept."""
    key = "study", assembly.generation.iri, tuple(sorted(ages.items()))
    return library.kept(key, lambda: Study(library.network(assembly, ages), library.knowledge))
