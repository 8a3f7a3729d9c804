"""The us rulebook against 29 CFR 1926 Subpart P.

The cells of App D Tables D-1.1 and D-1.2 and the examples of (f) are from memory with high confidence (M-H):
the official file prints them as pictures. A competent person must compare them with the page.
"""

from itertools import pairwise

import pytest
from trenches import FT, TABLES, outcome, sized, stopped, told

from knowledge.outcome import Stop
from knowledge.sizing.size import size

EDGE = 0.01  # feet to each side of an edge
CELLS = [  # over, to (ft), spacing (ft)
    ("A", 5, 10, 8.0),
    ("A", 10, 15, 8.0),
    ("A", 15, 20, 7.0),
    ("B", 5, 10, 8.0),
    ("B", 10, 15, 6.5),
    ("B", 15, 20, 5.5),
]
WIDTHS = [(3, 8, "two-inch", False), (8, 12, "two-inch", True), (12, 15, "three-inch", False)]


@pytest.mark.parametrize(("soil_type", "over", "to", "spacing"), CELLS)
@pytest.mark.parametrize(("wider", "up_to", "cylinder", "sleeve"), WIDTHS)
def test_every_cell_just_inside_each_edge(
    soil_type: str,
    over: float,
    to: float,
    spacing: float,
    wider: float,
    up_to: float,
    cylinder: str,
    sleeve: bool,
) -> None:
    for depth in (over + EDGE, (over + to) / 2, to - EDGE, to):
        for width in (wider + EDGE, (wider + up_to) / 2, up_to - EDGE, up_to):
            found = sized(told(depth * FT, width * FT, f"type {soil_type}"), "us")
            assert found.spacing_m == pytest.approx(spacing * FT, abs=1e-9)
            assert found.spacing_m <= spacing * FT + 1e-12
            assert found.strut.size.startswith(cylinder)
            assert ("sleeve" in {c.id for c in found.cautions}) is sleeve
            assert found.soil_type == soil_type
            assert all(b.depth_m - a.depth_m <= 4 * FT + 1e-9 for a, b in pairwise(found.levels))


def test_deeper_or_wider_than_the_tables_is_refused() -> None:
    for soil_type in "AB":
        assert "deeper-than-tables" in stopped(told((20 + EDGE) * FT, 4 * FT, f"type {soil_type}"), "us")
        assert "wider-than-tables" in stopped(told(10 * FT, (15 + EDGE) * FT, f"type {soil_type}"), "us")


EXAMPLES = [  # App D (f) examples 1 to 3 (M-H): type, depth, width (ft), spacing (ft), oversleeve
    ("A", 6, 3, 8.0, False),
    ("B", 13, 5, 6.5, False),
    ("B", 16, 9, 5.5, True),
]


@pytest.mark.parametrize(("soil_type", "depth", "width", "spacing", "sleeve"), EXAMPLES)
def test_app_d_worked_examples(
    soil_type: str, depth: float, width: float, spacing: float, sleeve: bool
) -> None:
    found = sized(told(depth * FT, width * FT, f"type {soil_type}", length_m=12), "us")
    assert found.spacing_m == pytest.approx(spacing * FT, abs=1e-9)
    assert found.strut.size.startswith("two-inch")
    assert ("sleeve" in {c.id for c in found.cautions}) is sleeve


@pytest.mark.parametrize("depth", [5.5, 9.0, 14.0, 19.0])
def test_vertical_shores_in_type_c_are_refused_with_the_slope_instead(depth: float) -> None:
    # No vertical-shore table for C: App D (R1); slope 1 1/2:1, App B Table B-1 (R1).
    refusal = stopped(told(depth * FT, 4 * FT, "type C", face="stands"), "us")["type-c-shores"]
    assert "1.5 across to 1 up" in refusal.instead
    assert "type-c-shores" in stopped(told(depth * FT, 4 * FT, "soft clay"), "us")


