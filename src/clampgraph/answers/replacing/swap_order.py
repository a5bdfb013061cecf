"""The order of a swap in the words of an answer, with its runner-up."""

from clampgraph.answers.models import Value
from clampgraph.answers.replacing.job import Job
from clampgraph.answers.replacing.replacements import AlternativeOut, OrderLineOut, OrderOut, UnmetOut
from clampgraph.replacement.order import Order, next_cheapest

__all__ = ["order_of"]

_CURRENCY = "EUR"


def order_of(job: Job) -> OrderOut:
    """Return the cheapest order, what it leaves unmet, and the runner-up with its difference."""
    order = job.order
    other = next_cheapest(order)
    return OrderOut(
        lines=_lines(job, order),
        from_stock=dict(sorted(order.from_stock.items())),
        unmet=tuple(_unmet(job, line, n) for line, n in sorted(order.unmet.items())),
        parts=_money(order.parts),
        labour_minutes=order.plan.minutes,
        labour=_money(order.labour),
        labour_rate=Value(value=job.economy.labour_rate, unit=f"{_CURRENCY}/h"),
        total=_money(order.total),
        optimal=order.proven,
        alternatives=() if other is None else (_alternative(job, order, other),),
    )


def _money(amount: float) -> Value:
    return Value(value=round(amount, 2), unit=_CURRENCY)


def _lines(job: Job, order: Order) -> tuple[OrderLineOut, ...]:
    items = job.site.catalogue.items
    return tuple(
        OrderLineOut(
            mpn=mpn,
            label=items[mpn].label,
            kind=items[mpn].kind,
            quantity=n,
            price=Value(value=items[mpn].price or 0.0, unit=items[mpn].currency),
            lead_time=None if items[mpn].lead_days is None else Value(value=items[mpn].lead_days or 0.0, unit="d"),
            serves=job.serves(order, mpn),
        )
        for mpn, n in sorted(order.bought.items())
    )


def _unmet(job: Job, line: str, pieces: int) -> UnmetOut:
    item = job.change.items.get(line) or job.site.fitted.get(line)
    what = "no item is listed for it" if item is None else f"nobody sells {item.mpn} or anything that fits in its place"
    return UnmetOut(
        position=line,
        item=None if item is None else item.mpn,
        quantity=pieces,
        text=(
            f"{line}: {what}; take the number from the machine papers, count it as stock if it lies there, "
            f"or ask 'fits' what goes there with changes."
        ),
    )


def _alternative(job: Job, order: Order, other: Order) -> AlternativeOut:
    gained = {m: n for m, n in other.bought.items() if n > order.bought.get(m, 0)}
    dropped = {m: n for m, n in order.bought.items() if n > other.bought.get(m, 0)}
    minutes = other.plan.minutes - order.plan.minutes
    return AlternativeOut(
        lines=_lines(job, other),
        labour_minutes=other.plan.minutes,
        total=_money(other.total),
        difference=_money(other.total - order.total),
        why=(
            f"takes {_list(gained) or 'what is in stock'} instead of {_list(dropped)}: "
            f"parts {other.parts - order.parts:+.2f} {_CURRENCY}, labour {minutes:+g} min "
            f"({other.labour - order.labour:+.2f} {_CURRENCY} at {job.economy.labour_rate:g} {_CURRENCY}/h)"
        ),
    )


def _list(bought: dict[str, int]) -> str:
    return ", ".join(sorted(bought))
