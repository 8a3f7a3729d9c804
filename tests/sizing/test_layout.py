"""Units along the trench, worked by hand; the optimum is proved in test_layout_optimum.py."""

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from knowledge.sizing.layout import AxisWindow, KeepOut, NoLayout, place
from knowledge.sizing.row import Gap, Run, _without, row

RUN = Run(length_m=6.0, spacing_m=1.6, start_m=0.8, end_m=0.8, least_m=0.4, margin_m=0.15)
ONE = [AxisWindow(0.3, 0.6, 0.9)]
TWO = [AxisWindow(0.3, 0.6, 0.9), AxisWindow(1.1, 1.4, 1.6, (0.6, 1.0))]


def test_a_clear_trench_is_shared_out_evenly() -> None:
    """6.0 / 1.6 = 3.75, so four units; every gap 1.5 m and half of it at the ends."""
    assert row(RUN).positions_m == (0.75, 2.25, 3.75, 5.25)


def test_the_published_check_case() -> None:
    """12 m, gaps to 1.8, ends to 0.6, keep-outs 3.0-3.6 and 7.1-8.3: 8 units by SciPy's milp."""
    assert row(Run(12, 1.8, 0.6, 0.6, 0.3), [(3.0, 3.6), (7.1, 8.3)]).units == 8


@pytest.mark.parametrize(
    ("length", "units"), [(1.59, 1), (1.6, 1), (1.601, 2), (3.2, 2), (3.201, 3), (0.3, 1), (0.29, 0)]
)
def test_count_steps_where_the_spacing_runs_out(length: float, units: int) -> None:
    assert row(Run(length, 1.6, 0.8, 0.8, 0.4, 0.15)).units == units


def test_an_edge_of_a_keep_out_is_free_and_its_inside_is_not() -> None:
    tight = Run(2.0, 1.0, 1.0, 1.0, 0.4)
    assert row(tight, [(0.2, 1.0), (1.0, 1.9)]).positions_m == (1.0,)
    assert 1.0 not in row(tight, [(0.2, 1.001), (1.0, 1.9)]).positions_m


def test_reaching_as_far_as_possible_is_not_always_best() -> None:
    """From 1.0 the next free place is 1.2, nearer than the least distance: so the first stands back."""
    run = Run(3.2, 1.0, 1.0, 1.0, 0.5)
    found = row(run, [(0.7, 1.0), (1.0, 1.2), (1.2, 2.2)])
    assert found.positions_m == (0.6, 1.2, 2.2)


def test_the_gap_left_is_named_with_how_much_too_wide_it_is() -> None:
    found = row(RUN, [(2.0, 4.1)])
    assert found.units == 0
    assert found.gaps == (Gap(2.0, 4.1, 1.6),)
    assert (found.gaps[0].wide_m, found.gaps[0].over_m) == (2.1, 0.5)


def test_every_gap_is_named_at_the_ends_too() -> None:
    found = row(Run(12, 1.6, 0.8, 0.8, 0.4), [(-1, 1.0), (4, 6), (10, 13)])
    assert found.gaps == (Gap(0, 1.0, 0.8), Gap(4.0, 6.0, 1.6), Gap(10.0, 12.0, 0.8))


def test_a_trench_shorter_than_a_rail_is_one_gap() -> None:
    assert row(Run(0.2, 1.6, 0.8, 0.8, 0.4, 0.15)).gaps == (Gap(0, 0.2, 0),)


def test_a_group_of_three_where_one_would_do() -> None:
    """29 CFR 1926 Subpart P App D (g)(6), from memory: at least three vertical shores in a group."""
    us = Run(2.4, 2.4, 1.2, 1.2, 0.4, 0.15, at_least=3)
    assert row(us).positions_m == (0.4, 1.2, 2.0)
    too_short = place(Run(1.0, 2.4, 1.2, 1.2, 0.4, 0.15, at_least=3), ONE)
    assert too_short == NoLayout("room")


def test_least_distance_over_the_spacing_is_a_mistake_of_the_caller() -> None:
    with pytest.raises(ValueError, match="cannot be"):
        Run(6, 0.3, 0.2, 0.2, 0.4)


def test_levels_stay_at_their_best_depth_where_nothing_is_in_the_way() -> None:
    found = place(RUN, TWO)
    assert not isinstance(found, NoLayout)
    assert [level.depth_m for level in found] == [0.6, 1.4]
    assert {level.positions_m for level in found} == {(0.75, 2.25, 3.75, 5.25)}


