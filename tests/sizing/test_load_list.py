"""The kit list, worked by hand on an invented kit."""

from pathlib import Path

import pytest
from made import sized

from knowledge.reading import Details
from knowledge.sizing.load_list import LoadList, fluid, load_list
from knowledge.sourced import parse
from knowledge.tables.kit import Kit
from knowledge.tables.lifting import Lifting
from knowledge.tables.load import DATA

LIFTING = parse(DATA / "lifting.toml", Lifting)
KIT_TEXT = """
name = "light"
title = "test kit, invented"
depth_m = 2.0
setting_room_m = 0.02
reserve_m = 0.04
column_factor = 2.0
relief_bar = 52.0
relief_at = "pump"
ram_bar = 250.0
least_bar = { cohesive = 27.6, granular = 27.6 }
source = "invented-kit"
checked = 2026-11-25
[rail]
length_m = 0.55
width_m = 0.20
thickness_m = 0.05
section_modulus_mm3 = 18000.0
bending_gpa = 0.140
shear_area_mm2 = 900.0
shear_gpa = 0.070
mass_kg = 3.0
[board]
length_m = 1.2
width_m = 0.6
thickness_m = 0.02
bending_gpa = 0.012
mass_kg_per_m2 = 12.5
[[strut]]
name = "short"
bore_mm = 50.8
closed_m = 0.28
open_m = 0.48
mass_kg = 5.0
extensions_most = 2
tube = { outer_mm = 60.0, wall_mm = 5.0, modulus_gpa = 70.0, yield_gpa = 0.24 }
working_load = [{ length_m = 0.28, kn = 42.0 }, { length_m = 1.50, kn = 27.0 }]
[[extension]]
length_m = 0.25
mass_kg = 1.0
[extra.pump]
mass_kg = 9.0
per_load = 1
[extra.hose]
mass_kg = 1.5
per_load = 2
[extra.ladder]
mass_kg = 20.0
per_trench = 1
[extra.pin]
mass_kg = 0.1
per_unit = 2
per_extension = 1
"""


@pytest.fixture
def kit(tmp_path: Path) -> Kit:
    file = tmp_path / "light.toml"
    file.write_text(KIT_TEXT, encoding="utf-8")
    return parse(file, Kit)


def counts(found: LoadList) -> dict[str, int]:
    return {item.name: item.count for item in found.items}


def test_one_trench(kit: Kit) -> None:
    """8 units: 16 rails, 8 struts and extensions, 8 x (2 + 1) pins; 48 + 40 + 8 + 2.4 + 9 + 3 + 20 kg."""
    found = load_list([(sized(), Details(length_m=6.0))], kit, LIFTING)
    assert counts(found) == {
        "rail": 16,
        "strut short": 8,
        "extension": 8,
        "pin": 24,
        "ladder": 1,
        "pump": 1,
        "hose": 2,
    }
    assert found.mass_kg == pytest.approx(130.4)
    assert (found.unit_kg, found.unit_hands, found.roped) == (12.0, 1, True)
    assert {item.name: item.hands for item in found.items}["ladder"] == 2


def test_what_may_be_lowered_at_arms_length_is_not_roped(tmp_path: Path) -> None:
    """L23, lowering filter: below mid lower leg, arms out, 3 kg for a woman and 5 for a man; the lesser."""
    file = tmp_path / "light.toml"
    for rail, roped in ((0.5, False), (0.55, True)):
        text = KIT_TEXT.replace("mass_kg = 3.0", f"mass_kg = {rail}").replace(
            "mass_kg = 5.0", "mass_kg = 1.0"
        )
        file.write_text(text, encoding="utf-8")
        found = load_list([(sized(), Details(length_m=6.0))], parse(file, Kit), LIFTING)
        assert (found.unit_kg, found.roped) == (2 * rail + 1.0 + 1.0, roped)


def test_fluid_by_hand() -> None:
    """Twelve units of 2 in bore out by 250 mm: 6.08 L, bore area x stroke (C)."""
    assert fluid(2026.83, 0.25, 12) == pytest.approx(6.08, abs=0.005)


def test_fluid_of_a_trench(kit: Kit) -> None:
    """0.63 - 0.28 - 0.25 = 0.10 m of stroke: 202.7 mL (R: 2 in bore, per 100 mm) in each of 8."""
    found = load_list([(sized(), Details(length_m=6.0))], kit, LIFTING)
    assert found.fluid_l == pytest.approx(8 * 0.2027, abs=0.001)


def test_a_days_trenches_share_the_pump_and_each_has_its_ladder(kit: Kit) -> None:
    one = (sized(), Details(length_m=6.0))
    found = load_list([one, one], kit, LIFTING)
    assert (counts(found)["rail"], counts(found)["ladder"], counts(found)["pump"]) == (32, 2, 1)


def test_boards_cover_both_faces(kit: Kit) -> None:
    """6.0 / 1.2 = 5 along, 1.6 / 0.6 so 3 down, two faces: 30 of 9 kg."""
    found = load_list([(sized(boards=True), Details(length_m=6.0))], kit, LIFTING)
    (board,) = (item for item in found.items if item.name == "board")
    assert (board.count, board.mass_kg) == (30, 9.0)


def test_every_rail_has_a_board_of_its_own(kit: Kit) -> None:
    """Finding 8: 30 boards for 32 rails, while the answer rests on each rail having its own."""
    found = load_list([(sized(boards=True, units=16), Details(length_m=6.0))], kit, LIFTING)
    (board,) = (item for item in found.items if item.name == "board")
    assert board.count == counts(found)["rail"] == 32


def test_a_length_not_told_gives_the_list_for_a_run_and_says_so(kit: Kit) -> None:
    found = load_list([(sized(units=None, run_m=6.0, units_per_run=8), Details())], kit, LIFTING)
    assert (counts(found)["rail"], found.per_run_m) == (16, 6.0)


def test_another_kits_trench_is_refused(kit: Kit) -> None:
    with pytest.raises(ValueError, match="light"):
        load_list([(sized(kit="heavy"), Details())], kit, LIFTING)
    with pytest.raises(ValueError, match="light"):
        load_list([], kit, LIFTING)
