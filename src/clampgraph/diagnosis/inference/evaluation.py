"""Running a circuit: upward for the probability of the evidence, downward for every marginal at once.

Every way of running it does the same multiplications and additions in the same order for each case,
so that no digit depends on the company of a case, on the machine, or on what is installed.
"""

import numpy as np
from numpy.typing import NDArray

from clampgraph.diagnosis.inference.elimination import ONE
from clampgraph.diagnosis.inference.kernels import Meter, loaded
from clampgraph.diagnosis.inference.layout import Circuit, Place

__all__ = ["Values", "downward", "upward"]

Values = NDArray[np.float64]

_BLOCK_BYTES = 2**17
"""Products worked on at a time."""

_METER = Meter()


def upward(circuit: Circuit, value: Values) -> None:
    """Fill the slots, whose indicators are set.

    Parameters
    ----------
    circuit
        What to compute.
    value
        Shape (slots,) for one case, or (slots, cases).
    """
    if value.dtype == np.float64 and _METER.pays(value.size):
        loop, _ = loaded()
        loop(circuit.strips, (circuit.left, circuit.right, circuit.weight), value.reshape(len(value), -1))
    elif value.ndim == 1:
        _upward_one(circuit, value)
    else:
        _upward_many(circuit, value)


def downward(circuit: Circuit, value: Values, slope: Values) -> None:
    """Fill the derivatives; shapes as those of `upward`."""
    slope[ONE] = 1.0
    if value.dtype == np.float64 and _METER.pays(2 * value.size):
        _, loop = loaded()
        uses, shape = (circuit.out, circuit.other, circuit.share), (len(value), -1)
        loop(circuit.draws, uses, value.reshape(shape), slope.reshape(shape))
    elif value.ndim == 1:
        _downward_one(circuit, value, slope)
    else:
        _downward_many(circuit, value, slope)


def _upward_one(circuit: Circuit, value: Values) -> None:
    for step in circuit.rounds:
        product = value.take(circuit.left[step.terms])
        product *= circuit.weight[step.terms]
        product *= value.take(circuit.right[step.terms])
        for run in step.runs:
            row = run.row - step.terms.start
            result = value[run.first : run.first + run.counts[0]]
            for term, count in enumerate(run.counts):
                if term:
                    result[:count] += product[row : row + count]
                else:
                    result[:] = product[row : row + count]
                row += count


def _upward_many(circuit: Circuit, value: Values) -> None:
    """Fill the slots block by block."""
    buffer = _Buffer(value)
    for run in (run for step in circuit.rounds for run in step.runs):
        row = run.row
        for term, count in enumerate(run.counts):
            for begin in range(0, count, buffer.rows):
                stop = min(begin + buffer.rows, count)
                rows = slice(row + begin, row + stop)
                result = value[run.first + begin : run.first + stop]
                product = buffer.first[: stop - begin] if term else result
                buffer.multiply(product, (value, circuit.left[rows]), circuit.weight[rows])
                if run.paired:
                    product *= buffer.taken(value, circuit.right[rows])
                if term:
                    result += product
            row += count


def _downward_one(circuit: Circuit, value: Values, slope: Values) -> None:
    for step in reversed(circuit.rounds):
        product = slope.take(circuit.out[step.uses])
        product *= circuit.share[step.uses]
        product *= value.take(circuit.other[step.uses])
        # Adds in the order of the loops for many cases.
        slope[step.slots] = np.bincount(circuit.slot[step.uses], product, step.slots.stop - step.slots.start)


def _downward_many(circuit: Circuit, value: Values, slope: Values) -> None:
    """Fill the derivatives block by block."""
    pulls = [pull for step in reversed(circuit.rounds) for pull in step.pulls]
    buffer = _Buffer(value, max((pull.times for pull in pulls), default=1))
    for pull in pulls:
        step = max(buffer.rows // pull.times, 1)
        for begin in range(0, pull.count, step):
            count = min(step, pull.count - begin)
            row = pull.row + begin * pull.times
            rows = slice(row, row + count * pull.times)
            result = slope[pull.first + begin : pull.first + begin + count]
            product = result if pull.times == 1 else buffer.first[: count * pull.times]
            buffer.multiply(product, (slope, circuit.out[rows]), circuit.share[rows])
            if pull.paired:
                product *= buffer.taken(value, circuit.other[rows])
            if pull.times > 1:
                np.add.reduce(product.reshape(count, pull.times, -1), axis=1, out=result)


class _Buffer:
    """Room for the products of a block that stays in the cache of the processor; what is larger waits for memory."""

    def __init__(self, value: Values, least: int = 1) -> None:
        self.rows = max(_BLOCK_BYTES // (value.itemsize * value.shape[1]), 1)
        self.first, self.second = np.empty((2, max(self.rows, least), value.shape[1]), value.dtype)

    @staticmethod
    def multiply(product: Values, source: tuple[Values, Place], weight: Values) -> None:
        """Set a block to the rows of a source, each times its weight."""
        np.take(*source, axis=0, out=product, mode="clip")  # clip spares a buffer; every row exists
        product *= weight[:, None]

    def taken(self, value: Values, rows: Place) -> Values:
        """Return some rows, valid until the next call."""
        return np.take(value, rows, axis=0, out=self.second[: len(rows)], mode="clip")
