"""The cheapest order: singles, kits, groups and exchange units that cover a list, labour counted.

An integer programme, solved to proven optimality by HiGHS. With x pieces bought of every offer, y pieces of item i
used for the lines of one kind, and one plan of work chosen among several:

- every line gets its pieces from items it accepts;
- no more of an item is used than stock and the contents of what is bought provide;
- a group or exchange unit is bought exactly where the chosen plan fits it as a whole;
- prices of what is bought plus labour of the plan are least.

Lines that no offer joins, directly or through others, are solved apart: the price of the whole is the sum of the parts.
"""

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

__all__ = ["Demand", "Offer", "Order", "Plan", "cheapest_order", "next_cheapest"]

_UNMET = 1e6
"""Price [EUR] of leaving one piece unmet, far above any part, so that it happens only where nobody sells it."""
_HUB = ""
"""Stands for the plans of work, which join everything that is fitted whole."""
_BATCH = 160
"""Offers that are solved in one programme although nothing joins them, for a call costs more than they do."""


@dataclass(frozen=True, slots=True)
class Demand:
    """A line that needs pieces of any of the accepted items, the preferred one first."""

    line: str
    accepts: tuple[str, ...]
    pieces: int


@dataclass(frozen=True, slots=True)
class Offer:
    """Something on sale: what one piece of it holds, its price [EUR], and whether a plan must fit it whole."""

    mpn: str
    price: float
    contents: Mapping[str, int]
    whole: bool = False


@dataclass(frozen=True, slots=True)
class Plan:
    """A way to do the work: the groups fitted as a whole, and the minutes it takes."""

    groups: frozenset[str]
    minutes: float


@dataclass(frozen=True)
class Order:
    """What to buy, what to take from stock, which item serves each line, and what it costs [EUR].

    `unmet` counts the missing pieces by line; `proven` says that the solver proved it cheapest.
    """

    bought: Mapping[str, int]
    from_stock: Mapping[str, int]
    supply: Mapping[str, Mapping[str, int]]
    unmet: Mapping[str, int]
    plan: Plan
    parts: float
    labour: float
    proven: bool
    problem: "_Problem" = field(repr=False, compare=False)
    shares: tuple["Order", ...] = field(default=(), repr=False, compare=False)

    @property
    def total(self) -> float:
        """Parts and labour together [EUR]."""
        return self.parts + self.labour


@dataclass(frozen=True)
class _Problem:
    """The programme in sorted order, so that nothing depends on the order of the data."""

    demands: tuple[Demand, ...]
    offers: tuple[Offer, ...]
    plans: tuple[Plan, ...]
    stock: Mapping[str, int]
    per_minute: float
    kinds: tuple[tuple[str, ...], ...]
    pieces: tuple[int, ...]
    uses: tuple[tuple[str, int], ...]

    @property
    def sold(self) -> frozenset[str]:
        """Items that some offer provides."""
        return frozenset(item for offer in self.offers for item in offer.contents)


def cheapest_order(
    demands: Sequence[Demand], offers: Sequence[Offer], plans: Sequence[Plan], stock: Mapping[str, int],
    per_minute: float,
) -> Order:  # fmt: skip
    """Return the cheapest order that covers every line as far as anything on sale or in stock can.

    Parameters
    ----------
    demands
        The lines.
    offers
        What is on sale, every group of a plan among it.
    plans
        Ways to do the work, at least one.
    stock
        Pieces in hand, by item.
    per_minute
        Labour [EUR/min].
    """
    wanted: dict[tuple[str, ...], int] = {}
    for demand in demands:
        wanted[demand.accepts] = wanted.get(demand.accepts, 0) + demand.pieces
    kinds = tuple(sorted(wanted))
    accepted = {item for kind in kinds for item in kind}
    useful = [o for o in offers if o.whole or accepted & set(o.contents)]
    problem = _Problem(
        tuple(sorted(demands, key=lambda d: d.line)),
        tuple(sorted(useful, key=lambda o: o.mpn)),
        tuple(sorted(plans, key=lambda p: (len(p.groups), sorted(p.groups)))),
        {item: n for item, n in sorted(stock.items()) if item in accepted and n > 0},
        per_minute,
        kinds,
        tuple(wanted[kind] for kind in kinds),
        tuple((item, index) for index, kind in enumerate(kinds) for item in kind),
    )
    shares = tuple(replace(_solve(_thrifty(share), ()), problem=share) for share in _shares(problem))
    return _joined(problem, shares)


