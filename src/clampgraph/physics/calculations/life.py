"""Calculations of life and reliability."""

from typing import Any, Final

from clampgraph.physics import life
from clampgraph.physics.calculation import Calculation, Input, Output

__all__ = ["CALCULATIONS"]


def _b10d(*, B10D: float, d_op: float, h_op: float, t_cycle: float) -> dict[str, Any]:
    n_op = life.cycle_rate(d_op=d_op, h_op=h_op, t_cycle=t_cycle)
    return {
        "cycles": n_op,
        "mttfd": life.mttfd(B10D=B10D, n_op=n_op),
        "t10d": life.t10d(B10D=B10D, n_op=n_op),
    }


def _weibull(*, eta: float, beta: float, x: float) -> dict[str, Any]:
    return {
        "b10": life.weibull_b10(eta=eta, beta=beta),
        "mean": life.weibull_mean(eta=eta, beta=beta),
        "survival": life.weibull_survival(x=x, eta=eta, beta=beta),
    }


CALCULATIONS: Final = (
    Calculation(
        name="b10d-life",
        title="Mean time to dangerous failure and time of renewal",
        function=_b10d,
        inputs=(
            Input("b10d", "B10D", "ratio", "cycles", "cycles until a tenth has failed dangerously"),
            Input("days", "d_op", "ratio", "1", "working days in a year"),
            Input("hours", "h_op", "time", "h", "working time in a day"),
            Input("cycle-time", "t_cycle", "time", "s", "mean time from one cycle to the next"),
        ),
        outputs=(Output("cycles", "rate", "1/a"), Output("mttfd", "time", "a"), Output("t10d", "time", "a")),
        source="ISO 13849-1, annex C",
        validity="constant failure rate until renewal; the standard caps what a channel may claim",
    ),
    Calculation(
        name="weibull-b10",
        title="Life that nine in ten reach, mean life and survival",
        function=_weibull,
        inputs=(
            Input("scale", "eta", "ratio", "cycles", "characteristic life"),
            Input("shape", "beta", "ratio", "1", "shape: 1 for chance, above 1 for wear"),
            Input("age", "x", "ratio", "cycles", "age at which the survivors are counted", "0 cycles"),
        ),
        outputs=(Output("b10", "ratio", "1"), Output("mean", "ratio", "1"), Output("survival", "ratio", "%")),
        source="IEC 61649",
        validity="two parameters, shape 0.2 to 20; lives in cycles",
    ),
)
