"""How the trade scenarios ask: findings in, chances out."""

from clampgraph.answers.diagnosing.diagnose import diagnose
from clampgraph.answers.diagnosing.diagnosis import DiagnoseRequest
from clampgraph.diagnosis.inference import posteriors

__all__ = ["ask", "chance", "gained", "leading", "ranked", "shows"]


def ask(library, assembly, **found):
    """Diagnose an assembly and keep every cause."""
    return diagnose(library, DiagnoseRequest.model_validate({"assembly": assembly, "all": True, **found}))


def chance(answer, *nodes):
    """Return the summed probability of some failure modes, each written ``position:mode``."""
    found = {cause.node: cause.probability for cause in answer.causes}
    return sum(found[node] for node in nodes)


def gained(answer, *positions):
    """Return by how much the findings raised the failure modes at some positions, summed."""
    return sum(cause.probability - cause.prior for cause in answer.causes if cause.position in positions)


def ranked(answer):
    """Return the causes that the findings raised most, as ``position:mode``, the most raised first."""
    return [c.node for c in sorted(answer.causes, key=lambda c: c.prior - c.probability)]


def leading(answer, count=1):
    """Return the positions of the most raised causes."""
    return [node.partition(":")[0] for node in ranked(answer)[:count]]


def shows(library, assembly, *faults, generation=None):
    """Return the probability of every symptom when these faults are present and all else is sound."""
    unit = library.assembly(assembly, generation)
    network = library.network(unit)
    symptoms = [node.id for node in network.of_kind("symptom")]
    plan = library.plan(unit, network, {}, symptoms)
    sound = {node.id: False for node in network if node.kind in ("failure-mode", "condition")}
    found = posteriors(plan, {**sound, **dict.fromkeys(faults, True)})
    return {node.partition("/")[2]: found[node] for node in symptoms}
