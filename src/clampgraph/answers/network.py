"""The derived network of an assembly, exported so that anyone can compute it again."""

import itertools
import re
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from pydantic import Field, SerializerFunctionWrapHandler, model_serializer

from clampgraph.answers.library import Library
from clampgraph.answers.models import Answer
from clampgraph.diagnosis.network import Network, Node

__all__ = ["NetworkAnswer", "network", "network_bif"]


class LinkOut(Answer):
    """A parent and how strongly it acts alone."""

    id: str
    strength: float
    claim: str | None = Field(description="IRI of the claim that the link rests on.")


class NodeOut(Answer):
    """One binary node.

    Gate `or`: off with probability (1 - leak) times the product of (1 - strength) over the parents that are on.
    Gate `and`: on with probability `strength` when every parent is on, else with probability `leak`.
    A root has `prior`, every other node `leak`.
    """

    id: str
    kind: str
    prior: float | None = None
    leak: float | None = None
    gate: str = "or"
    strength: float | None = Field(None, description="For `and` gates only.")
    parents: tuple[LinkOut, ...] = ()
    position: str | None = None
    failure_mode: str | None = None
    symptom: str | None = None
    check: str | None = None
    outcome: str | None = None
    condition: str | None = None

    @model_serializer(mode="wrap")
    def _only_what_applies(self, dump: SerializerFunctionWrapHandler) -> dict[str, Any]:
        return {key: value for key, value in dump(self).items() if value is not None}


class NetworkAnswer(Answer):
    """All nodes, parents before children."""

    assembly: str
    generation: str
    nodes: tuple[NodeOut, ...]


def network(library: Library, assembly: str, generation: str | None = None) -> NetworkAnswer:
    """Answer which network follows from an assembly.

    Raises
    ------
    UnknownNameError
        If there is no such assembly or generation; names the nearest.
    """
    a = library.assembly(assembly, generation)
    nodes = tuple(_node(node) for node in library.network(a))
    return NetworkAnswer(assembly=a.id, generation=a.generation.id, nodes=nodes)


def _node(node: Node) -> NodeOut:
    root = not node.links
    return NodeOut(
        id=node.id,
        kind=node.kind,
        prior=node.leak if root else None,
        leak=None if root else node.leak,
        gate=node.gate,
        strength=node.strength if node.gate == "and" else None,
        parents=tuple(LinkOut(id=k.parent, strength=k.strength, claim=k.claim or None) for k in node.links),
        position=node.position,
        failure_mode=node.failure_mode,
        symptom=node.symptom,
        check=node.check,
        outcome=node.outcome or None,
        condition=node.id.rpartition("/")[2] if node.kind == "condition" else None,
    )


def network_bif(library: Library, assembly: str, generation: str | None = None) -> str:
    """Return the network in the Bayesian interchange format (BIF), with the states off and on.

    Names are shortened to letters, digits and underscores; a comment before each variable keeps the full id.

    Raises
    ------
    UnknownNameError
        If there is no such assembly or generation; names the nearest.
    """
    a = library.assembly(assembly, generation)
    derived = library.network(a)
    names = _plain_names([node.id for node in derived])
    return "\n".join(_bif(derived, names, f"{a.id} {a.generation.id}")) + "\n"


def _plain_names(ids: Sequence[str]) -> Mapping[str, str]:
    found: dict[str, str] = {}
    for number, id_ in enumerate(ids):
        name = re.sub(r"[^A-Za-z0-9]+", "_", id_)
        found[id_] = name if name not in found.values() else f"{name}_{number}"
    return found


def _bif(derived: Network, names: Mapping[str, str], title: str) -> Iterator[str]:
    yield f'network "{title}" {{\n}}'
    for node in derived:
        # A comment, for some readers stop at a property.
        yield f"// {names[node.id]} is {node.id}"
        yield f"variable {names[node.id]} {{\n  type discrete [ 2 ] {{ off, on }};\n}}"
    for node in derived:
        parents = [names[link.parent] for link in node.links]
        if not parents:
            yield f"probability ( {names[node.id]} ) {{\n  table {1.0 - node.leak!r}, {node.leak!r};\n}}"
            continue
        yield f"probability ( {names[node.id]} | {', '.join(parents)} ) {{"
        for states in itertools.product((False, True), repeat=len(parents)):
            on = _chance(node, states)
            words = ", ".join("on" if state else "off" for state in states)
            yield f"  ({words}) {1.0 - on!r}, {on!r};"
        yield "}"


def _chance(node: Node, states: Sequence[bool]) -> float:
    if node.gate == "and":
        return node.strength if all(states) else node.leak
    off = 1.0 - node.leak
    for link, state in zip(node.links, states, strict=True):
        off *= 1.0 - link.strength if state else 1.0
    return 1.0 - off
