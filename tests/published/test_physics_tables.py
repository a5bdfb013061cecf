"""The standards tables: what they say of themselves, the rules of their rows, and the formulas."""

import csv
import math
import re
from itertools import pairwise

import pytest

from clampgraph import paths
from clampgraph.physics import air_quality, disc_springs, retaining_rings, seal_gland, threads

MARKS = {"library", "library+public", "library+memory", "public", "memory", "corrected", "suspect"}
FOLDER = paths.data() / "standards"
FILES = [
    "air-purity-iso-8573-1",
    "disc-springs-din-en-16983",
    "disc-springs-stresses",
    "o-ring-glands-dynamic",
    "o-rings-iso-3601-1",
    "pipe-threads",
    "retaining-rings-din-471",
    "retaining-rings-din-472",
]


def rows(name):
    with (FOLDER / f"{name}.csv").open(encoding="utf-8", newline="") as lines:
        assert next(lines).startswith("# source: ")
        return [{key: _number(text) for key, text in row.items()} for row in csv.DictReader(lines)]


def _number(text):
    try:
        return float(text)
    except ValueError:
        return text


RINGS = [(standard, row) for standard in ("471", "472") for row in rows(f"retaining-rings-din-{standard}")]
O_RINGS = rows("o-rings-iso-3601-1")
SPRINGS = rows("disc-springs-din-en-16983")
PIPES = rows("pipe-threads")


def by_size(entry):
    return f"{entry[0]}-{entry[1]['d1_mm']:g}"


def series(row):
    return "{:03.0f}".format(row["size"])[0]


def fraction(size):
    """Inches of a pipe size such as ``1 1/4``."""
    if isinstance(size, float):
        return size
    return sum(float(a) / float(b or 1) for a, b in re.findall(r"(\d+)(?:/(\d+))?", size))


@pytest.mark.parametrize("name", FILES)
def test_every_table_says_where_it_comes_from(name):
    """One source line, then rows that all carry a mark of the agreed words and no empty line."""
    text = (FOLDER / f"{name}.csv").read_text(encoding="utf-8")
    first, *rest = text.splitlines()
    assert first.startswith("# source: ")
    assert not any(line.startswith("#") or not line for line in rest)
    for row in rows(name):
        marks = [value for key, value in row.items() if key == "mark" or key.endswith("_mark")]
        assert marks
        assert set(marks) <= MARKS


@pytest.mark.parametrize(("standard", "row"), RINGS, ids=map(by_size, RINGS))
def test_ring_rows_hold_together(standard, row):
    """Groove width less ring, groove depth, shoulder and side of the groove agree within each row."""
    assert 0.0999 < row["m_mm"] - row["s_mm"] < 0.1501
    assert abs(row["d1_mm"] - row["d2_mm"]) / 2 == pytest.approx(row["t_mm"], abs=0.051)
    assert row["n_mm"] >= 3 * row["t_mm"] - 1e-9
    if standard == "471":
        assert row["d3_mm"] < row["d2_mm"] < row["d1_mm"]
        assert row["d2_tolerance_mm"] < 0
    else:
        assert row["d3_mm"] > row["d2_mm"] > row["d1_mm"]
        assert row["d2_tolerance_mm"] > 0
    assert row["FRg_kN"] <= row["FR_kN"]
    assert bool(row["note"]) == (row["mark"] in {"corrected", "suspect"})


@pytest.mark.parametrize(("standard", "row"), RINGS, ids=map(by_size, RINGS))
def test_groove_capacity_equals_the_table(standard, row):
    """DIN 471 and 472 groove capacity FN within ten per cent; the row that is not is marked suspect."""
    capacity = retaining_rings.groove_capacity(
        d1=row["d1_mm"] / 1e3, d2=row["d2_mm"] / 1e3, n=row["n_mm"] / 1e3
    )  # fmt: skip
    assert (0.915 < capacity / 1e3 / row["FN_kN"] < 1.11) == (row["mark"] != "suspect"), standard


@pytest.mark.parametrize("standard", ["471", "472"])
def test_rings_grow(standard):
    """From row to row no size of a ring falls, and no capacity is far above both neighbours."""
    table = [row for each, row in RINGS if each == standard]
    for key in ("d1_mm", "s_mm", "d3_mm", "d2_mm", "m_mm", "t_mm", "n_mm", "FN_kN"):
        column = [row[key] for row in table]
        assert column == sorted(column), key
    for before, row, after in zip(table, table[1:], table[2:], strict=False):
        assert row["FR_kN"] < 3 * max(before["FR_kN"], after["FR_kN"])


