"""Laws of access: the closure grows, settles and ends; the way in is the cheapest; steps keep every precedence."""

from dataclasses import replace
from itertools import product

from hypothesis import given
from hypothesis import strategies as st

from clampgraph.replacement.access import before, closure, least_opening, opening_order
from clampgraph.replacement.facts import Joint
from replacement.sites import make_site, sites

WANTED = st.frozensets(st.integers(0, 5), max_size=3)


def places(site, wanted):
    return frozenset(f"p{n}" for n in wanted if f"p{n}" in site.types)


def choices(site):
    forks = sorted(j for j in site.joints if len(site.joints[j].routes) > 1)
    for picks in product(*(range(len(site.joints[j].routes)) for j in forks)):
        yield dict(zip(forks, picks, strict=True))


@given(sites(), WANTED, WANTED)
def test_the_closure_is_monotone(site, few, more):
    """Whoever wants more opens and renews no less."""
    for routes in choices(site):
        small, large = closure(site, places(site, few), routes), closure(site, places(site, few | more), routes)
        assert small[0] <= large[0]
        assert small[1] <= large[1]


@given(sites(), WANTED)
def test_the_closure_is_idempotent(site, wanted):
    """What must be renewed with what must be renewed is nothing new, circles or not."""
    for routes in choices(site):
        once = closure(site, places(site, wanted), routes)
        assert closure(site, once[0], routes) == once


@given(sites(), WANTED)
def test_the_whole_opening_is_idempotent(site, wanted):
    """Renewing every position of an answer gives the same answer, ties included."""
    once = least_opening(site, places(site, wanted))
    assert least_opening(site, once.positions) == once


@given(sites(), WANTED)
def test_no_cheaper_way_in_exists(site, wanted):
    """Of all ways that can be walked, the answer takes least time."""
    found = least_opening(site, places(site, wanted))
    times = []
    for routes in choices(site):
        joints = closure(site, places(site, wanted), routes)[1]
        if not opening_order(site, joints, routes)[1]:
            times.append(sum(site.joints[j].minutes for j in joints))
    if times:
        assert not found.stuck
        assert abs(found.minutes - min(times)) < 1e-9
    else:
        assert found.stuck


@given(sites(), WANTED)
def test_joints_open_after_what_must_come_first(site, wanted):
    """The order respects every precedence, and leaves out only joints that wait for one another."""
    found = least_opening(site, places(site, wanted))
    order, stuck = opening_order(site, found.joints, found.routes)
    assert set(order) | stuck == found.joints
    for n, joint in enumerate(order):
        assert before(site.joints[joint], found.routes) <= set(order[:n])


@given(sites(), WANTED, st.randoms(use_true_random=False))
def test_the_order_of_the_data_changes_nothing(site, wanted, random):
    """Joints told in another order give the same answer."""
    names = list(site.joints)
    random.shuffle(names)
    other = replace(site, joints={n: site.joints[n] for n in names})
    assert least_opening(other, places(site, wanted)) == least_opening(site, places(site, wanted))


def test_the_shorter_of_two_ways_is_taken_unless_the_longer_is_open_anyway():
    """A window saves taking the unit off; when it is off for another reason, the window stays shut."""
    window, mount = (
        Joint("window", "", "cover", frozenset(), 2.0, 2.0),
        Joint("mount", "", "screws", frozenset({"body"}), 9.0, 9.0),
    )
    bolt = Joint(
        "bolt", "", "thread", frozenset({"bolt"}), 1.0, 1.0, routes=(frozenset({"window"}), frozenset({"mount"}))
    )
    site = make_site([window, mount, bolt], ["body", "bolt"])
    assert least_opening(site, ["bolt"]).joints == {"bolt", "window"}
    assert least_opening(site, ["bolt", "body"]).joints == {"bolt", "mount"}


def test_joints_that_wait_for_one_another_are_told():
    """A circle in the data ends, and names its joints."""
    one = Joint("one", "", "thread", frozenset({"p"}), 1.0, after=frozenset({"two"}))
    two = Joint("two", "", "thread", frozenset(), 1.0, after=frozenset({"one"}))
    assert least_opening(make_site([one, two], ["p"]), ["p"]).stuck == {"one", "two"}


def test_nothing_wanted_opens_nothing():
    """An empty wish has an empty answer."""
    assert least_opening(make_site([], ["p"]), []).joints == frozenset()
