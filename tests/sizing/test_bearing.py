"""What the ground bears behind a rail, and that no strut brings more than that."""

from itertools import pairwise
from math import exp, pi, radians, tan
from typing import Any

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from test_sizing_properties import MANY, answer, likely
from trenches import FT, TABLES, outcome, sized, stopped, told

from knowledge.outcome import Sized
from knowledge.reading import BuriedService
from knowledge.sheet import Sheet
from knowledge.sizing.bearing import behind_a_rail
from knowledge.sizing.ground import described, design

COMPUTED = st.sampled_from([("uk", "light"), ("uk", "heavy")])


def borne(found: Sized) -> float:
    return next(line.value for line in found.sheet.lines if line.symbol == "R_b")


def by_wedge(found: Sized) -> bool:
    """Whether a wedge up to the surface limits it.

    A rail that lies deeper or presses wider pushes up a bigger one, so that a little more depth, or weaker
    ground that bends its boards less, may take a unit less.
    """
    return next(line.value for line in found.sheet.lines if line.symbol == "R_w") < borne(found)


def bearing(ground: str, kit: str = "light") -> tuple[float, float]:
    """Pump and load in kN that a ground bears behind one rail."""
    details = told(1.0, 0.9, ground)
    row = described(details.soil, TABLES.soils)
    assert row is not None
    found = behind_a_rail(design(row, details, TABLES, "uk", Sheet()), TABLES.kits[kit], TABLES, Sheet())
    return found.pump, found.load


def test_clay_by_hand() -> None:
    """Skempton's surface footing (M-H) 5.14 (1 + 0.2 x 0.20 / 0.55) x 40 kPa = 220.5 kPa on 0.11 m2 (C).

    24.26 kN at failure: a half of it for the pump (practice), two thirds for the load (BS 8002:1994, M-H).
    """
    assert bearing("firm clay") == pytest.approx((12.13, 16.17), rel=1e-3)


def test_boards_spread_the_load_but_not_the_pump() -> None:
    """Soft clay, 73.5 kPa allowed: 19 mm of board at 12 MPa reach 0.140 m each side, 0.480 m in all (C)."""
    pump, load = bearing("soft clay")
    assert pump == pytest.approx(6.065, rel=1e-3)
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
        (1.2, "firm clay", 1, 0.85),
        (1.6, "firm clay", 2, 1.0),
        (1.6, "stiff clay", 2, 1.2),
        (1.6, "soft clay", 2, 0.8),
        (1.6, "loose sand", 2, 0.8),
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


@MANY
@given(likely(length_m=8.0, ends="open"), COMPUTED, st.integers(0, 12))
def test_weaker_ground_never_takes_fewer_units(
    trench: dict[str, Any], book: tuple[str, str], by: int
) -> None:
    before, after = answer(trench, book), answer(trench | {"ground": max(0, trench["ground"] - by)}, book)
    assume(isinstance(before, Sized) and isinstance(after, Sized))
    assert isinstance(before, Sized) and isinstance(after, Sized)
    # Boards spread the load, so weaker ground with boards may take fewer than stronger ground without.
    assume(before.boards == after.boards and not by_wedge(before))
    assert (after.units or 0) >= (before.units or 0)


@MANY
@given(likely(length_m=8.0, ends="open"), COMPUTED, st.integers(0, 120))
def test_a_deeper_trench_never_takes_fewer_units(
    trench: dict[str, Any], book: tuple[str, str], by: int
) -> None:
    before, after = answer(trench, book), answer(trench | {"depth_m": trench["depth_m"] + by / 100}, book)
    assume(isinstance(before, Sized) and isinstance(after, Sized))
    assert isinstance(before, Sized) and isinstance(after, Sized)
    assume(not by_wedge(before))
    assert (after.units or 0) >= (before.units or 0)


def test_where_one_level_brings_too_much_a_second_is_set() -> None:
    """Type B may have 23.9 kPa (App A, R1): 9.66 kN behind a light rail; 1.2 m of 15.5 kPa: 0.52 m (C)."""
    found = sized(told(1.2, 0.9, "type B", length_m=6))
    assert len(found.levels) == 2
    assert found.strut.load_kn <= borne(found)


def test_ground_that_bears_too_little_is_refused_with_its_figures() -> None:
    refusal = stopped(told(1.6, 0.9, "type B"))["ground-gives-way"]
    assert "19 kPa" in refusal.say and "0.6 m" in refusal.say
    assert isinstance(outcome(told(1.6, 0.9, "type B"), "uk", "heavy"), Sized)


def test_a_table_is_followed_and_said_to_ask_more_than_the_ground_bears() -> None:
    """App D Table D-1.2 (M-H): 8 ft at 6 ft deep. Worked out, a rail brings twice what weak clay bears."""
    found = sized(told(6 * FT, 3 * FT, "type B"), "us")
    assert found.spacing_m == pytest.approx(8 * FT)
    assert found.strut.load_kn > borne(found)
    assert "over-borne" in {c.id for c in found.cautions}
    strong = sized(told(5 * FT, 3 * FT, "hard clay"), "us")
    assert "over-borne" not in {c.id for c in strong.cautions}


def test_rails_go_on_the_middle_of_boards() -> None:
    assert "boards-centred" in {c.id for c in sized(told(1.2, 0.9, "soft clay")).cautions}
    assert "boards-centred" not in {c.id for c in sized(told(1.2, 0.9, "firm clay")).cautions}


def test_levels_moved_by_a_service_hold_no_deeper_than_they_lie() -> None:
    """A level that went up to clear a service leaves more below it."""
    free = sized(told(1.6, 0.9, "stiff clay", length_m=6))
    main = BuriedService(what="electric", at_m=3.0, depth_m=1.55)
    moved = sized(told(1.6, 0.9, "stiff clay", length_m=6, services=(main,)))
    for found in (free, moved):
        assert found.holds_to.depth_m - found.levels[-1].depth_m <= 0.6 + 1e-9
