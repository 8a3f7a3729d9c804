"""Fifteen things that were wrong with the sizing once, each with the tests that fail where it comes back.

Fails when a test that is named is not there. The texts stand in tests/cases/tried_first.toml.
"""

import pytest
from places import exists

TEXTS = "tests/dialogue/test_tried_first.py::test_a_text_is_decided_as_an_engineer_would"
BEARING, BESIDE, PRACTICE = (
    f"tests/sizing/test_{name}.py" for name in ("bearing", "beside", "sizing_practice")
)
US, GRID, BY_HAND = (f"tests/sizing/test_{name}.py" for name in ("sizing_us", "fine_grid", "worked_by_hand"))
GAUGES, TABLES, SHEET = (
    "tests/record/test_gauges.py",
    "tests/tables/test_tables.py",
    "tests/sizing/test_sheet.py",
)
AT_ANY_STAGE = f"{GRID}::test_no_answer_goes_past_its_own_strut_rail_ram_or_ground_at_any_stage"

# Number, what was wrong, where it is held.
ROWS: list[tuple[int, str, list[str]]] = [
    (
        1,
        "the us rulebook answered past its own strut and ground",
        [
            TEXTS,
            AT_ANY_STAGE,
            f"{BEARING}::test_no_strut_brings_more_than_the_ground_bears",
            f"{BY_HAND}::test_ground_dug_to_the_table_of_app_d_would_give_way",
            "tests/sizing/test_supplier_table.py::test_a_looser_table_does_not_loosen_our_own_working",
        ],
    ),
    (
        2,
        "a rising gauge was noted, and a loaded strut told to be bled",
        [
            f"{GAUGES}::test_the_working_band",
            f"{GAUGES}::test_a_deeper_dig_untold_counts_as_not_dug",
            f"{GAUGES}::test_above_the_setting_band_by_the_ground_alone_is_pressed_no_further",
            f"{BEARING}::test_the_pump_leaves_room_for_the_gauge_to_rise",
        ],
    ),
    (
        3,
        "what stands beside the trench was dropped, and traffic added nothing",
        [
            TEXTS,
            f"{BESIDE}::test_how_near_a_thing_may_be",
            f"{BESIDE}::test_rising_ground_counts_in_the_depth",
            f"{BY_HAND}::test_traffic_presses",
            "tests/sizing/test_ranked_checks.py::test_traffic_presses_as_printed",
        ],
    ),
    (
        4,
        "surfacing untold was taken as none",
        [
            TEXTS,
            f"{BESIDE}::test_a_street_has_a_surface_and_its_thickness_is_asked",
            f"{BESIDE}::test_a_distance_to_traffic_tells_of_a_street_too",
        ],
    ),
    (
        5,
        "a refusal turned into an answer four centimetres deeper",
        [TEXTS, f"{BEARING}::test_a_refusal_stays_one_a_little_deeper"],
    ),
    (
        6,
        "pits got two walls; ends, corners and junctions none",
        [
            TEXTS,
            f"{BESIDE}::test_how_flat_an_end_is_battered",
            f"{PRACTICE}::test_open_ends_are_a_hazard_that_is_said",
            "tests/dialogue/test_corners_and_overhangs.py::test_a_corner_or_junction_is_a_stop_that_says_why",
        ],
    ),
    (
        7,
        "very loose sand, made ground, silt and soft clay went ahead, or were never asked",
        [TEXTS, f"{PRACTICE}::test_what_the_gate_needs_and_nobody_told_is_asked"],
    ),
    (
        8,
        "boards did not match the bearing check: 30 for 32 rails",
        [
            "tests/sizing/test_load_list.py::test_every_rail_has_a_board_of_its_own",
            f"{BEARING}::test_rails_go_on_the_middle_of_boards",
            f"{BEARING}::test_boards_spread_load_and_pump",
        ],
    ),
    (
        9,
        "sized for spoil 1.0 m off, let in at 0.6 m",
        [f"{TABLES}::test_a_mistake_is_named_by_file_key_and_reason", TEXTS],
    ),
    (
        10,
        "a pump band narrower than two gauges may differ by",
        [f"{PRACTICE}::test_an_empty_pressure_band_is_a_refusal_not_a_number"],
    ),
    (11, "dense gravel had a clay's cohesion", [f"{TABLES}::test_values_belong_to_the_kind_and_state"]),
    (
        12,
        "a slab over 0.20 m refused every trench of two levels",
        [TEXTS, f"{BY_HAND}::test_a_slab_leaves_a_gap_of_five_centimetres"],
    ),
    (
        13,
        "thirty units 0.4 m apart, and not a word of close sheeting",
        [TEXTS, f"{BEARING}::test_thirty_units_are_said_to_be_close_sheeting"],
    ),
    (
        14,
        "never a word that shores are not usually needed",
        [TEXTS, f"{BY_HAND}::test_inside_the_range_of_the_engineer"],
    ),
    (
        15,
        "clay weighed 22 kN/m3 in every state",
        [
            f"{TABLES}::test_values_belong_to_the_kind_and_state",
            f"{BY_HAND}::test_inside_the_range_of_the_engineer",
            f"{BEARING}::test_spacings_of_ordinary_trenches",
        ],
    ),
]
# What the sheet lacked, and what was missing for trust.
MORE: list[tuple[str, list[str]]] = [
    ("what one lost unit leaves its neighbours", [f"{BY_HAND}::test_what_a_lost_unit_leaves_its_neighbours"]),
    ("oxygen at 19.5 per cent", ["tests/sizing/test_ranked_checks.py::test_limits_of_the_air"]),
    ("a stage, the strut above carrying", [AT_ANY_STAGE]),
    (
        "a line, a name and a source for each value",
        [f"{SHEET}::test_each_value_put_in_has_its_own_line_before"],
    ),
    ("verdicts", [f"{SHEET}::test_an_answer_holds_every_check_of_its_sheet"]),
    (
        "sources of its own country",
        [f"{SHEET}::test_each_rulebook_cites_its_own_law_or_says_that_it_has_none"],
    ),
]


def test_every_number_is_there_once() -> None:
    assert [number for number, *_ in ROWS] == list(range(1, 16))


@pytest.mark.parametrize(
    ("number", "was", "where"), ROWS, ids=lambda value: value if isinstance(value, int) else ""
)
def test_what_was_wrong_has_its_tests(number: int, was: str, where: list[str]) -> None:
    assert was and where
    assert [place for place in where if not exists(place)] == [], number


@pytest.mark.parametrize(("was", "where"), MORE, ids=lambda value: str(value)[:30])
def test_what_was_missing_has_its_tests(was: str, where: list[str]) -> None:
    assert was and where
    assert [place for place in where if not exists(place)] == [], was
