"""What the ground bears behind a rail, and that no strut brings more than that."""

from itertools import pairwise
from math import exp, pi, radians, tan
from typing import Any

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from test_sizing_properties import MANY, answer, likely
from trenches import FT, TABLES, sized, stopped, told

from knowledge.outcome import Sized
from knowledge.reading import BuriedService
from knowledge.sheet import Sheet
from knowledge.sizing.bearing import behind_a_rail
from knowledge.sizing.ground import described, design

COMPUTED = st.sampled_from([("uk", "light"), ("uk", "heavy")])


def borne(found: Sized) -> float:
    return next(line.value for line in reversed(found.sheet.lines) if line.symbol == "R_b")


def bearing(ground: str, kit: str = "light") -> tuple[float, float]:
    """Pump and load in kN that a ground bears behind one rail."""
    details = told(1.0, 0.9, ground)
    row = described(details.soil, TABLES.soils)
    assert row is not None
    worked = design(row, details, TABLES, "uk", Sheet())
    found = behind_a_rail(worked, TABLES.kits[kit], row.boards, TABLES, Sheet())
    return found.pump, found.load


def test_clay_by_hand() -> None:
    """Skempton's surface footing (M-H) 5.14 (1 + 0.2 x 0.20 / 0.55) x 40 kPa = 220.5 kPa on 0.11 m2 (C).

    24.26 kN at failure: a half of it for the pump (practice), two thirds for the load (EN 1997-1: 1.4, R1).
    """
    assert bearing("firm clay") == pytest.approx((12.13, 16.17), rel=1e-3)


def test_boards_spread_load_and_pump() -> None:
    """Soft clay, 73.5 kPa allowed: 19 mm of board at 12 MPa reach 0.140 m each side, 0.480 m in all (C)."""
    pump, load = bearing("soft clay")
    assert pump == pytest.approx(0.75 * load, rel=1e-9)
    assert load == pytest.approx(73.5 * 0.480 * 0.55, rel=3e-3)


def test_sand_bears_half_of_what_a_standing_face_shows_that_it_can() -> None:
    """The practice figure against theory.

    A bite of 0.9 m that stands needs a cohesion of gamma h / 2.67 K_p^0.5 (Terzaghi 1943, open crack, M-H).
    On that cohesion alone a surface footing bears c N_c (Prandtl; EN 1997-1 Annex D, R1), N_c 20.72 at 25
    degrees. Half of it is 40 kPa at a likely 18 kN/m3 and 49 kPa at the weight that is designed with; a shape
    factor comes on top. Practice says 55.
    """
    phi = radians(25)
    root = tan(pi / 4 + phi / 2)
    n_c = (exp(pi * tan(phi)) * root**2 - 1) / tan(phi)
    assert n_c == pytest.approx(20.72, rel=1e-3)
    half = {gamma: gamma * 0.9 / 2.67 / root * n_c / 2 for gamma in (18, 22)}
    assert half == pytest.approx({18: 40.0, 22: 48.9}, rel=0.01)
    assert half[18] <= TABLES.practice.granular_bearing.si <= 1.15 * half[22]


@pytest.mark.parametrize(
    ("depth", "ground", "levels", "spacing"),
    [  # C, by the steps of tests/naive.py; rule file (practice) allows 1.2 m in B, 0.9 m in C
        (1.0, "firm clay", 1, 1.2),
        (1.2, "firm clay", 1, 1.0),
        (1.6, "firm clay", 2, 1.0),
        (1.6, "stiff clay", 2, 1.2),
        (1.6, "soft clay", 2, 0.9),
        (1.4, "medium dense sand", 2, 0.8),
    ],
)
def test_spacings_of_ordinary_trenches(depth: float, ground: str, levels: int, spacing: float) -> None:
    found = sized(told(depth, 0.9, ground, face="stands"))
    assert (len(found.levels), found.spacing_m) == (levels, spacing)
    assert found.spacing_m <= (1.2 if found.soil_type == "B" else 0.9)
    # App D Tables D-1.1, D-1.2 (M-H): 8 ft to 10 ft deep.
    assert found.spacing_m <= 8 * FT


