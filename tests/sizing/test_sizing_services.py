"""Units round the services, through the sizing (the layout is checked against an optimum elsewhere)."""

import pytest
from trenches import outcome, sized, stopped, told

from knowledge.outcome import Ask
from knowledge.reading import BuriedService

WATER = BuriedService(what="water", at_m=2.1, depth_m=0.8)


def test_units_move_aside_for_a_crossing_pipe() -> None:
    found = sized(told(1.6, 0.9, "firm clay", length_m=6, services=(WATER,)))
    for level in found.levels:
        met = abs(level.depth_m - 0.8) < 0.1 + 0.15 + 0.55 / 2
        if met:
            upright = set(level.positions_m or ()) - set(level.turned_m)
            assert all(abs(at - 2.1) >= 0.1 + 0.15 + 0.1 - 1e-9 for at in upright)
    ids = {c.id for c in found.cautions}
    assert "services-told" in ids
    assert "services-locate" not in ids


def test_a_gap_that_no_unit_can_close_is_named_with_its_place() -> None:
    duct = tuple(BuriedService(what="sewer", at_m=at, depth_m=None) for at in (2.4, 2.9, 3.4, 3.9))
    refusal = stopped(told(1.6, 0.9, "firm clay", length_m=6, services=duct))["services-gap"]
    for number in ("gap", "start", "end", "limit"):
        assert number in refusal.numbers
    assert "without a unit" in refusal.say


def test_a_service_along_the_face_bars_depths() -> None:
    clear = sized(told(1.6, 0.9, "firm clay", length_m=6))
    cable = BuriedService(what="electric", at_m=None, depth_m=clear.levels[0].depth_m)
    found = outcome(told(1.6, 0.9, "firm clay", length_m=6, services=(cable,)))
    if found.kind == "sized":
        around = 0.05 + 0.15 + 0.55 / 2
        assert all(abs(level.depth_m - cable.depth_m) >= around - 1e-9 for level in found.levels)  # type: ignore[operator]
    else:
        assert found.stop[0].rule == "services-depth"  # type: ignore[union-attr]


@pytest.mark.parametrize("length", [None, 6.0])
def test_a_service_of_which_neither_place_nor_depth_is_told_is_asked_about(length: float | None) -> None:
    found = outcome(told(1.6, 0.9, "firm clay", length_m=length, services=(BuriedService(what="gas"),)))
    assert isinstance(found, Ask)
    assert found.questions == ("services",)


def test_without_a_length_it_says_that_units_are_not_placed_yet() -> None:
    found = sized(told(1.6, 0.9, "firm clay", services=(WATER,)))
    assert "services-unplaced" in {c.id for c in found.cautions}
    assert found.questions == ("length_m",)


def test_a_run_too_short_for_the_least_group_is_refused() -> None:
    assert "units-do-not-fit" in stopped(told(1.0, 0.6, "type B", length_m=1.0), "us")
