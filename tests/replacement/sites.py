"""Sites nobody drew: positions held by joints with routes, circles and spoiled parts, and items with features."""

from itertools import pairwise
from types import SimpleNamespace

from hypothesis import strategies as st

from clampgraph.replacement.facts import Catalogue, Feature, Item, Joint, Requirement, Site

__all__ = ["catalogue", "chains", "make_site", "sites"]


def catalogue(items=(), matings=()):
    return Catalogue({i.mpn: i for i in items}, {}, frozenset(matings), (), (), {}, {})


def make_site(joints, positions, items=(), requirements=(), fitted=None):
    """Return a site of given joints; every position takes items of the type `part`."""
    names = sorted(positions)
    assembly = SimpleNamespace(
        id="unit", generation=SimpleNamespace(id="gen-1"), positions={p: SimpleNamespace(number=1) for p in names},
    )  # fmt: skip
    return Site(
        assembly, catalogue(items), fitted or {}, dict.fromkeys(names, ("part",)), tuple(requirements),
        {j.id: j for j in joints},
    )  # fmt: skip


@st.composite
def sites(draw):
    """Draw positions and joints that may wait for one another in circles."""
    places = [f"p{n}" for n in range(draw(st.integers(1, 6)))]
    names = [f"j{n}" for n in range(draw(st.integers(0, 7)))]
    some = lambda pool, most: st.frozensets(st.sampled_from(pool), max_size=most) if pool else st.just(frozenset())  # noqa: E731
    joints = []
    for name in names:
        others = [n for n in names if n != name]
        routes = draw(st.lists(some(others, 2), max_size=3, unique=True)) if others else []
        joints.append(
            Joint(
                name, name, "thread", draw(some(places, 2)), draw(st.integers(0, 5)), draw(st.integers(0, 5)),
                disturbs=draw(some(places, 2)), after=draw(some(others, 2)),
                routes=tuple(sorted((r for r in routes if r), key=sorted)),
            )
        )  # fmt: skip
    return make_site(joints, places)


@st.composite
def chains(draw):
    """Draw a row of positions whose neighbours must offer the same word, and items to choose from."""
    places = [f"p{n}" for n in range(draw(st.integers(2, 4)))]
    words = ["a", "b", "c"]
    items = [
        Item(f"i{n}", type="part", price=float(draw(st.integers(1, 9))), features={
            "left": Feature(draw(st.sampled_from(words))), "own": Feature(draw(st.sampled_from(words[:2]))),
        })
        for n in range(draw(st.integers(2, 6)))
    ]  # fmt: skip
    fitted = {
        p: Item(f"fitted-{p}", type="none", price=1.0, features={"left": Feature("a"), "own": Feature("a")})
        for p in places
    }
    asked = [Requirement(f"own-{p}", p, "own", "equal", Feature("a")) for p in places]
    asked += [Requirement(f"{a}-{b}", a, "left", "equal", None, b) for a, b in pairwise(places)]
    joints = [Joint(f"j-{p}", p, "thread", frozenset({p}), 1.0, draw(st.integers(0, 3))) for p in places]
    return make_site(joints, places, items, asked, fitted), places, items