def next_cheapest(order: Order) -> Order | None:
    """Return the cheapest order that does without at least one of the things bought; None if there is none."""
    best: Order | None = None
    for n, share in enumerate(order.shares):
        if not share.bought:
            continue
        other = _solve(share.problem, tuple(sorted(share.bought)))
        whole = _joined(order.problem, (*order.shares[:n], other, *order.shares[n + 1 :]))
        sound = sum(whole.unmet.values()) <= sum(order.unmet.values())
        if sound and (best is None or whole.total < best.total):
            best = whole
    return best


def _thrifty(problem: _Problem) -> _Problem:
    """Leave out single items that a cheaper one replaces wherever they are accepted; no cheapest order buys them."""
    kinds: dict[str, set[tuple[str, ...]]] = {}
    for kind in problem.kinds:
        for item in kind:
            kinds.setdefault(item, set()).add(kind)
    single = {o.mpn: (o.price, o.mpn) for o in problem.offers if not o.whole and dict(o.contents) == {o.mpn: 1}}
    beaten = {
        mpn
        for mpn, cost in single.items()
        if any(single.get(i, cost) < cost and kinds[mpn] <= kinds[i] for kind in kinds[mpn] for i in kind)
    }
    return replace(problem, offers=tuple(o for o in problem.offers if o.mpn not in beaten))


def _shares(problem: _Problem) -> list[_Problem]:
    """Split a programme into parts that share nothing; the first holds the plans and every group."""
    leader: dict[str, str] = {}

    def lead(name: str) -> str:
        while leader.setdefault(name, name) != name:
            leader[name] = name = leader[leader[name]]
        return name

    for tie in (*problem.kinds, *_ties(problem)):
        for name in tie[1:]:
            leader[lead(name)] = lead(tie[0])
    sizes = Counter(lead(offer_items[0]) for offer_items in _ties(problem))
    hub = lead(_HUB)
    batches: list[set[str]] = [{hub}]
    filled = sizes[hub]
    for name in sorted({lead(kind[0]) for kind in problem.kinds} - {hub}):
        if filled >= _BATCH:
            batches.append(set())
            filled = 0
        batches[-1].add(name)
        filled += sizes[name]
    return [_share(problem, batch, lead, first=n == 0) for n, batch in enumerate(batches)]


def _ties(problem: _Problem) -> list[tuple[str, ...]]:
    """Return what each offer joins: the accepted items it holds, and the plans if it is fitted whole."""
    accepted = {item for kind in problem.kinds for item in kind}
    ties = [
        (*((_HUB,) if offer.whole else ()), *(i for i in sorted(offer.contents) if i in accepted))
        for offer in problem.offers
    ]
    return [tie for tie in ties if tie]


def _share(problem: _Problem, batch: set[str], lead: Callable[[str], str], *, first: bool) -> _Problem:
    kinds = [n for n, kind in enumerate(problem.kinds) if lead(kind[0]) in batch]
    mine = {problem.kinds[n] for n in kinds}
    items = {item for kind in mine for item in kind}
    return _Problem(
        tuple(d for d in problem.demands if d.accepts in mine),
        tuple(o for o in problem.offers if (o.whole and first) or items & set(o.contents)),
        problem.plans if first else (Plan(frozenset(), 0.0),),
        {item: n for item, n in problem.stock.items() if item in items},
        problem.per_minute,
        tuple(problem.kinds[n] for n in kinds),
        tuple(problem.pieces[n] for n in kinds),
        tuple((item, n) for n, index in enumerate(kinds) for item in problem.kinds[index]),
    )