def test_corrected_rings():
    """The rows known to be wrong in their source carry the values that their own rules demand."""
    mended = {by_size(entry) for entry in RINGS if entry[1]["mark"] == "corrected"}
    assert mended == {"471-48", "471-130", "472-82", "472-90"}
    table = {by_size(entry): entry[1] for entry in RINGS}
    assert table["471-48"]["s_mm"] == 1.75
    assert table["472-82"]["s_mm"] == 2.5
    assert (table["472-28"]["d2_mm"], table["472-100"]["d2_mm"], table["471-52"]["d2_mm"]) == (
        29.4,
        103.5,
        49,
    )


@pytest.mark.parametrize("row", O_RINGS, ids=lambda row: f"{row['size']:03.0f}")
def test_o_ring_rows_hold_together(row):
    """ISO 3601-1 sections and tolerances follow from the series; sizes are thousandths of an inch."""
    sections = {"0": 1.78, "1": 2.62, "2": 3.53, "3": 5.33, "4": 6.99}
    tolerances = {
        1.02: 0.08,
        1.27: 0.08,
        1.52: 0.08,
        1.78: 0.08,
        2.62: 0.08,
        3.53: 0.10,
        5.33: 0.13,
        6.99: 0.15,
    }
    if row["size"] > 3:
        assert row["W_mm"] == sections[series(row)]
    assert row["W_tolerance_mm"] == tolerances[row["W_mm"]]
    inches = row["ID_mm"] / 25.4
    assert abs(round(inches, 3) - inches) * 25.4 < 0.0051
    assert 0.1 <= row["ID_tolerance_mm"] < 0.1 + 0.013 * row["ID_mm"] + 0.1


def test_o_rings_grow():
    """Within a series sizes grow and tolerances do not fall."""
    for before, row in pairwise(O_RINGS):
        if series(before) == series(row):
            assert row["ID_mm"] > before["ID_mm"]
            assert row["ID_tolerance_mm"] >= before["ID_tolerance_mm"] - 1e-9
    assert len(O_RINGS) == 349


@pytest.mark.parametrize(
    ("size", "wrong"), [(312, 0.612), (318, 0.987), (325, 1.487), (335, 2.987), (345, 4.487), (440, 6.975)]
)
def test_known_wrong_o_rings_did_not_enter(size, wrong):
    """Inside diameters that wrong public lists print, in inches, are not in the table."""
    row = next(row for row in O_RINGS if row["size"] == size)
    assert abs(row["ID_mm"] / 25.4 - wrong) > 0.01


@pytest.mark.parametrize("row", rows("o-ring-glands-dynamic"), ids=lambda row: f"{row['W_mm']}")
def test_gland_table_and_formula_agree(row):
    """The squeeze told in the table is that of its depths with the section's tolerance, to two points."""
    tolerance = next(ring["W_tolerance_mm"] for ring in O_RINGS if ring["W_mm"] == row["W_mm"])
    least = seal_gland.squeeze(W=row["W_mm"] - tolerance, h=row["depth_max_mm"])
    most = seal_gland.squeeze(W=row["W_mm"] + tolerance, h=row["depth_min_mm"])
    assert 100 * least == pytest.approx(row["squeeze_min_percent"], abs=2.1)
    assert 100 * most == pytest.approx(row["squeeze_max_percent"], abs=2.1)
    depth = (row["depth_min_mm"] + row["depth_max_mm"]) / 2
    assert 0.5 < seal_gland.fill(W=row["W_mm"], g=row["width_mm"], h=depth) < 0.85


@pytest.mark.parametrize("row", SPRINGS, ids=lambda row: f"{row['series']}{row['De_mm']:g}")
def test_disc_spring_loads_equal_the_table(row):
    """DIN EN 16983 handbook loads within 0.5 per cent, the older rounded ones within one per cent."""
    disc = {key: row[f"{key}_mm"] / 1e3 for key in ("De", "Di", "t", "h0")}
    F = disc_springs.load(**disc, s=row["s_mm"] / 1e3)
    assert pytest.approx(row["F_N"], rel=5e-3) == F
    assert pytest.approx(row["F_older_N"], rel=1e-2) == F


@pytest.mark.parametrize("row", SPRINGS, ids=lambda row: f"{row['series']}{row['De_mm']:g}")
def test_disc_spring_rows_hold_together(row):
    """Free height is thickness plus cone height; the series sets the shape."""
    assert row["l0_mm"] == pytest.approx(row["t_mm"] + row["h0_mm"])
    assert row["s_mm"] == pytest.approx(0.75 * row["h0_mm"])
    assert row["h0_mm"] / row["t_mm"] == pytest.approx({"A": 0.4, "B": 0.75, "C": 1.3}[row["series"]], abs=0.065)
    assert 1.9 < row["De_mm"] / row["Di_mm"] < 2.1


