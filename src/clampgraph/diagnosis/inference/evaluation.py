"""Running a circuit: upward for the probability of the evidence, downward for every marginal at once."""

import numpy as np
from numpy.typing import NDArray

from clampgraph.diagnosis.inference.elimination import ONE
from clampgraph.diagnosis.inference.layout import Circuit

__all__ = ["Values", "downward", "downward_one", "upward", "upward_one"]

Values = NDArray[np.float64]


def upward_one(circuit: Circuit, value: Values) -> None:
    """Fill the slots of one case, whose indicators are set."""
    for step in circuit.rounds:
        product = value.take(step.left)
        product *= step.weight
        product *= value.take(step.right)
        for run in step.runs:
            _gather(value, product[run.row : run.row + run.rows], run.first, run.counts)


def upward(circuit: Circuit, value: Values) -> None:
    """Fill the slots of many cases, one a column."""
    for step in circuit.rounds:
        for run in step.runs:
            rows = slice(run.row, run.row + run.rows)
            product = value.take(step.left[rows], axis=0)
            product *= step.weight[rows, None]
            if run.paired:
                product *= value.take(step.right[rows], axis=0)
            _gather(value, product, run.first, run.counts)


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
        np.add.reduceat(product, uses.starts, out=slope[uses.first : uses.stop])


def downward(circuit: Circuit, value: Values, slope: Values) -> None:
    """Fill the derivatives of many cases."""
    slope[ONE] = 1.0
    for uses in (*(step.uses for step in reversed(circuit.rounds)), circuit.uses):
        for pull in uses.pulls:
            rows = slice(pull.row, pull.row + pull.count * pull.times)
            product = slope.take(uses.out[rows], axis=0)
            product *= uses.weight[rows, None]
            if pull.paired:
                product *= value.take(uses.other[rows], axis=0)
            result = slope[pull.first : pull.first + pull.count]
            if pull.times == 1:
                result[:] = product
            else:
                # Summed case by case in the order of `downward_one`: no case's digits depend on its company.
                alone = product.reshape(pull.count, pull.times, -1).swapaxes(1, 2).reshape(-1)
                result[:] = np.add.reduceat(alone, np.arange(0, alone.size, pull.times)).reshape(result.shape)