def _joined(problem: _Problem, shares: tuple[Order, ...]) -> Order:
    """Put the orders of the parts together; the plan of work is that of the first."""
    return Order(
        dict(sorted((m, n) for share in shares for m, n in share.bought.items())),
        dict(sorted((m, n) for share in shares for m, n in share.from_stock.items())),
        {line: got for share in shares for line, got in share.supply.items()},
        {line: n for share in shares for line, n in share.unmet.items()},
        shares[0].plan,
        round(sum(share.parts for share in shares), 2),
        shares[0].labour,
        all(share.proven for share in shares),
        problem,
        shares,
    )


def _solve(problem: _Problem, without: tuple[str, ...]) -> Order:
    """Solve the programme; of the offers named in `without`, at least one may not be bought."""
    from scipy.optimize import Bounds, LinearConstraint, milp  # noqa: PLC0415 - slow to import, rarely needed
    from scipy.sparse import coo_array  # noqa: PLC0415 - the same

    rows = _Rows(problem, without)
    low, high = np.array(rows.low), np.array(rows.high)
    matrix = coo_array((rows.values, (rows.row, rows.column)), shape=(len(low), rows.width)).tocsr()
    result: Any = milp(
        rows.cost(),
        integrality=rows.whole(),
        bounds=Bounds(np.zeros(rows.width), rows.upper()),
        constraints=LinearConstraint(matrix, low, high),
        options={"mip_rel_gap": 0.0, "time_limit": 60.0},
    )
    return rows.read(result.x, proven=result.status == 0)


