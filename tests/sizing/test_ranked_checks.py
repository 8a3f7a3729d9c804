"""The forty published checks that bear most on this service: where each is tested, or why it is not.

Fails when a test that is named is not there. Checks that had no home elsewhere follow below the table.
Marks: R1 read in a copy of the source, R2 in a secondary one, M-H from memory, C computed.
"""

from itertools import pairwise

import pytest
from places import exists

from knowledge.sizing.pressure import clay_pressure, fluid_pressure
from knowledge.sizing.strut import strut_load
from knowledge.tables.load import load
from knowledge.units import KPA_PER_PSF, M_PER_FT, N_PER_LBF

TABLES = load()

PUBLISHED, US, FORMULAS = (
    "tests/sizing/test_sizing_published.py",
    "tests/sizing/test_sizing_us.py",
    "tests/sizing/test_sizing_formulas.py",
)
ROWS = f"{FORMULAS}::test_a_formula_gives_the_published_result"  # rows in tests/cases/formulas.toml
OUTSIDE, HERE = "tests/sizing/test_outside_libraries.py", "tests/sizing/test_ranked_checks.py"

# Rank, check, mark, and either the tests or the reason.
TESTED: list[tuple[int, str, str, list[str]]] = [
    (
        1,
        "Das, Geotechnical, Ex 14.2: envelope and strut loads",
        "R1, C",
        [
            f"{PUBLISHED}::test_strut_loads_by_tributary_area",
            f"{OUTSIDE}::test_strut_loads_of_printed_examples",
        ],
    ),
    (
        2,
        "Das, Foundation, Ex 10.2: envelope and strut loads",
        "R1, C",
        [
            f"{PUBLISHED}::test_strut_loads_by_tributary_area",
            f"{OUTSIDE}::test_strut_loads_of_printed_examples",
        ],
    ),
    (
        3,
        "Das, Foundation, Ex 10.1: clay trapezoid",
        "R1",
        [ROWS, f"{HERE}::test_a_rectangle_covers_the_trapezoid"],
    ),
    (4, "hinge and tributary loads have one sum", "C", [f"{OUTSIDE}::test_strut_loads_of_printed_examples"]),
    (
        5,
        "App C pressures by depth and type",
        "R1",
        [f"{PUBLISHED}::test_app_c_pressures", f"{OUTSIDE}::test_app_c_pressures"],
    ),
    (6, "the same in SI at 1.6 m", "R1, C", [f"{PUBLISHED}::test_app_c_pressures_in_si_at_1_6_m"]),
    (
        7,
        "App A boundaries",
        "R1",
        [f"{PUBLISHED}::test_app_a_boundaries", f"{OUTSIDE}::test_soil_types_by_strength"],
    ),
    (8, "App A downgrades", "R1", [f"{PUBLISHED}::test_app_a_downgrades"]),
    (
        10,
        "Tables D-1.1 and D-1.2 at every edge",
        "M-H",
        [
            f"{US}::test_every_cell_just_inside_each_edge",
            f"{US}::test_deeper_or_wider_than_the_rules_is_refused",
        ],
    ),
    (
        11,
        "no vertical shores in type C",
        "R1",
        [f"{US}::test_vertical_shores_in_type_c_are_refused_with_the_slope_instead"],
    ),
    (
        12,
        "at least three shores to a group",
        "M-H",
        [f"{US}::test_at_least_three_shores_in_a_group_evenly_spaced"],
    ),
    (13, "cylinder loads from App C within their rating", "C", [f"{HERE}::test_cylinder_loads_to_ten_feet"]),
    (
        15,
        "Caltrans Ex 10-2 base heave",
        "R1",
        [f"{OUTSIDE}::test_base_heave_convention", f"{PUBLISHED}::test_base_factor_of_a_published_cut"],
    ),
    (
        17,
        "Caltrans App C strip load",
        "R1",
        ["tests/sizing/test_surcharge.py::test_strips_give_the_printed_pressure"],
    ),
    (
        18,
        "Caltrans strip of 300 psf",
        "R1",
        ["tests/sizing/test_surcharge.py::test_strips_give_the_printed_pressure"],
    ),
    (
        19,
        "Caltrans wheels as points",
        "R1",
        ["tests/sizing/test_surcharge.py::test_wheels_as_points_give_the_printed_pressure"],
    ),
    (20, "Rankine table", "R1", [ROWS, f"{OUTSIDE}::test_rankine_coefficients"]),
    (
        23,
        "critical height and shaft in clay",
        "R1",
        [ROWS, f"{OUTSIDE}::test_height_of_a_bare_face_without_a_crack"],
    ),
    (
        24,
        "stability number switches the envelope",
        "R1",
        [f"{PUBLISHED}::test_the_stability_number_switches_the_clay_envelope"],
    ),
    (25, "least apparent coefficient 0.25", "R1", [ROWS]),
    (27, "Perry-Robertson, Junnarkar Ex 9.11", "R1", [ROWS]),
    (28, "Euler, Bhavikatti Ex 9.9.3", "R1", [ROWS, f"{OUTSIDE}::test_column_figures_by_arithmetic"]),
    (29, "squash governs, Hibbeler Ex 13.1", "R1", [ROWS]),
    (30, "force of a two-inch bore", "C", [f"{PUBLISHED}::test_force_is_pressure_by_bore_area"]),
    (
        31,
        "psi and bar, safely rounded",
        "C",
        [f"{PUBLISHED}::test_a_pump_limit_is_never_rounded_the_unsafe_way"],
    ),
    (
        32,
        "rules of 4, 5, 20, 25 and 2 ft",
        "R1",
        [
            f"{PUBLISHED}::test_figures_of_the_us_rules",
            f"{PUBLISHED}::test_depths_and_distances_of_the_us_rulebook",
            "tests/entry/test_entry.py::test_depths_at_which_ladder_and_air_test_are_asked",
        ],
    ),
    (
        33,
        "CDM reg 24: eight particulars and times",
        "R1",
        [
            "tests/entry/test_inspection.py::test_the_eight_particulars",
            "tests/entry/test_inspection.py::test_times_of_the_report",
        ],
    ),
    (
        34,
        "CDM reg 22(4): three triggers of inspection",
        "M-H, R2",
        [
            "tests/entry/test_entry.py::test_truth_table",
            "tests/entry/test_entry.py::test_any_hazard_closes_entry_until_the_supervisor_has_inspected",
        ],
    ),
    (36, "one word, two strength scales", "R2, C", [f"{PUBLISHED}::test_the_same_word_on_two_scales"]),
    (
        38,
        "manual handling bands, twist and frequency cuts",
        "R2",
        [
            f"tests/tables/test_lifting.py::test_{x}"
            for x in ("every_box_as_printed", "often_takes_off", "twisting_takes_off")
        ],
    ),
    (39, "SMS segments", "R1, C", ["tests/channels/test_segments.py::test_counts_as_worked_by_hand"]),
    (
        40,
        "gauge error is a share of the span, EN 837-1",
        "R1",
        [f"{HERE}::test_how_far_two_good_gauges_differ"],
    ),
]
NOT_TESTED = {
    9: "App D examples 1 to 3: shores with one rail that joins their cylinders, which these are not.",
    14: "App D oversleeve and three-inch cylinder by width: the same; a strut is rated at its own length.",
    16: "Das, Foundation, Ex 10.3: hard layer below. No message tells of one; leaving it out is safe.",
    21: "Das, Foundation, Ex 7.2: thrust on a c-phi wall. Struts are sized by envelopes, not by thrust.",
    22: "Das, Geotechnical, Ex 13.5: the same for undrained clay, before and after the crack.",
    26: "Hibbeler Ex 13.4: a column loaded off its axis. Struts are pinned on the axis of the rails.",
    35: "BS 5930 Table 8: hand test to word. The crew tells the word; hand tests are not read.",
    37: "EN 1997-2 F.1: density by blow count. No crew at a street trench has a blow count.",
}


