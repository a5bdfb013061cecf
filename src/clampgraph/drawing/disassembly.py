"""What must come off before what: the joints of an assembly as a picture, with minutes, tools and cautions."""

import string
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

from clampgraph.drawing.outline import Entry, Key, Picture, outline
from clampgraph.replacement.facts import Joint

__all__ = ["Warned", "disassembly", "in_order"]


@dataclass(frozen=True, slots=True)
class Warned:
    """The cautions of each joint by its identifier, and the text of each caution, in the order to be told."""

    at: Mapping[str, tuple[str, ...]]
    texts: Mapping[str, str]


@dataclass(frozen=True)
class _Plan:
    """Joints in the order of the picture, each with its number and the joint it hangs from."""

    joints: Mapping[str, Joint]
    parents: Mapping[str, str | None]
    order: tuple[str, ...]
    letters: Mapping[str, str]
    warned: Warned

    @cached_property
    def waiting(self) -> frozenset[str]:
        """The joints that wait for another, or that another waits for."""
        return in_order(self.joints)

    def number(self, joint: str) -> int:
        """Return the number of a joint in the picture."""
        return self.order.index(joint) + 1


def disassembly(title: str, unit: str, joints: Mapping[str, Joint], warned: Warned, name: str = "") -> str:
    """Draw joints as SVG, each below what must be open before it.

    Parameters
    ----------
    title, unit
        What is taken apart, and of which assembly.
    joints
        The joints to show; what must be open before them and is not among them is not told.
    warned
        Cautions about stored energy, by joint.
    name
        Stem of its identifiers in a page.
    """
    used = {caution for joint in joints for caution in warned.at.get(joint, ())}
    letters = dict(zip([c for c in warned.texts if c in used], string.ascii_uppercase, strict=False))
    parents = _parents(joints)
    plan = _Plan(joints, parents, _order(joints, parents), letters, warned)
    total = sum(joint.minutes for joint in joints.values())
    entries = tuple(_entry(plan, joint) for joint in plan.order)
    told = [f"{n}: {_sentence(plan, joint)}" for n, joint in enumerate(plan.order, 1)]
    subtitle = f"{unit}; {len(joints)} joints, {total:g} min to open and close all of them"
    return outline(Picture(title, subtitle, ". ".join(told) + ".", entries, tuple(_legend(plan)), name))


def in_order(joints: Mapping[str, Joint]) -> frozenset[str]:
    """Return the joints that wait for another, or that another waits for."""
    found: set[str] = set()
    for name, joint in joints.items():
        always, routes = _ways(joint, joints)
        before = always.union(*routes)
        found |= before | ({name} if before else set())
    return frozenset(found)


def _ways(joint: Joint, joints: Mapping[str, Joint]) -> tuple[frozenset[str], tuple[frozenset[str], ...]]:
    """Return the shown joints that must be open before a joint in any case, and the ways of which one must be open."""
    shown = frozenset(joints)
    routes = tuple(route & shown for route in joint.routes if route <= shown)
    if len(routes) == 1:
        return (joint.after & shown) | routes[0], ()
    return joint.after & shown, routes


def _parents(joints: Mapping[str, Joint]) -> dict[str, str | None]:
    """Hang each joint from the deepest of those before it."""
    depth: dict[str, int] = {}

    def deep(name: str, above: frozenset[str] = frozenset()) -> int:
        if name in above:
            return 0
        if name not in depth:
            always, routes = _ways(joints[name], joints)
            before = always.union(*routes) - {name}
            depth[name] = 1 + max((deep(b, above | {name}) for b in before), default=-1)
        return depth[name]

    found: dict[str, str | None] = {}
    for name, joint in joints.items():
        always, routes = _ways(joint, joints)
        before = sorted(always or frozenset().union(*routes), key=lambda b: (-deep(b), b))
        found[name] = next((b for b in before if deep(b) < deep(name)), None)
    return found


def _order(joints: Mapping[str, Joint], parents: Mapping[str, str | None]) -> tuple[str, ...]:
    """Walk each tree from its root: first what others also wait for, then the larger trees, last what stands alone."""
    awaited = {b for joint in joints.values() for ways in (_ways(joint, joints),) for b in ways[0].union(*ways[1])}
    below: dict[str | None, list[str]] = {}
    for name in joints:
        below.setdefault(parents[name], []).append(name)

    def size(name: str) -> int:
        return 1 + sum(size(other) for other in below.get(name, ()))

    def walk(name: str) -> Iterator[str]:
        yield name
        for other in sorted(below.get(name, ()), key=lambda o: (size(o), joints[o].label)):
            yield from walk(other)

    def rank(name: str) -> tuple[int, int, str]:
        first = 0 if name in awaited and size(name) == 1 else 1
        return first, -size(name), joints[name].label

    roots = sorted(below.get(None, ()), key=rank)
    return tuple(name for root in roots for name in walk(root))


def _entry(plan: _Plan, name: str) -> Entry:
    joint, parent = plan.joints[name], plan.parents[name]
    signs = " ".join(plan.letters[c] for c in plan.warned.at.get(name, ()) if c in plan.letters)
    label, _, where = joint.label.partition(" (")
    own = f"{where.rstrip(')')}, " if where else ""
    lines = [f"{own}{joint.kind.replace('-', ' ')}" + (f"; {', '.join(joint.tools)}" if joint.tools else "")]
    if joint.disturbs:
        lines.append(f"renew: {', '.join(sorted(joint.disturbs))}")
    lines += _further(plan, name)
    return Entry(
        None if parent is None else plan.order.index(parent),
        f"{plan.number(name)} {label}",
        f"caution {signs}" if signs else "",
        tuple(lines),
        f"{joint.minutes:g} min",
        "caution" if signs else "step",
        "open from top to bottom" if name in plan.waiting else "each of these opens by itself",
        loose=parent is not None and len(_ways(joint, plan.joints)[1]) > 1,
    )


def _further(plan: _Plan, name: str) -> Iterator[str]:
    """Tell in numbers what the lines do not show: further joints that come first, and ways to choose from."""
    always, routes = _ways(plan.joints[name], plan.joints)
    rest = sorted(plan.number(other) for other in always - {plan.parents[name]})
    if rest:
        yield f"also after {_listed(rest)}"
    if routes:
        yield f"after {' or after '.join(_listed(sorted(plan.number(o) for o in way)) for way in routes)}"


def _listed(numbers: Sequence[int]) -> str:
    return " and ".join(str(n) for n in numbers)


def _sentence(plan: _Plan, name: str) -> str:
    joint = plan.joints[name]
    always, routes = _ways(joint, plan.joints)
    before = [str(n) for n in sorted(plan.number(other) for other in always)]
    told = f"{joint.label}, {joint.minutes:g} min"
    if before:
        told += f", after {' and '.join(before)}"
    if routes:
        told += f", after {' or after '.join(_listed(sorted(plan.number(o) for o in way)) for way in routes)}"
    signs = [plan.letters[c] for c in plan.warned.at.get(name, ()) if c in plan.letters]
    return told + (f", caution {' '.join(signs)}" if signs else "")


def _legend(plan: _Plan) -> Iterator[Key]:
    yield Key("step", "joint to open, with its kind, tools, and minutes to open and close it")
    yield Key("joined", "what hangs from a joint can be opened only after it")
    if any(len(_ways(j, plan.joints)[1]) > 1 for j in plan.joints.values()):
        yield Key("loose", "one way of several leads there")
    if plan.letters:
        yield Key("caution", "stored energy or another danger: read the caution before opening")
    for caution, letter in plan.letters.items():
        yield Key(letter, plan.warned.texts[caution])
