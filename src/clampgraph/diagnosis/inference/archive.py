"""Compiled circuits kept on disk between runs, so that a command need not compile them again.

A circuit is kept under a digest of everything that it was compiled from: the network, what is asked, the leaves
and the code of this room. So a changed pack or another version never meets a circuit that is not its own.
"""

import json
from collections.abc import Callable, Iterator, Sequence
from functools import cache
from hashlib import blake2b
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from clampgraph.diagnosis.inference.layout import Circuit, Pull, Round, Run
from clampgraph.diagnosis.inference.leaves import Leaf, LeafPlan
from clampgraph.diagnosis.inference.solver import Solver
from clampgraph.diagnosis.network import Network
from clampgraph.kept import Kind, folders

__all__ = ["KIND", "digest", "kept"]

KIND = Kind("clampgraph-circuit-1", ".circuit", most_files=1000, most_bytes=128 * 2**20)

_WORD = 8
_SLOTS, _PLACES, _NUMBERS = np.dtype("<i4"), np.dtype("<i8"), np.dtype("<f8")
_COLUMNS: dict[str, np.dtype[Any]] = {
    "left": _SLOTS, "right": _SLOTS, "weight": _NUMBERS, "out": _SLOTS, "other": _SLOTS, "share": _NUMBERS,
    "slot": _SLOTS, "indicators": _PLACES, "roots": _PLACES, "part": _PLACES,
}  # fmt: skip


def digest(network: Network, asked: Sequence[str], leaves: Sequence[str]) -> str:
    """Return what tells apart all that circuits are compiled from, as 32 hexadecimal digits."""
    nodes = [
        (node.id, node.gate, node.leak, node.strength, [(link.parent, link.strength) for link in node.links])
        for node in network
    ]
    told = json.dumps([nodes, list(asked), list(leaves)], separators=(",", ":"))
    return blake2b(told.encode(), digest_size=16, key=_code()).hexdigest()


@cache
def _code() -> bytes:
    """Return a digest of the code that compiles."""
    texts = (file.read_bytes() for file in sorted(Path(__file__).parent.glob("*.py")))
    return blake2b(b"\0".join((np.__version__.encode(), *texts)), digest_size=32).digest()


def kept(name: str, make: Callable[[], LeafPlan]) -> LeafPlan:
    """Return the circuit that is kept under a name; made, and kept where anything can be written, if there is none."""
    places = folders()
    body = KIND.read(places, name)
    if body is not None:
        return _unpacked(body)
    plan = make()
    KIND.write(places, name, _packed(plan))
    return plan


def _packed(plan: LeafPlan) -> bytes:
    solver, circuit, leaves = plan.solver, plan.solver.circuit, plan.leaves
    columns = [
        *(getattr(circuit, name).astype(kind, copy=False) for name, kind in _COLUMNS.items()),
        *(column.astype(_PLACES, copy=False) for column in (solver.base, solver.cards, solver.part)),
        np.concatenate([np.empty(0, _PLACES), *(leaf.parents for leaf in leaves)]).astype(_PLACES),
        np.concatenate([np.empty(0, _NUMBERS), *(leaf.weights.ravel() for leaf in leaves)]),
    ]
    plain = {
        "inner": plan.inner,
        "asked": plan.asked,
        "width": solver.width,
        "slots": circuit.slots,
        "rounds": [
            [_ends(step.terms), [_run(run) for run in step.runs], _ends(step.slots), _ends(step.uses),
             [[pull.first, pull.row, pull.count, pull.times, pull.paired] for pull in step.pulls]]
            for step in circuit.rounds
        ],
        "leaves": [leaf.weights.shape for leaf in leaves],
        "columns": [len(column) for column in columns],
    }  # fmt: skip
    return b"".join((json.dumps(plain).encode(), b"\n", *map(_whole_words, columns)))


def _whole_words(column: NDArray[Any]) -> bytes:
    """Return the bytes of a column, filled up so that the next one begins where a processor likes it."""
    return column.tobytes().ljust(-(-column.nbytes // _WORD) * _WORD, b"\0")


def _ends(span: slice) -> list[int]:
    return [span.start, span.stop]


def _run(run: Run) -> list[Any]:
    return [run.first, run.row, run.counts, run.paired]


def _unpacked(body: bytes) -> LeafPlan:
    head, _, rest = body.partition(b"\n")
    plain = json.loads(head)
    kinds = (*_COLUMNS.values(), _PLACES, _PLACES, _PLACES, _PLACES, _NUMBERS)
    columns = _split(bytearray(rest), kinds, plain["columns"])
    rounds = tuple(
        Round(
            slice(*terms),
            tuple(Run(first, row, tuple(counts), paired) for first, row, counts, paired in runs),
            slice(*slots),
            slice(*uses),
            tuple(Pull(*pull) for pull in pulls),
        )
        for terms, runs, slots, uses, pulls in plain["rounds"]
    )
    named = {name: next(columns) for name in _COLUMNS}
    circuit = Circuit(plain["slots"], rounds, **named)
    solver = Solver(circuit, next(columns), next(columns), next(columns), plain["width"])
    leaves = tuple(_leaves(next(columns), next(columns), plain["leaves"]))
    return LeafPlan(solver, leaves, plain["inner"], plain["asked"])


def _split(rest: bytearray, kinds: Sequence[np.dtype[Any]], counts: Sequence[int]) -> Iterator[NDArray[Any]]:
    start = 0
    for kind, count in zip(kinds, counts, strict=True):
        column = np.frombuffer(rest, kind, count, start)
        start += -(-column.nbytes // _WORD) * _WORD
        yield column.astype(kind.newbyteorder("="), copy=False)


def _leaves(parents: NDArray[Any], weights: NDArray[Any], shapes: Sequence[tuple[int, int]]) -> Iterator[Leaf]:
    place = entry = 0
    for rows, columns in shapes:
        many = (columns - 1) // 2
        yield Leaf(parents[place : place + many], weights[entry : entry + rows * columns].reshape(rows, columns))
        place, entry = place + many, entry + rows * columns
