"""Does it fit, what is swapped with it, what to order, and in which order to work.

A `Site` is one generation of one assembly as replacement sees it: the builder's item at every position, what each
position asks for, and the joints that hold positions together.
All three follow from what is told once of component types and from the connections of the assembly;
an assembly's own statements go before what its types say.

**Fit.** A position asks for features; an item offers features; a rule compares the two.
With R the value asked for, O the one offered and T the tolerance:

=================  =========================================================================
equal              O = R, in one unit
at-least           O ≥ R
at-most            O ≤ R
within-tolerance   abs(O - R) ≤ T
complementary      the packs say that R and O belong together
=================  =========================================================================

R is what the assembly states for the position, else what the builder's own item offers there; where a requirement is
relative to a neighbour, R is what the neighbour's item offers.
A feature is *unknown* if R or O is missing or the two cannot be compared.
An item *does not fit* if a feature that needs no neighbour fails;
else it is *unknown* if any feature is;
else it *fits* if every feature does;
else it *fits with changes* if some choice of items for the neighbours leaves nothing broken,
and does not fit if none does.

**Access.** Write J(p) for the joints that hold position p, B(j) for the joints that must be open before joint j on
the chosen route, and D(j) for the positions that opening j spoils.
The closure of a set of positions P is the least pair of sets (R, O) with P ⊆ R; J(p) ⊆ O for p in R; B(j) ⊆ O and
D(j) ⊆ R for j in O.
For fixed routes it is monotone in P and idempotent, being a least fixed point, and it is reached after finitely many
steps whatever circles the data holds, for the sets are finite and only grow.
The routes are those of least time, the minutes to open and close all of O; ties go to fewer positions, then to
the names that come first.
If P has the closure (R, O) on the best routes, then R has the same closure on the same best routes:
on any routes the closure of R contains that of P, so it cannot be cheaper, and on the best ones the two are equal.
So what must be renewed with what must be renewed is nothing new.

**Change.** Items given go in; a requirement between neighbours that they break must be mended by another item at
a position that is still free.
Of all choices that leave nothing broken, the one of least price and labour is taken, found by branch and bound.

**Renewal.** A position that shares a medium with a renewed one is renewed in the same visit if waiting is expected to
cost more:
chance to fail within the horizon times (another visit + parts + labour by itself) > parts + extra labour now.

**Order.** An integer programme over singles, kits, groups and exchange units, see `order`; groups and exchange units
stay closed inside, so they save joints, and their new fittings are quicker to connect than old ones are to clean.

**Sequence.** Joints are opened in an order in which each comes after all that must be open before it, ties by name,
and closed in the reverse order.

`facts` holds the values, `reading` and `site` read them, `fit`, `access`, `change`, `renewal`, `order` and `work` are
the six steps above.
"""

from clampgraph.replacement.facts import Catalogue, Item, Site

__all__ = ["Catalogue", "Item", "Site"]