@pytest.mark.parametrize("length", [3.0, 4.0, 5.0, 7.3, 20.0])
def test_at_least_three_shores_in_a_group_evenly_spaced(length: float) -> None:
    # App D (g)(6), M-H.
    found = sized(told(9 * FT, 4 * FT, "type B", length_m=length, ends="battered"), "us")
    for level in found.levels:
        at = level.positions_m or ()
        assert len(at) >= 3
        gaps = [b - a for a, b in pairwise(at)]
        assert max(gaps) - min(gaps) <= 0.1 + 1e-9  # tape marks
        assert max(gaps) <= found.spacing_m + 1e-9


def test_a_kit_below_the_minima_asks_for_the_suppliers_data() -> None:
    # 1926.652(c)(2), M-H.
    refusal = stopped(told(6 * FT, 3 * FT, "type B"), "us", "light")["kit-below-minima"]
    assert "tabulated data" in refusal.instead


@pytest.mark.parametrize(
    "change",
    [
        {"rail": {"section_modulus_mm3": 6500.0}},  # 0.40 in3 = 6,555 mm3, (g)(5), M-H
        {"bore": 50.0},  # 2 in, (g)(3), M-H
        {"load": 79.0},  # 18,000 lbf = 80.07 kN at full extension, (g)(3), M-H
    ],
)
def test_each_minimum_counts(change: dict[str, object]) -> None:
    kit = TABLES.kits["heavy"]
    if "rail" in change:
        kit = kit.model_copy(update={"rail": kit.rail.model_copy(update=change["rail"])})
    else:
        struts = [s for s in kit.strut if s.name != "three-inch"]
        if "bore" in change:
            struts = [s.model_copy(update={"bore_mm": change["bore"]}) for s in struts]
        else:
            low = [s.working_load[-1].model_copy(update={"kn": change["load"]}) for s in struts]
            struts = [
                s.model_copy(update={"working_load": (s.working_load[0], row)})
                for s, row in zip(struts, low, strict=True)
            ]
        kit = type(kit).model_validate({**kit.model_dump(), "strut": [s.model_dump() for s in struts]})
    found = size(told(6 * FT, 3 * FT, "type B"), TABLES.model_copy(update={"kits": {"heavy": kit}}), "us")
    assert isinstance(found, Stop)
    assert [refusal.rule for refusal in found.stop] == ["kit-below-minima"]


def test_the_sheet_says_that_the_spacing_is_a_table() -> None:
    found = sized(told(13 * FT, 5 * FT, "type B"), "us")
    line = next(line for line in found.sheet.lines if line.symbol == "s_rule")
    assert "App D" in line.source and "Table D-1.2" in line.source
    assert line.value == pytest.approx(6.5 * FT)


def test_tables_are_not_limited_by_a_computed_load() -> None:
    # App C pressure over table spacing exceeds the rating below 10 ft (C): the table is followed, and said.
    found = sized(told(20 * FT, 5 * FT, "type B"), "us")
    assert found.strut.load_kn > found.strut.capacity_kn
    assert "over-rated" in {c.id for c in found.cautions}


def test_shallower_than_the_tables_uses_their_first_row_and_says_so() -> None:
    found = sized(told(4.5 * FT, 3 * FT, "type B"), "us")
    assert found.spacing_m == pytest.approx(8 * FT)
    assert "below-table" in {c.id for c in found.cautions}


def test_us_figures_are_said_in_the_cautions() -> None:
    found = sized(told(6 * FT, 3 * FT, "type B"), "us")
    said = {c.id: c for c in found.cautions}
    assert {"ladder-us", "spoil-untold-us", "air", "inspect-us", "layers", "type-told"} <= set(said)
    assert "1926.651" in said["air"].source


def test_the_rulebooks_kit_is_used_unless_another_is_named() -> None:
    assert outcome(told(1.6, 0.9, "firm clay")).kit == "light"  # type: ignore[union-attr]
    assert outcome(told(1.6, 0.9, "firm clay"), "us").kit == "heavy"  # type: ignore[union-attr]
    assert sized(told(3.0, 0.9, "firm clay"), "uk", "heavy").kit == "heavy"
