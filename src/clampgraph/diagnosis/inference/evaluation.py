"""Running a circuit: upward for the probability of the evidence, downward for every marginal at once."""

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from clampgraph.diagnosis.inference.elimination import ONE, Index
from clampgraph.diagnosis.inference.layout import Circuit, Uses

__all__ = ["Values", "downward", "downward_one", "upward", "upward_one"]

Values = NDArray[np.float64]

_BLOCK_BYTES = 2**17
"""Products worked on at a time."""


def upward_one(circuit: Circuit, value: Values) -> None:
    """Fill the slots of one case, whose indicators are set."""
    for step in circuit.rounds:
        product = value.take(step.left)
        product *= step.weight
        product *= value.take(step.right)
        for run in step.runs:
            _gather(value, product[run.row : run.row + run.rows], run.first, run.counts)


def upward(circuit: Circuit, value: Values) -> None:
    """Fill the slots of many cases, one a column, block by block."""
    buffer = _Buffer(value)
    for step in circuit.rounds:
        for run in step.runs:
            row = run.row
            for term, count in enumerate(run.counts):
                for begin in range(0, count, buffer.rows):
                    stop = min(begin + buffer.rows, count)
                    rows = slice(row + begin, row + stop)
                    result = value[run.first + begin : run.first + stop]
                    product = buffer.first[: stop - begin] if term else result
                    buffer.multiply(product, (value, step.left[rows]), step.weight[rows])
                    if run.paired:
                        product *= buffer.taken(value, step.right[rows])
                    if term:
                        result += product
                row += count


def _gather(value: Values, product: Values, first: int, counts: tuple[int, ...]) -> None:
    row = counts[0]
    value[first : first + row] = product[:row]
    for count in counts[1:]:
        value[first : first + count] += product[row : row + count]
        row += count


def downward_one(circuit: Circuit, value: Values, slope: Values) -> None:
    """Fill the derivatives of one case."""
    slope[ONE] = 1.0
    for uses in (*(step.uses for step in reversed(circuit.rounds)), circuit.uses):
        product = slope.take(uses.out)
        product *= uses.weight
        product *= value.take(uses.other)
        # Adds in the order of `downward`, so that no case's digits depend on its company.
        slope[uses.first : uses.stop] = np.bincount(uses.slot, product, uses.stop - uses.first)


def downward(circuit: Circuit, value: Values, slope: Values) -> None:
    """Fill the derivatives of many cases, block by block."""
    slope[ONE] = 1.0
    buffer = _Buffer(value, max((pull.times for uses in _downward(circuit) for pull in uses.pulls), default=1))
    for uses in _downward(circuit):
        for pull in uses.pulls:
            step = max(buffer.rows // pull.times, 1)
            for begin in range(0, pull.count, step):
                count = min(step, pull.count - begin)
                row = pull.row + begin * pull.times
                rows = slice(row, row + count * pull.times)
                result = slope[pull.first + begin : pull.first + begin + count]
                product = result if pull.times == 1 else buffer.first[: count * pull.times]
                buffer.multiply(product, (slope, uses.out[rows]), uses.weight[rows])
                if pull.paired:
                    product *= buffer.taken(value, uses.other[rows])
                if pull.times > 1:
                    np.add.reduce(product.reshape(count, pull.times, -1), axis=1, out=result)


def _downward(circuit: Circuit) -> Iterator[Uses]:
    for step in reversed(circuit.rounds):
        yield step.uses
    yield circuit.uses


class _Buffer:
    """Room for the products of a block that stays in the cache of the processor; what is larger waits for memory."""

    def __init__(self, value: Values, least: int = 1) -> None:
        self.rows = max(_BLOCK_BYTES // (value.itemsize * value.shape[1]), 1)
        self.first, self.second = np.empty((2, max(self.rows, least), value.shape[1]), value.dtype)

    @staticmethod
    def multiply(product: Values, source: tuple[Values, Index], weight: Values) -> None:
        """Set a block to the rows of a source, each times its weight."""
        np.take(*source, axis=0, out=product, mode="clip")  # clip spares a buffer; every row exists
        product *= weight[:, None]

    def taken(self, value: Values, rows: Index) -> Values:
        """Return some rows, valid until the next call."""
        return np.take(value, rows, axis=0, out=self.second[: len(rows)], mode="clip")
