"""Turned units: at a service where no upright rail stands, a rail may lie level, if the kit says so.

Common practice, no source; the height that such a rail may hold is the kit's own figure. That the layout is
the best there is stands in test_layout_optimum.py.
"""

import os
from itertools import pairwise
from typing import Any

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st
from naive import faults
from trenches import TABLES, outcome, sized, stopped, told

from knowledge.outcome import Ask, Sized, Stop
from knowledge.reading import BuriedService, Details
from knowledge.sizing.row import Run, TurnedRail
from knowledge.sizing.size import size
from knowledge.tables.load import Tables

KIT = TABLES.kits["light"]
USUAL = {"length_m": 6.0, "water": "dry", "ends": "battered", "face": "stands", "pavement_m": 0.0}


def ducts(depth: float, *at: float) -> tuple[BuriedService, ...]:
    return tuple(BuriedService(what="electric", at_m=x, depth_m=depth) for x in at)


def street(depth: float = 1.6, ground: str = "firm clay", **more: Any) -> Details:
    """Three ducts, 0.25 m down: no upright rail from 2.2 to 3.8 m, where 0.9 m apart is the most."""
    return told(depth, 0.9, ground, **(USUAL | {"services": ducts(0.25, 2.5, 3.0, 3.5)} | more))


def with_turned(height: float | None) -> Tables:
    use = None if height is None else KIT.turned.model_copy(update={"height_m": height})  # type: ignore[union-attr]
    kit = KIT.model_copy(update={"turned": use})
    return TABLES.model_copy(update={"kits": {**TABLES.kits, "light": kit}})


def test_a_rail_lies_level_where_none_stands_upright() -> None:
    """0.05 m of duct and 0.15 m of clearance: upright the axis is 0.475 m off in depth, level 0.30 m."""
    found = sized(street())
    first, lowest = found.levels
    assert first.turned_m == (3.0,)
    assert lowest.turned_m == ()
    assert 0.30 - 1e-9 <= first.depth_m - 0.25 < 0.475
    assert found.turned == (1 + (first.positions_m or ()).index(3.0),)
    assert faults(street(), found, TABLES) == []


def test_a_kit_that_does_not_say_so_turns_no_rail() -> None:
    found = size(street(), with_turned(None))
    assert isinstance(found, Stop)
    assert [r.rule for r in found.stop] == ["services-gap"]
    assert TABLES.kits["heavy"].turned is None


@pytest.mark.parametrize(("height", "turns"), [(1.1, True), (1.015, True), (1.01, False), (0.5, False)])
def test_it_holds_no_more_of_the_face_than_the_kit_allows(height: float, turns: bool) -> None:
    """1.6 m of firm clay: the first level may end at 0.705 m and the second at 1.325 m, so 1.015 m (C)."""
    found = size(street(), with_turned(height))
    assert isinstance(found, Sized if turns else Stop)


def test_its_checks_stand_on_the_sheet_with_their_verdicts() -> None:
    lines = {line.name: line for line in sized(street()).sheet.lines}
    height = lines["Height that a turned rail of level 1 holds"]
    assert height.holds and "rails set level" in height.source
    assert lines["Load on the ground behind a turned rail"].holds


def test_no_unit_is_turned_where_an_upright_one_stands() -> None:
    assert sized(street(services=ducts(0.25, 2.0))).turned == ()
    assert sized(street(services=())).turned == ()


def test_two_are_never_turned_side_by_side() -> None:
    """Ducts over 2.9 m: a turned unit in the middle leaves 1.0 m and more on each side of itself."""
    wide = street(services=ducts(0.25, 2.0, 2.5, 3.0, 3.5, 4.0))
    assert "services-gap" in stopped(wide)


def test_a_service_at_the_height_of_the_rail_is_passed_by_no_rail() -> None:
    found = outcome(street(services=ducts(0.45, 2.5, 3.0, 3.5)))
    assert isinstance(found, Stop)
    assert [r.rule for r in found.stop] == ["services-gap"]


def test_a_service_of_untold_depth_turns_no_rail() -> None:
    unknown = tuple(BuriedService(what="electric", at_m=x) for x in (2.5, 3.0, 3.5))
    assert "services-gap" in stopped(street(services=unknown))


def test_one_level_is_the_lowest_and_is_never_turned() -> None:
    found = outcome(street(1.1))
    assert isinstance(found, Stop)
    assert [r.rule for r in found.stop] == ["services-gap"]