@MANY
@given(likely(), COMPUTED)
def test_no_strut_brings_more_than_the_ground_bears(trench: dict[str, Any], book: tuple[str, str]) -> None:
    found = answer(trench, book)
    assume(isinstance(found, Sized))
    assert isinstance(found, Sized)
    assert found.strut.load_kn <= borne(found) + 1e-9
    # And as far as it says that it holds, with the levels as they are set.
    edges = [0.0, *((a.depth_m + b.depth_m) / 2 for a, b in pairwise(found.levels)), found.holds_to.depth_m]
    deeper = answer(trench | {"depth_m": found.holds_to.depth_m}, book)
    assert isinstance(deeper, Sized)
    height = max(b - a for a, b in pairwise(edges))
    assert deeper.pressure_kpa * found.spacing_m * height <= borne(found) + 1e-6


def test_where_one_level_brings_too_much_a_second_is_set() -> None:
    """1.19 m of fill: 55 kPa on 0.524 m of board is 15.9 kN, 18.5 kPa on 1.2 m 0.71 m of run (C). Two: 0.8 m.

    Between 1.09 m, where one level no longer carries, and 1.11 m, where two fit, is a stop that says so.
    """
    fill = {"face": "stands", "water": "dry", "length_m": 6}
    assert len(sized(told(1.19, 0.6, "made ground", **fill)).levels) == 2
    assert len(sized(told(1.0, 0.6, "made ground", **fill)).levels) == 1
    refusal = stopped(told(1.1, 0.6, "made ground", **fill))["levels-do-not-fit"]
    assert "1.11 m" in refusal.say


@pytest.mark.parametrize("mm", range(1580, 1700, 5))
def test_a_refusal_stays_one_a_little_deeper(mm: int) -> None:
    """Finding 5: type B, 1.62 m a stop, 1.66 m 24 units in three levels. Now two all the way, on boards."""
    found = sized(told(mm / 1000, 0.9, "type B", length_m=6))
    assert len(found.levels) == 2
    assert found.boards and 0.8 <= found.spacing_m <= 1.0
    assert len(set(found.stages_m)) == len(found.stages_m)


def test_ground_that_bears_too_little_is_refused_with_its_figures() -> None:
    refusal = stopped(told(2.0, 0.9, "firm clay", surcharge_kpa=40))["ground-gives-way"]
    assert "kPa" in refusal.say and "0.8 m" in refusal.say and "close sheeting" in refusal.say


def test_thirty_units_are_said_to_be_close_sheeting() -> None:
    """Finding 13: 2.0 m of soft clay was 30 units, rails 0.4 m apart; now a stop that says what it is."""
    refusal = stopped(told(2.0, 0.9, "soft clay", face="stands", length_m=6))["too-many-levels"]
    assert "close sheeting" in refusal.say


def test_rails_go_on_the_middle_of_boards() -> None:
    assert "boards-centred" in {c.id for c in sized(told(1.2, 0.9, "soft clay", face="stands")).cautions}
    assert "boards-centred" not in {c.id for c in sized(told(1.0, 0.9, "firm clay")).cautions}


def test_the_pump_leaves_room_for_the_gauge_to_rise() -> None:
    """Findings 2 and 10: a band of 28 to 30 bar was narrower than two gauges may differ by (EN 837-1, R1)."""
    for ground in ("soft clay", "firm clay", "stiff clay", "medium dense sand", "type B"):
        found = sized(told(1.4, 0.9, ground, face="stands"))
        low, high = found.pressure_bar
        area = TABLES.kits["light"].strut[0].bore_area_mm2
        most = min(borne(found), found.strut.capacity_kn) / area * 1e4
        assert high - low >= 3.0
        assert high + max(3.0, 0.1 * high) <= most + 1e-6


def test_levels_moved_by_a_service_hold_no_deeper_than_they_lie() -> None:
    """A level that went up to clear a service leaves more below it."""
    free = sized(told(1.6, 0.9, "stiff clay", length_m=6))
    main = BuriedService(what="electric", at_m=3.0, depth_m=1.55)
    moved = sized(told(1.6, 0.9, "stiff clay", length_m=6, services=(main,)))
    for found in (free, moved):
        assert found.holds_to.depth_m - found.levels[-1].depth_m <= 0.6 + 1e-9
