"""Fit rules against published tables: pipe threads, thread hands, O-rings, retaining rings, ISO 286 fits.

The tables lie in `data/standards` with a mark and a rule for each row; known errors of public tables are held off by
those rules, which are tested again here where a fit depends on them.
"""

import csv
from dataclasses import replace
from itertools import pairwise

import pytest
from pressfit import fit as iso_286

from clampgraph import paths
from clampgraph.answers.replacing.fits import place
from clampgraph.answers.replacing.workshop import workshop
from clampgraph.physics.threads import parse_designation
from clampgraph.replacement.facts import Feature


def table(name):
    lines = (paths.data() / "standards" / f"{name}.csv").read_text("utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


PIPES = table("pipe-threads")
RINGS = {name: table(f"retaining-rings-din-{name}") for name in ("471", "472")}
O_RINGS = {row["size"]: row for row in table("o-rings-iso-3601-1")}


@pytest.fixture(scope="module")
def tandem(library):
    return workshop(library).site(library.assembly("brannoch-40t", "gen-2"))


def verdict(library, site, position, **features):
    item = site.fitted[position]
    told = {name.replace("_", "-"): value for name, value in features.items()}
    return place(library, site, position, replace(item, mpn="TRIAL", features={**item.features, **told}))


@pytest.mark.parametrize("row", PIPES, ids=[f"{r['family']} {r['size']}" for r in PIPES])
def test_only_the_same_pipe_thread_fits(library, tandem, row):
    """ISO 228-1, ISO 7-1, ASME B1.20.1: of every thread in the table only G 3/8 goes to a G 3/8 port."""
    found = verdict(library, tandem, "main-valve", port_family=Feature(row["family"]), port_size=Feature(row["size"]))
    assert (found.verdict == "fits") == ((row["family"], row["size"]) == ("G", "3/8"))


@pytest.mark.parametrize("size", ["1/2", "3/4"])
def test_equal_threads_to_the_inch_are_no_fit(size):
    """ISO 228-1 and ASME B1.20.1 both cut 14 to the inch in 1/2 and 3/4, at flanks of 55 and 60 degrees."""
    rows = {r["family"]: r for r in PIPES if r["size"] == size}
    assert float(rows["G"]["tpi"]) == float(rows["NPT"]["tpi"]) == 14.0
    assert (rows["G"]["flank_angle_deg"], rows["NPT"]["flank_angle_deg"]) == ("55", "60")


@pytest.mark.parametrize(("text", "expected"), [
    ("M16x1.5-LH", "fits"), ("M16x1.5 LH-6g", "fits"), ("M16x1.5-LH-6g", "fits"), ("M16x1.5-6g-LH", "fits"),
    ("M16x1.5", "does-not-fit"), ("M16x1.5-6g", "does-not-fit"), ("M16x2-LH", "does-not-fit"),
    ("M16-LH", "does-not-fit"), ("M14x1.5-LH", "does-not-fit"),
])  # fmt: skip
def test_both_spellings_of_left_hand_fit_alike(library, tandem, text, expected):
    """ISO 965-1: LH behind the pitch (older editions) or at the end (newer ones) is one and the same thread."""
    thread = parse_designation(text=text)
    found = verdict(
        library, tandem, "push-bolt", thread_diameter=Feature(thread.d * 1e3, "mm"),
        thread_pitch=Feature(thread.P * 1e3, "mm"), thread_hand=Feature(thread.hand),
    )  # fmt: skip
    broken = [f for f in found.features if f.verdict == "does-not-fit"]
    assert (not broken) == (expected == "fits")


@pytest.mark.parametrize("size", sorted(O_RINGS))
def test_only_its_own_o_ring_fits_a_groove(library, tandem, size):
    """ISO 3601-1 (AS568): of all sizes the rod's groove takes 214, whatever series has a nearly equal bore."""
    row = O_RINGS[size]
    found = verdict(
        library, tandem, "rod-seal", seal_inside_diameter=Feature(float(row["ID_mm"]), "mm"),
        seal_section=Feature(float(row["W_mm"]), "mm"),
    )  # fmt: skip
    assert (found.verdict == "fits") == (size == "214")


def test_series_that_share_a_bore_differ_in_section():
    """ISO 3601-1: 120 and 214 differ by 0.08 mm in bore (3 per mille) and by 0.91 mm in section."""
    small, large = O_RINGS["120"], O_RINGS["214"]
    assert abs(float(small["ID_mm"]) - float(large["ID_mm"])) == pytest.approx(0.08)
    assert float(large["W_mm"]) - float(small["W_mm"]) == pytest.approx(0.91)


@pytest.mark.parametrize("series", ["0", "1", "2", "3", "4"])
def test_o_ring_bores_grow_along_each_series(series):
    """The rule that catches wrong rows of public tables: inside a series the bore only grows, the section stays."""
    rows = [O_RINGS[s] for s in sorted(O_RINGS) if s.startswith(series) and s > "004"]
    assert all(float(a["ID_mm"]) < float(b["ID_mm"]) for a, b in pairwise(rows))
    assert len({r["W_mm"] for r in rows}) == 1


@pytest.mark.parametrize("standard", ["471", "472"])
def test_only_its_own_ring_fits_a_groove(library, tandem, standard):
    """DIN 471 and DIN 472: of all rings of both tables, only the bore ring of 82 mm goes to the end cap."""
    for row in RINGS[standard]:
        found = verdict(
            library, tandem, "retaining-ring", ring_standard=Feature(f"DIN {standard}"), ring_size=Feature(row["d1_mm"])
        )
        assert (found.verdict == "fits") == ((standard, row["d1_mm"]) == ("472", "82"))


@pytest.mark.parametrize("standard", ["471", "472"])
def test_ring_grooves_are_wider_than_their_rings(standard):
    """The rule that catches wrong rows: groove width less ring thickness is 0.1 to 0.15 mm, up to 100 mm."""
    for row in RINGS[standard]:
        if row["mark"] != "suspect" and float(row["d1_mm"]) <= 100:
            assert 0.095 <= float(row["m_mm"]) - float(row["s_mm"]) <= 0.155, row


@pytest.mark.parametrize("nominal", [14, 50, 80])
def test_fits_that_belong_together_run(library, nominal):
    """ISO 286: every pair that the packs let belong together is a clearance fit by an independent table."""
    pairs = [(a, b) for feature, a, b in workshop(library).catalogue.matings if feature == "fit-class"]
    assert pairs
    for hole, shaft in pairs:
        assert iso_286(f"{nominal} {hole}/{shaft}").kind == "clearance"


def test_a_tight_fit_is_no_piston(library, tandem):
    """ISO 286: p6 in H8 can jam, and the packs do not let it belong there."""
    assert iso_286("80 H8/p6").kind != "clearance"
    found = verdict(library, tandem, "piston", fit_class=Feature("p6"))
    assert [f.feature for f in found.features if f.verdict == "does-not-fit"] == ["fit-class"]
