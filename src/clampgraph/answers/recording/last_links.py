"""What a case tells of a last link: which one its faults lead through, and how sure the symptom is with and without.

All faults of a closed job are taken as found, so every other failure mode is off.
Conditions are known, or as probable as the found faults make them.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from clampgraph.answers.library import Library
from clampgraph.assembly import Assembly
from clampgraph.assembly.influence import Influence
from clampgraph.diagnosis.inference import Plan

__all__ = ["LastLink", "last_links"]


@dataclass(frozen=True, slots=True)
class LastLink:
    """The claim of a last link, the pack's strength, and the chance of the symptom if the link acts or does not."""

    claim: str
    pack: float
    low: float
    high: float


def last_links(
    library: Library, assembly: Assembly, found: Sequence[str], conditions: Mapping[str, bool]
) -> dict[str, LastLink]:
    """Return, for each symptom that the found faults lead to through one last link only, that link.

    Parameters
    ----------
    library
        With the pack's own figures.
    assembly
        Where the faults were found.
    found
        Each fault as ``POSITION:MODE``.
    conditions
        Conditions known to hold or not to hold.
    """
    network = library.network(assembly)
    arriving = _arriving(library, assembly)
    plan = library.plan(assembly, network, {}, [f"symptom/{symptom}" for symptom in arriving])
    modes = [node.id for node in network.of_kind("failure-mode")]
    world = {mode: mode in found for mode in modes}
    known = {f"condition/{name}": state for name, state in conditions.items()}
    world |= {node: state for node, state in known.items() if node in network.by_id}
    quiet = {node.id: False for node in network.of_kind("condition")}
    alone = plan.evaluate(plan.evidence([{**world, **quiet}]))
    if not alone.possible[0]:
        return {}
    on = dict(zip(plan.node_ids, alone.posterior[0].tolist(), strict=True))
    links = {}
    for symptom, influences in arriving.items():
        active = [link for link in influences if on[link.cause] > 0.0]
        if len(active) == 1 and 0.0 < active[0].strength < 1.0:
            links[symptom] = active[0]
    return dict(zip(links, _told(plan, world, links), strict=True))


def _arriving(library: Library, assembly: Assembly) -> dict[str, list[Influence]]:
    """Return the last links to each symptom."""
    influence = library.influence(assembly)
    found: dict[str, list[Influence]] = {n.name: [] for n in influence.nodes.values() if n.kind == "symptom"}
    for link in influence.influences:
        node = influence.nodes[link.effect]
        if node.kind == "symptom":
            found[node.name].append(link)
    return found


def _told(plan: Plan, world: Mapping[str, bool], links: Mapping[str, Influence]) -> Iterable[LastLink]:
    """Weigh worlds without the symptom, with and without the deviation that the last link starts at.

    With the deviation on, the symptom is absent only if the link did not act: dividing by 1 - strength takes the
    link out.
    """
    rows: list[Mapping[str, bool]] = [world]
    for symptom, link in links.items():
        rows += [{**world, f"symptom/{symptom}": False, link.cause: state} for state in (True, False)]
    total, *absent = plan.likelihood(plan.evidence(rows)).tolist()
    for (with_it, without), link in zip(zip(absent[::2], absent[1::2], strict=True), links.values(), strict=True):
        idle = with_it / (1.0 - link.strength)
        yield LastLink(link.claim, link.strength, 1.0 - (idle + without) / total, 1.0 - without / total)