def test_a_turned_rail_is_longer_along_the_trench_than_an_upright_one() -> None:
    with pytest.raises(ValueError, match="longer along the trench"):
        Run(6, 1.0, 0.5, 0.5, 0.2, 0.1, turned=TurnedRail(least_m=0.1, margin_m=0.275))
    with pytest.raises(ValueError, match="longer along the trench"):
        Run(6, 1.0, 0.5, 0.5, 0.2, 0.1, turned=TurnedRail(least_m=0.375, margin_m=0.05))


shallow = st.builds(
    BuriedService,
    what=st.sampled_from(["electric", "telecom", "water", "sewer"]),
    at_m=st.integers(0, 60).map(lambda dm: dm / 10),
    depth_m=st.integers(5, 60).map(lambda cm: cm / 100),
)
streets = st.builds(
    lambda depth, ground, services, ends: street(depth / 100, ground, services=tuple(services), ends=ends),
    st.integers(111, 200),
    st.sampled_from(["firm clay", "stiff clay", "hard clay", "chalk", "firm silt", "dense gravel"]),
    st.lists(shallow, min_size=1, max_size=6),
    st.sampled_from(["battered", "supported", "open"]),
)
MANY = settings(
    max_examples=int(os.environ.get("EXAMPLES", "150")),
    suppress_health_check=[HealthCheck.filter_too_much, HealthCheck.too_slow],
)


@MANY
@given(streets)
def test_round_shallow_services_no_answer_fails_the_second_opinion(trench: Details) -> None:
    found = size(trench, TABLES)
    assume(isinstance(found, Sized))
    assert isinstance(found, Sized)
    assert faults(trench, found, TABLES) == []
    upright = size(trench, with_turned(None))
    # Leave to turn a rail never takes more units, and never makes a stop of an answer.
    if isinstance(upright, Sized) and upright.spacing_m == found.spacing_m:
        assert (found.units or 0) <= (upright.units or 0)
    assert not isinstance(upright, Ask)


@MANY
@given(streets, shallow)
def test_one_more_service_never_lightens_anything(trench: Details, more: BuriedService) -> None:
    """Reason: whatever a unit does round one service more, it could do without it."""
    before = size(trench, TABLES)
    after = size(trench.model_copy(update={"services": (*trench.services, more)}), TABLES)
    if isinstance(after, Sized):
        assert isinstance(before, Sized)
        assert after.spacing_m <= before.spacing_m
        assert (after.units or 0) >= (before.units or 0)


UPRIGHT = (0.45, 1.3, 2.15, 3.85, 4.7, 5.55)  # beside the turned one, at 3.0 m


@pytest.mark.parametrize(
    ("places", "turned", "fault"),
    [
        ((*UPRIGHT, 3.0), (0.45,), "turned for a service"),
        ((*UPRIGHT, 3.0), (9.0,), "turned units are counted"),
        ((*UPRIGHT, 2.9, 3.0), (2.9, 3.0), "no two turned side by side"),
        ((*UPRIGHT, 2.75, 3.0), (3.0,), "rails side by side"),
        ((0.2, *UPRIGHT[1:], 3.0), (0.2, 3.0), "turned in the trench"),
    ],
)
def test_a_spoilt_turned_unit_is_found_out(
    places: tuple[float, ...], turned: tuple[float, ...], fault: str
) -> None:
    found = sized(street())
    change = {"positions_m": tuple(sorted(places)), "turned_m": turned}
    first = found.levels[0].model_copy(update=change)
    assert fault in faults(street(), found.model_copy(update={"levels": (first, found.levels[1])}), TABLES)


def test_a_turned_unit_too_near_to_its_service_is_found_out() -> None:
    found = sized(street())
    first = found.levels[0].model_copy(update={"depth_m": 0.5})
    spoilt = found.model_copy(update={"levels": (first, found.levels[1])})
    assert "turned clear of services" in faults(street(), spoilt, TABLES)


def test_a_turned_unit_on_the_lowest_level_or_of_another_kit_is_found_out() -> None:
    found = sized(street())
    lowest = found.levels[1].model_copy(update={"turned_m": (3.0,)})
    spoilt = found.model_copy(update={"levels": (found.levels[0], lowest)})
    assert "none turned on the lowest level" in faults(street(), spoilt, TABLES)
    assert "the kit turns rails" in faults(street(), found, with_turned(None))
    assert "height of a turned rail" in faults(street(), found, with_turned(0.5))


def test_what_is_turned_is_part_of_the_plan_that_units_are_set_by() -> None:
    """The same places with another unit turned are another plan: what stands must be looked at anew."""
    first = sized(street()).levels[0]
    assert first != first.model_copy(update={"turned_m": ()})
    assert all(b - a >= 0.375 - 1e-9 for a, b in pairwise(first.positions_m or ()) if 3.0 in (a, b))
