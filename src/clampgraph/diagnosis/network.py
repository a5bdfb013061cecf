"""The probabilistic reading of an assembly: binary nodes, noisy-OR and AND gates.

A network is a list of nodes in topological order: every parent stands before its children.
What derives it lives in `derive`; what solves it lives in `inference`.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Literal

from clampgraph.errors import CycleError, DataError

__all__ = ["Gate", "Kind", "Link", "Network", "Node"]

Kind = Literal["condition", "failure-mode", "deviation", "symptom", "check"]
Gate = Literal["or", "and"]


@dataclass(frozen=True, slots=True)
class Link:
    """One influence on a node: the parent's id, how strongly it acts alone, and the claim that says so."""

    parent: str
    strength: float
    claim: str = ""


@dataclass(frozen=True, slots=True)
class Node:
    """One binary node.

    An `or` node is off with probability ``(1 - leak) * prod(1 - strength_i)`` over the parents that are on
    (noisy-OR, Pearl 1988); a root is an `or` node without parents, and its leak is its prior.
    An `and` node is on with probability `strength` when every parent is on, otherwise with probability `leak`;
    the strengths of its links are 1.
    """

    id: str
    kind: Kind
    leak: float
    links: tuple[Link, ...] = ()
    gate: Gate = "or"
    strength: float = 1.0
    position: str | None = None
    failure_mode: str | None = None
    symptom: str | None = None
    check: str | None = None

    @property
    def outcome(self) -> str:
        """Which outcome of its check the node stands for: the last part of its id; empty for other nodes."""
        return self.id.rpartition("/")[2] if self.check else ""


@dataclass(frozen=True)
class Network:
    """Nodes in topological order, checked once when made.

    Raises
    ------
    CycleError
        If influence runs in a circle; the members are named.
    DataError
        If a link names no node, an id stands twice, or a probability lies outside 0 to 1.
    """

    nodes: tuple[Node, ...]
    place: str = "the network"
    by_id: Mapping[str, Node] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        by_id = {node.id: node for node in self.nodes}
        if len(by_id) != len(self.nodes):
            raise DataError(f"Two nodes of {self.place} share one id; every node needs its own.")
        for node in self.nodes:
            _check_node(node, by_id, self.place)
        object.__setattr__(self, "by_id", by_id)
        object.__setattr__(self, "nodes", _in_order(by_id, self.place))

    def __iter__(self) -> Iterator[Node]:
        return iter(self.nodes)

    def __len__(self) -> int:
        return len(self.nodes)

    def of_kind(self, kind: Kind) -> tuple[Node, ...]:
        """Return the nodes of one kind, in topological order."""
        return tuple(node for node in self.nodes if node.kind == kind)

    @cached_property
    def children(self) -> Mapping[str, tuple[str, ...]]:
        """Ids of the children of every node."""
        found: dict[str, list[str]] = {node.id: [] for node in self.nodes}
        for node in self.nodes:
            for link in node.links:
                found[link.parent].append(node.id)
        return {key: tuple(value) for key, value in found.items()}


def _check_node(node: Node, by_id: Mapping[str, Node], place: str) -> None:
    for name, value in (
        ("leak", node.leak),
        ("strength", node.strength),
        *((f"strength from {k.parent}", k.strength) for k in node.links),
    ):
        if not 0.0 <= value <= 1.0:
            raise DataError(f"The {name} of {node.id} in {place} is {value}; a probability lies between 0 and 1.")
    for link in node.links:
        if link.parent not in by_id:
            raise DataError(f"{node.id} in {place} has the parent {link.parent}, which is no node of it.")


def _in_order(by_id: Mapping[str, Node], place: str) -> tuple[Node, ...]:
    """Sort topologically, keeping the given order where it is free."""
    done: dict[str, Node] = {}
    for start in by_id:
        trail: dict[str, Iterator[Link]] = {}
        current: str | None = start if start not in done else None
        while current is not None:
            links = trail.setdefault(current, iter(by_id[current].links))
            step = next((k.parent for k in links if k.parent not in done), None)
            if step is None:
                trail.pop(current)
                done[current] = by_id[current]
                current = next(reversed(trail), None)
            elif step in trail:
                members = list(trail)
                raise CycleError(members[members.index(step) :][::-1], place)
            else:
                current = step
    return tuple(done.values())