@pytest.mark.parametrize(
    ("rank", "check", "mark", "where"), TESTED, ids=lambda value: value if isinstance(value, int) else ""
)
def test_what_is_said_to_be_tested_is(rank: int, check: str, mark: str, where: list[str]) -> None:
    assert where
    assert mark
    assert [place for place in where if not exists(place)] == [], f"{rank}, {check}"


def test_each_of_the_forty_is_answered_once() -> None:
    assert sorted([*(rank for rank, *_ in TESTED), *NOT_TESTED]) == list(range(1, 41))


def test_a_rectangle_covers_the_trapezoid() -> None:
    """Das, Foundation, Ex 10.1 (R1): p 37.8 kPa, ramps of 1.75 m, hinge loads 162.06, 271.2, 162.06 kN.

    The printed loads are worked again by moments; a rectangle of the same p over the whole depth, which is
    what the sizing takes, carries more in all (Das: 595 kN; ours: 794).
    """
    p, H, ramp, s = clay_pressure(0.3, 18, 7, 0), 7.0, 1.75, 3.0
    assert p == pytest.approx(37.8)
    # Upper beam from 0 to 3.5 m, struts at 1 and 3.5: moments about 3.5 m; the lower one is its mirror.
    upper = (p * ramp / 2 * (3.5 - 2 / 3 * ramp) + p * ramp * ramp / 2) / 2.5
    middle = 2 * (p * ramp / 2 + p * ramp - upper)
    assert [s * upper, s * middle] == pytest.approx([162.06, 271.2], rel=0.005)
    edges = [0.0, *((a + b) / 2 for a, b in pairwise([1.0, 3.5, 6.0])), H]
    ours = sum(strut_load(p, s, b - a) for a, b in pairwise(edges))
    assert ours == pytest.approx(p * H * s)
    assert ours > 2 * s * upper + s * middle


@pytest.mark.parametrize(("kind", "lbf", "kn"), [("A", 10_304, 45.8), ("B", 16_704, 74.3)])
def test_cylinder_loads_to_ten_feet(kind: str, lbf: float, kn: float) -> None:
    """App C pressure at 10 ft over the table's 8 by 4 ft (C), within the rated 18,000 lbf (M-H)."""
    rows = TABLES.pressures
    psf = 1 / KPA_PER_PSF
    p = fluid_pressure(rows.fluid[kind].si, 10 * M_PER_FT, rows.fluid_surcharge.si)  # type: ignore[index]
    load_kn = strut_load(p, 8 * M_PER_FT, 4 * M_PER_FT)
    assert load_kn == pytest.approx(kn, rel=0.001)
    assert load_kn * 1000 / N_PER_LBF == pytest.approx(lbf, rel=0.001)
    assert p * psf * 32 == pytest.approx(lbf, rel=1e-9)
    assert load_kn <= 18_000 * N_PER_LBF / 1000


def test_how_far_two_good_gauges_differ() -> None:
    """EN 837-1 Table 11 (R1): class 2.5 on a span of 60 bar is 1.5 bar anywhere, so two may differ by 3."""
    differ = TABLES.rules.rule["gauge"].numbers["differ"]
    assert (differ.value, differ.unit) == (2 * 2.5 / 100 * 60, "bar")