@pytest.mark.parametrize("row", rows("disc-springs-stresses"), ids=lambda row: f"{row['De_mm']:g}")
def test_disc_spring_stresses_equal_the_table(row):
    """DIN EN 16983 older rounded table: stresses within two per cent, loads within 1.5 per cent."""
    disc = {key: row[f"{key}_mm"] / 1e3 for key in ("De", "Di", "t", "h0")}
    disc["s"] = 0.75 * disc["h0"]
    stresses = disc_springs.stresses(**disc)
    assert disc_springs.load(**disc) == pytest.approx(row["F_N"], rel=1.5e-2)
    assert pytest.approx(row["sigma_OM_MPa"], rel=2e-2) == stresses.OM / 1e6
    assert max(stresses.II, stresses.III) / 1e6 == pytest.approx(row["sigma_max_MPa"], rel=2e-2)
    assert max(stresses) == stresses.II


@pytest.mark.parametrize("row", PIPES, ids=lambda row: f"{row['family']}{row['size']}")
def test_pipe_threads_hold_together(row):
    """Whitworth depth is 0.640327 pitches, so the major, pitch and minor diameters follow from each other."""
    pitch = 25.4 / row["tpi"]
    if row["family"] in {"G", "R"}:
        assert row["flank_angle_deg"] == 55
        assert row["major_mm"] - row["minor_mm"] == pytest.approx(2 * 0.640327 * pitch, abs=0.0021)
    else:
        assert row["flank_angle_deg"] == 60
    if row["family"] == "G":
        assert row["major_mm"] - row["pitch_mm"] == pytest.approx(0.640327 * pitch, abs=0.0021)
        assert row["major_mm"] > fraction(row["size"]) * 25.4


def test_pipe_families_are_not_alike():
    """Only the parallel thread seals on a face; 1/2 and 3/4 alone share their pitch with NPT."""
    table = {(row["family"], row["size"]): row for row in PIPES}
    shared = {
        size for family, size in table if family == "NPT" and table["G", size]["tpi"] == table["NPT", size]["tpi"]
    }
    assert shared == {"1/2", "3/4"}
    assert all((row["seals_on"] == "thread") == (row["form"] != "parallel") for row in PIPES)
    assert table["G", "1 3/4"]["major_mm"] == 53.746


def test_air_classes_equal_the_table():
    """ISO 8573-1:2010 limits are the same in code and table; a reading at a limit has its class."""
    for row in rows("air-purity-iso-8573-1"):
        name = f"{row['class']:g}"
        if (dew := row["pressure_dew_point_max_C"]) != "":
            assert air_quality.WATER_LIMITS[name] == pytest.approx(dew + 273.15)
            assert air_quality.water_class(T_d=dew + 273.15) == name
        if (oil := row["oil_max_mg_m3"]) != "":
            assert air_quality.OIL_LIMITS[name] == pytest.approx(oil * 1e-6)
            assert air_quality.oil_class(c=oil * 1e-6) == name
        if (liquid := row["liquid_water_max_g_m3"]) != "":
            assert air_quality.liquid_class(c=liquid * 1e-3) == name
        counts = [row[f"particles_{span}_um_per_m3"] for span in ("0.1_0.5", "0.5_1", "1_5")]
        if counts[2] != "":
            assert air_quality.PARTICLE_LIMITS[name] == tuple(math.inf if n == "" else n for n in counts)


def test_printed_stress_areas():
    """ISO 898-1 prints M6 20.1 to M24 353 mm², ASME B1.1 its square inches (both from memory)."""
    printed = {"M6": 20.1, "M8": 36.6, "M10": 58.0, "M12": 84.3, "M16": 157, "M20": 245, "M24": 353}
    for text, area in printed.items():
        told = threads.parse_designation(text=text)
        assert threads.ScrewThread(told.d, told.P).A_s * 1e6 == pytest.approx(area, rel=3e-3)
    unified = {(0.25, 20): 0.0318, (0.25, 28): 0.0364, (0.3125, 18): 0.0524, (0.375, 16): 0.0775}
    unified |= {(0.5, 13): 0.1419, (0.5, 20): 0.1599, (0.625, 11): 0.226, (1.0, 8): 0.6057}
    for (d, n), area in unified.items():
        assert threads.unified_stress_area(d=d * 0.0254, n=n) / 0.0254**2 == pytest.approx(area, rel=2e-3)