class _Rows:
    """Columns and rows of the programme: offers, plans, uses, unmet kinds, and switches for forbidden offers."""

    def __init__(self, problem: _Problem, without: tuple[str, ...]) -> None:
        self.problem, self.without = problem, without
        sizes = [len(problem.offers), len(problem.plans), len(problem.uses), len(problem.kinds), len(without)]
        self.start = [sum(sizes[:n]) for n in range(len(sizes))]
        self.width = sum(sizes)
        self.row: list[int] = []
        self.column: list[int] = []
        self.values: list[float] = []
        self.low: list[float] = []
        self.high: list[float] = []
        self.most = float(max(1, sum(problem.pieces)))
        self._cover()
        self._provide()
        self._plan()
        self._forbid()

    def _add(self, terms: Mapping[int, float], low: float, high: float) -> None:
        self.row.extend([len(self.low)] * len(terms))
        self.column.extend(terms)
        self.values.extend(terms.values())
        self.low.append(low)
        self.high.append(high)

    def _cover(self) -> None:
        terms: list[dict[int, float]] = [{self.start[3] + k: 1.0} for k in range(len(self.problem.kinds))]
        for n, (_, kind) in enumerate(self.problem.uses):
            terms[kind][self.start[2] + n] = 1.0
        for kind, pieces in enumerate(self.problem.pieces):
            self._add(terms[kind], float(pieces), np.inf)

    def _provide(self) -> None:
        terms: dict[str, dict[int, float]] = {}
        for n, (item, _) in enumerate(self.problem.uses):
            terms.setdefault(item, {})[self.start[2] + n] = 1.0
        for n, offer in enumerate(self.problem.offers):
            for item, count in offer.contents.items():
                if item in terms:
                    terms[item][n] = -float(count)
        for item, these in terms.items():
            self._add(these, -np.inf, float(self.problem.stock.get(item, 0)))

    def _plan(self) -> None:
        plans = range(len(self.problem.plans))
        self._add({self.start[1] + p: 1.0 for p in plans}, 1.0, 1.0)
        for n, offer in enumerate(self.problem.offers):
            if offer.whole:
                chosen = {self.start[1] + p: -1.0 for p in plans if offer.mpn in self.problem.plans[p].groups}
                self._add({n: 1.0, **chosen}, 0.0, 0.0)

    def _forbid(self) -> None:
        place = {offer.mpn: n for n, offer in enumerate(self.problem.offers)}
        for s, mpn in enumerate(self.without):
            self._add({place[mpn]: 1.0, self.start[4] + s: -self.most}, -np.inf, 0.0)
        if self.without:
            self._add({self.start[4] + s: 1.0 for s in range(len(self.without))}, -np.inf, len(self.without) - 1.0)

    def cost(self) -> Any:
        """Return the price of every column."""
        c = np.zeros(self.width)
        c[: self.start[1]] = [offer.price for offer in self.problem.offers]
        c[self.start[1] : self.start[2]] = [p.minutes * self.problem.per_minute for p in self.problem.plans]
        c[self.start[3] : self.start[4]] = _UNMET
        return c

    def whole(self) -> Any:
        """Say which columns are whole numbers; uses follow from the rest as a flow and need not be told."""
        kinds = np.ones(self.width)
        kinds[self.start[2] : self.start[3]] = 0
        return kinds

    def upper(self) -> Any:
        """Return the greatest value of every column; only what nobody sells may stay unmet."""
        most = np.full(self.width, self.most)
        most[self.start[1] : self.start[2]] = 1.0
        sold = self.problem.sold
        for k, kind in enumerate(self.problem.kinds):
            most[self.start[3] + k] = 0.0 if sold & set(kind) and not self._only_whole(kind) else self.most
        most[self.start[4] :] = 1.0
        return most

    def _only_whole(self, kind: tuple[str, ...]) -> bool:
        return not any(
            set(kind) & set(o.contents) for o in self.problem.offers if not o.whole and o.mpn not in self.without
        )

    def read(self, x: Any, *, proven: bool) -> Order:
        """Turn the solution into an order; pieces go to lines in the order of their names."""
        p = self.problem
        bought = {o.mpn: round(x[n]) for n, o in enumerate(p.offers) if round(x[n]) > 0}
        plan = p.plans[int(np.argmax(x[self.start[1] : self.start[2]]))]
        left: list[dict[str, int]] = [{} for _ in p.kinds]
        used: dict[str, int] = {}
        for n, (item, kind) in enumerate(p.uses):
            count = round(x[self.start[2] + n])
            if count > 0:
                left[kind][item] = count
                used[item] = used.get(item, 0) + count
        supply, unmet = _deal(p, left)
        provided: dict[str, int] = {}
        for offer in p.offers:
            for item, count in offer.contents.items():
                provided[item] = provided.get(item, 0) + count * bought.get(offer.mpn, 0)
        stock = {i: min(n - provided.get(i, 0), p.stock.get(i, 0)) for i, n in used.items() if n > provided.get(i, 0)}
        parts = sum(o.price * bought.get(o.mpn, 0) for o in p.offers)
        return Order(
            bought, stock, supply, unmet, plan, round(parts, 2), round(plan.minutes * p.per_minute, 2), proven, p
        )


def _deal(problem: _Problem, left: list[dict[str, int]]) -> tuple[dict[str, dict[str, int]], dict[str, int]]:
    index = {kind: n for n, kind in enumerate(problem.kinds)}
    supply: dict[str, dict[str, int]] = {}
    unmet: dict[str, int] = {}
    for demand in problem.demands:
        pile, need, got = left[index[demand.accepts]], demand.pieces, {}
        for item in demand.accepts:
            take = min(need, pile.get(item, 0))
            if take > 0:
                got[item] = take
                pile[item] -= take
                need -= take
        supply[demand.line] = got
        if need > 0:
            unmet[demand.line] = need
    return supply, unmet