def test_what_is_taken_from_a_piece_leaves_no_empty_one() -> None:
    """An empty piece would count as a place that a unit gets to."""
    assert _without([(0, 10), (20, 30)], [(0, 3), (8, 10), (25, 40)]) == [(4, 7), (20, 24)]
    assert _without([(0, 10)], [(0, 10)]) == []


def test_a_level_moves_where_that_saves_a_unit() -> None:
    """Two pipes 0.95 down leave room for no more than four units only if the level rises to 0.35."""
    pipes = [KeepOut(2.3, 0.95, 0.5, 0.6), KeepOut(3.9, 0.95, 0.5, 0.6)]
    found = place(RUN, ONE, pipes)
    assert not isinstance(found, NoLayout)
    assert (found[0].depth_m, len(found[0].positions_m)) == (0.35, 4)
    stuck = place(RUN, [AxisWindow(0.6, 0.6, 0.6)], pipes)
    assert not isinstance(stuck, NoLayout)
    assert len(stuck[0].positions_m) == 5


def test_a_level_moves_where_that_makes_it_possible_at_all() -> None:
    duct = [KeepOut(3.0, 0.95, 0.9, 0.6)]
    found = place(RUN, ONE, duct)
    assert not isinstance(found, NoLayout)
    assert found[0].depth_m == 0.35
    assert place(RUN, [AxisWindow(0.5, 0.6, 0.9)], duct) == NoLayout("gap", ((0, Gap(2.1, 3.9, 1.6)),))


def test_one_level_takes_the_other_along() -> None:
    """A cable along the face pushes the first level to 0.4; the second may be 1.0 below at most."""
    cable = [KeepOut(None, 0.8, 0.0, 0.4), KeepOut(None, 1.6, 0.0, 0.1)]
    found = place(RUN, [AxisWindow(0.3, 0.6, 0.9), AxisWindow(1.1, 1.6, 1.7, (0.6, 1.0))], cable)
    assert not isinstance(found, NoLayout)
    assert [level.depth_m for level in found] == [0.4, 1.4]


def test_an_unknown_depth_is_in_the_way_of_every_level() -> None:
    found = place(RUN, TWO, [KeepOut(2.3, None, 0.4, 0.0)])
    assert not isinstance(found, NoLayout)
    assert all(not 1.9 < x < 2.7 for level in found for x in level.positions_m)


def test_services_along_the_face_may_leave_no_depth() -> None:
    assert place(RUN, ONE, [KeepOut(None, 0.6, 0.0, 0.4)]) == NoLayout("depth")
    assert place(RUN, ONE, [KeepOut(None, None, 0.0, 0.4)]) == NoLayout("depth")


def test_levels_too_far_apart_for_a_lawful_step_have_no_depth() -> None:
    assert place(RUN, [AxisWindow(0.3, 0.3, 0.3), AxisWindow(1.5, 1.5, 1.6, (0.6, 1.0))]) == NoLayout("depth")


metres = st.floats(0.3, 40)


@given(
    length=metres, spacing=st.floats(0.5, 3), share=st.floats(0.2, 0.5), services=st.lists(metres, max_size=8)
)
def test_any_row_keeps_every_limit_without_rounding_past_it(
    length: float, spacing: float, share: float, services: list[float]
) -> None:
    """Figures of any fineness, so that whole millimetres could break a limit if rounded the wrong way."""
    run = Run(length, spacing, spacing * share, spacing * share, 0.4, 0.1)
    bars = [(x - 0.25, x + 0.25) for x in services]
    found = row(run, bars)
    at = found.positions_m
    for gap in found.gaps:
        assert gap.over_m > 0
    assert bool(at) != bool(found.gaps)
    if at:
        noise = 1e-8
        assert at[0] <= run.start_m + noise
        assert length - at[-1] <= run.end_m + noise
        assert all(run.least_m - noise <= b - a <= spacing + noise for a, b in pairwise(at))
        assert not any(a + noise < x < b - noise for a, b in bars for x in at)


@given(services=st.lists(st.tuples(metres, st.floats(0.1, 0.5)), max_size=8), more=metres)
def test_one_more_service_never_saves_a_unit(services: list[tuple[float, float]], more: float) -> None:
    run = Run(20, 1.6, 0.8, 0.8, 0.4, 0.15)
    bars = [(x - w, x + w) for x, w in services]
    before, after = row(run, bars).units, row(run, [*bars, (more - 0.2, more + 0.2)]).units
    assert after == 0 or after >= before > 0
