"""The order covers every line and no cheaper cover exists: against all covers there are, on small cases."""

from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from clampgraph.replacement.order import Demand, Offer, Plan, cheapest_order, next_cheapest

ITEMS = ("a", "b", "c")
HOURLY = 1.0
NO_GROUP = Plan(frozenset(), 30.0)


@st.composite
def cases(draw):
    demands = [
        Demand(
            f"line-{n}",
            tuple(sorted(draw(st.sets(st.sampled_from(ITEMS), min_size=1, max_size=2)))),
            draw(st.integers(1, 2)),
        )
        for n in range(draw(st.integers(1, 3)))
    ]
    offers = [Offer(i, float(draw(st.integers(1, 9))), {i: 1}) for i in ITEMS]
    offers.append(
        Offer(
            "kit",
            float(draw(st.integers(1, 12))),
            draw(st.dictionaries(st.sampled_from(ITEMS), st.integers(1, 2), min_size=1)),
        )
    )
    offers.append(Offer("group", float(draw(st.integers(1, 12))), {"a": 1, "b": 1}, whole=True))
    plans = [NO_GROUP, Plan(frozenset({"group"}), float(draw(st.integers(20, 40))))]
    stock = draw(st.dictionaries(st.sampled_from(ITEMS), st.integers(0, 2)))
    return demands, offers, plans, stock


def covers(demands, have):
    """Tell whether pieces in hand serve every line, by trying all ways to deal them."""
    if not demands:
        return True
    first, rest = demands[0], demands[1:]
    for split in product(*(range(min(have.get(i, 0), first.pieces) + 1) for i in first.accepts)):
        if sum(split) == first.pieces:
            left = dict(have)
            for item, n in zip(first.accepts, split, strict=True):
                left[item] = left.get(item, 0) - n
            if covers(rest, left):
                return True
    return False


def brute_force(demands, offers, plans, stock):
    """Return the prices of all covers, by what they buy."""
    most = sum(d.pieces for d in demands)
    loose = [o for o in offers if not o.whole]
    found = {}
    for plan in plans:
        for counts in product(range(most + 1), repeat=len(loose)):
            bought = [(o, n) for o, n in zip(loose, counts, strict=True) if n]
            bought += [(o, 1) for o in offers if o.mpn in plan.groups]
            have = dict(stock)
            for offer, n in bought:
                for item, count in offer.contents.items():
                    have[item] = have.get(item, 0) + n * count
            if covers(demands, have):
                price = sum(o.price * n for o, n in bought) + plan.minutes * HOURLY
                key = frozenset(o.mpn for o, _ in bought)
                found[key] = min(price, found.get(key, price))
    return found


@given(cases())
def test_no_cheaper_cover_exists(case):
    """The programme finds the price that trying everything finds, and serves every line."""
    demands, offers, plans, stock = case
    order = cheapest_order(demands, offers, plans, stock, HOURLY)
    assert order.proven
    assert not order.unmet
    assert order.total == pytest.approx(min(brute_force(*case).values()))
    for demand in demands:
        assert sum(order.supply[demand.line].values()) >= demand.pieces
        assert set(order.supply[demand.line]) <= set(demand.accepts)


@given(cases())
def test_the_runner_up_is_the_next_that_does_without_something(case):
    """The alternative is the cheapest order that leaves out at least one thing that was bought."""
    demands, offers, plans, stock = case
    order = cheapest_order(demands, offers, plans, stock, HOURLY)
    other = next_cheapest(order)
    others = [price for key, price in brute_force(*case).items() if not set(order.bought) <= key]
    if not others or not order.bought:
        assert other is None
    else:
        assert other.total == pytest.approx(min(others))
        assert other.total >= order.total - 1e-9
        assert not set(order.bought) <= set(other.bought)


@given(cases(), st.randoms(use_true_random=False))
def test_the_order_of_the_data_changes_nothing(case, random):
    """Lines, offers and plans told in another order give the same order, ties included."""
    demands, offers, plans, stock = case
    first = cheapest_order(demands, offers, plans, stock, HOURLY)
    for these in (demands, offers, plans):
        random.shuffle(these)
    assert cheapest_order(demands, offers, plans, dict(reversed(stock.items())), HOURLY) == first


def test_nothing_to_buy_is_an_empty_order():
    """Without lines there is only the labour."""
    order = cheapest_order([], [Offer("a", 1.0, {"a": 1})], [NO_GROUP], {}, HOURLY)
    assert (order.bought, order.total, order.proven) == ({}, 30.0, True)
    assert next_cheapest(order) is None


def test_a_line_that_nobody_sells_is_named_and_the_rest_is_ordered():
    """An item without an offer leaves its line unmet; the others are served."""
    demands = [Demand("known", ("a",), 1), Demand("strange", ("x",), 2)]
    order = cheapest_order(demands, [Offer("a", 3.0, {"a": 1})], [NO_GROUP], {}, HOURLY)
    assert order.unmet == {"strange": 2}
    assert order.bought == {"a": 1}
    assert order.parts == 3.0


def test_stock_is_used_before_anything_is_bought():
    """What lies on the shelf costs nothing and is counted."""
    order = cheapest_order([Demand("l", ("a",), 3)], [Offer("a", 3.0, {"a": 1})], [NO_GROUP], {"a": 2}, HOURLY)
    assert (order.bought, order.from_stock) == ({"a": 1}, {"a": 2})
