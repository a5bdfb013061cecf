"""The least-cost consistent choice against all choices there are."""

from itertools import product

from hypothesis import given

from clampgraph.replacement.access import least_opening
from clampgraph.replacement.change import least_change
from replacement.sites import chains

RATE = 0.5


def consistent(site, around):
    return all(
        around[r.position].features["left"] == around[r.neighbour].features["left"]
        for r in site.requirements
        if r.neighbour is not None
    )


@given(chains())
def test_no_cheaper_consistent_choice_exists(drawn):
    """Branch and bound finds what trying everything finds, or nothing where there is nothing."""
    site, places, items = drawn
    given_item = items[0]
    sound = [None, *(i for i in items if i.features["own"].value == "a")]
    costs = []
    for picks in product(sound, repeat=len(places) - 1):
        chosen = {places[0]: given_item} | {p: i for p, i in zip(places[1:], picks, strict=True) if i is not None}
        if consistent(site, {**site.fitted, **chosen}):
            costs.append(RATE * least_opening(site, chosen).minutes + sum(i.price for i in chosen.values()))
    found = least_change(site, {places[0]: given_item}, (), RATE)
    assert (found is None) == (not costs)
    if found is not None:
        assert abs(found.cost - min(costs)) < 1e-9
        assert consistent(site, {**site.fitted, **found.items})


@given(chains())
def test_like_for_like_changes_nothing_else(drawn):
    """Renewing a part as it was built leaves every neighbour alone."""
    site, places, _ = drawn
    found = least_change(site, {}, places[:1], RATE)
    assert found.items == {}
    assert found.opening.positions == {places[0]}
