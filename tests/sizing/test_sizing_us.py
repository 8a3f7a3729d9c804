"""The us rulebook against 29 CFR 1926 Subpart P.

The cells of App D Tables D-1.1 and D-1.2 are from memory with high confidence (M-H): the official file
prints them as pictures. A competent person must compare them with the page. They are for shores with one
rail that joins their cylinders; for short rails with one strut each they are a ceiling, and never what
carries an answer.
"""

from itertools import pairwise

import pytest
from trenches import FT, TABLES, outcome, sized, stopped, told

from knowledge.sizing.shores import spacing_row
from knowledge.sizing.size import size
from knowledge.tables.load import Tables

EDGE = 0.01  # feet to each side of an edge
CELLS = [  # over, to (ft), spacing (ft)
    ("A", 5, 10, 8.0),
    ("A", 10, 15, 8.0),
    ("A", 15, 20, 7.0),
    ("B", 5, 10, 8.0),
    ("B", 10, 15, 6.5),
    ("B", 15, 20, 5.5),
]


@pytest.mark.parametrize(("soil_type", "over", "to", "spacing"), CELLS)
def test_every_cell_just_inside_each_edge(soil_type: str, over: float, to: float, spacing: float) -> None:
    for depth in (over + EDGE, (over + to) / 2, to - EDGE, to):
        row = spacing_row(soil_type, depth * FT, TABLES.rulebook_us)  # type: ignore[arg-type]
        assert row.si == pytest.approx(spacing * FT, abs=1e-9)


@pytest.mark.parametrize("soil_type", ["A", "B"])
@pytest.mark.parametrize("feet", [5.0, 6.0, 8.0, 10.0, 13.0, 16.0, 19.0, 20.0])
@pytest.mark.parametrize("width", [3.0, 6.0, 9.0])
def test_no_answer_past_its_own_strut_or_ground(soil_type: str, feet: float, width: float) -> None:
    """Finding 1: "depth 8 ft", type B was 8 units at 91.3 kN on a strut of 91.15; 19 ft, 114.8 on 91.2 kN."""
    found = outcome(told(feet * FT, width * FT, f"type {soil_type}", length_m=12), "us")
    if found.kind != "sized":
        assert found.kind == "stop"
        return
    borne = next(line.value for line in reversed(found.sheet.lines) if line.symbol == "R_b")
    assert found.strut.load_kn <= min(found.strut.capacity_kn, borne) + 1e-9
    assert found.spacing_m <= 8 * FT


def test_eight_feet_of_firm_clay() -> None:
    """Finding 1 again: three to four times what the ground bears, with a caution that the text left out.

    The answer is a stop, or one that holds at every stage; here two levels no longer fit their bites.
    """
    found = sized(told(8 * FT, 3 * FT, "firm clay", length_m=20 * FT), "us")
    assert found.strut.load_kn < 30
    assert len(found.levels) == 3
    assert all(b - a <= 1.0 + 1e-9 for a, b in pairwise((0.0, *found.stages_m[:1])))


def without_table() -> Tables:
    bare = TABLES.kits["heavy"].model_copy(update={"table": None})
    return TABLES.model_copy(update={"kits": {**TABLES.kits, "heavy": bare}})


@pytest.mark.parametrize(("feet", "stops"), [(4.9, False), (5.0, True), (6.0, True)])
def test_from_five_feet_a_kit_wants_tabulated_data(feet: float, stops: bool) -> None:
    """1926.652(a)(1)(ii): five feet; (c)(2), (c)(3): tabulated data, approved (R1)."""
    found = size(told(feet * FT, 3 * FT, "type B"), without_table(), "us")
    rules = [r.rule for r in found.stop] if found.kind == "stop" else []
    assert ("no-tabulated-data" in rules) is stops
    if stops:
        assert "tabulated data" in found.stop[0].instead  # type: ignore[union-attr]


def test_an_engineers_approval_stands_in_for_the_table() -> None:
    """1926.652(c)(4): a design by a registered professional engineer."""
    tables = without_table()
    approver = TABLES.kits["heavy"].table.approved_by  # type: ignore[union-attr]
    kit = tables.kits["heavy"].model_copy(update={"approved_by": approver})
    found = size(
        told(6 * FT, 3 * FT, "type B"), tables.model_copy(update={"kits": {"heavy": kit}}), "us", "heavy"
    )
    assert found.kind == "sized"


def test_a_kit_below_app_d_is_answered_by_its_own_table() -> None:
    """The light kit's rails are under the 0.40 in3 of (g)(5): its supplier's table answers for it."""
    found = sized(told(1.6, 0.9, "type B", length_m=6), "us", "light")
    assert found.spacing_m <= 1.2
    assert "table-on-site" in {c.id for c in found.cautions}


def test_deeper_or_wider_than_the_rules_is_refused() -> None:
    for soil_type in "AB":
        assert "deeper-than-tables" in stopped(told((20 + EDGE) * FT, 4 * FT, f"type {soil_type}"), "us")
        assert "wider-than-tables" in stopped(told(10 * FT, (15 + EDGE) * FT, f"type {soil_type}"), "us")


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


def test_the_sheet_names_the_table_that_caps_the_spacing() -> None:
    found = sized(told(8 * FT, 5 * FT, "type B"), "us")
    line = next(line for line in reversed(found.sheet.lines) if line.symbol == "s_rule")
    assert "App D" in line.source and "Table D-1.2" in line.source
    assert line.value == pytest.approx(8 * FT)


def test_stages_are_those_of_practice_and_not_of_whole_excavations() -> None:
    """Finding 1: 652(a)(1)(ii) speaks of whole excavations, not of the bite below a strut."""
    for feet in (5, 6, 8, 10):
        found = sized(told(feet * FT, 3 * FT, "firm clay", length_m=6), "us")
        set_above = (0.0, *(level.depth_m for level in found.levels))
        bites = [d - a for d, a in zip(found.stages_m, set_above, strict=False)]
        assert max(bites) <= 1.0 + 1e-9


def test_us_figures_are_said_in_the_cautions() -> None:
    found = sized(told(6 * FT, 3 * FT, "type B"), "us")
    said = {c.id: c for c in found.cautions}
    assert {"ladder-us", "spoil-untold-us", "air", "inspect-us", "layers", "type-told"} <= set(said)
    assert "1926.651" in said["air"].source
    assert "invented table" in said["table-on-site"].say


def test_the_rulebooks_kit_is_used_unless_another_is_named() -> None:
    assert outcome(told(1.6, 0.9, "firm clay")).kit == "light"  # type: ignore[union-attr]
    assert outcome(told(1.6, 0.9, "firm clay"), "us").kit == "heavy"  # type: ignore[union-attr]
    assert sized(told(3.0, 0.9, "firm clay"), "uk", "heavy").kit == "heavy"
