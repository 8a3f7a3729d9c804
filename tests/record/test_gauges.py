"""Gauges against the setting band and the working band, and air against its limits.

Bands: p_s the first reading of a unit at a dug depth, D = max(2 e, 0.1 p_s) with e = 1.5 bar (EN 837-1:1996
Table 11, class 2.5 of 60 bar, R1); expected answers worked by hand with a setting band of 28 to 50 bar.
Air: 29 CFR 1926.651(g)(1)(i), (iii) (R2), 1926.55 (R2), EH40/2005 Table 1 (CO from memory, M-H; H2S R2); the
upper oxygen figure is that of 29 CFR 1926.1202 (R2), GB oxygen and flammable gas are practice.
"""

from collections.abc import Callable

import pytest
from trench_days import AIR, AT_40, DUG, INSPECTED, SIZING, Day, gauges, good_day, plan_for

from knowledge.reading import Air, Gauge, Reading, UnitsSet

LOSS, RISE = "pressure loss", "pressure rise"


def kinds(day: Day) -> list[str]:
    return [each.kind for each in day.trench.now.hazards]


def setting(bar: float) -> Reading:
    return Reading(purpose="report", units_set=UnitsSet(n=1), gauges=(Gauge(unit=1, bar=bar),))


# ---------------------------------------------------------------- while setting


@pytest.mark.parametrize(
    ("bar", "hazards"),
    [(0.0, []), (20.0, []), (27.9, []), (40.0, []), (52.9, []), (53.1, [RISE]), (70.0, [RISE])],
)
def test_outside_the_setting_band_is_no_hazard_until_far_above(bar: float, hazards: list[str]) -> None:
    """Above the band's high and 2 e more nothing but the ground or a fault shows it: out."""
    day = Day().sized().tell(DUG).tell(setting(bar))
    assert kinds(day) == hazards
    assert "pressure" in day.missing()


def test_a_unit_is_pumped_up_to_its_band_in_steps() -> None:
    day = Day().sized().tell(DUG).tell(setting(20.0))
    for bar in (26.0, 35.0):
        assert kinds(day.tell(gauges(bar))) == []
    assert kinds(day.tell(gauges(30.0))) == [LOSS], "35 is what it was set to"


def test_a_unit_that_does_not_take_pressure_is_a_loss() -> None:
    day = Day().sized().tell(DUG).tell(setting(25.0))
    assert kinds(day.tell(gauges(23.0))) == []
    assert kinds(day.tell(gauges(19.0))) == [LOSS]


# ---------------------------------------------------------------- once set, at 40 bar


@pytest.mark.parametrize(
    ("bar", "hazards"),
    [
        (0.0, [LOSS]),
        (35.9, [LOSS]),
        (36.0, []),
        (38.0, []),
        (44.0, []),
        (44.2, [RISE]),
        (62.0, [RISE]),
    ],
)
@pytest.mark.parametrize("told", [gauges, lambda bar: Reading(purpose="report", gauges=(Gauge(bar=bar),))])
def test_the_working_band(bar: float, hazards: list[str], told: Callable[[float], Reading]) -> None:
    """By number, and of a unit that nobody named. D at 40 bar: max(3, 4) = 4."""
    day = good_day().tell(told(bar))
    assert kinds(day) == hazards
    assert ("open hazard" in day.missing()) == bool(hazards)
    assert ("pressure" in day.missing()) or bar >= 28.0


@pytest.mark.parametrize(("bar", "hazards"), [(27.4, []), (26.9, [LOSS]), (33.0, []), (33.2, [RISE])])
def test_twice_the_gauge_error_is_the_least_band(bar: float, hazards: list[str]) -> None:
    """Set at 30: D = max(3, 3)."""
    day = Day().sized().tell(DUG).tell(AT_40.model_copy(update={"gauges": (Gauge(bar=30.0),)}))
    assert kinds(day.tell(gauges(bar))) == hazards


@pytest.mark.parametrize(
    ("after_dig", "hazards"), [(35.0, [LOSS]), (42.0, []), (46.0, []), (53.0, []), (53.2, [RISE])]
)
def test_a_deeper_dig_may_raise_it_once(after_dig: float, hazards: list[str]) -> None:
    """Up to the setting band's high and 2 e; what it shows then is what it is held against."""
    day = Day().sized().tell(Reading(purpose="report", depth_m=1.2)).tell(AT_40).tell(DUG)
    assert kinds(day.tell(gauges(after_dig))) == hazards


def test_what_it_showed_after_the_dig_is_the_new_base() -> None:
    day = Day().sized().tell(Reading(purpose="report", depth_m=1.2)).tell(AT_40).tell(DUG).tell(gauges(46))
    assert kinds(day.tell(gauges(50))) == []  # 46 and 4.6
    assert kinds(day.tell(gauges(41))) == [LOSS]


def test_a_deeper_dig_untold_counts_as_not_dug() -> None:
    assert kinds(good_day().tell(gauges(46))) == [RISE]
    assert kinds(good_day().tell(DUG).tell(gauges(46))) == [RISE]


def test_above_the_setting_band_by_the_ground_alone_is_pressed_no_further() -> None:
    """Set at 48, the ground adds 4: nobody bleeds it back to its band."""
    day = Day().sized().tell(DUG).tell(AT_40.model_copy(update={"gauges": (Gauge(bar=48.0),)}))
    day.tell(gauges(52))
    assert (kinds(day), "pressure" in day.missing()) == ([], False)


def test_a_fallen_unit_that_was_accepted_below_its_band_is_still_to_pump() -> None:
    day = good_day().tell(gauges(20)).tell(INSPECTED, "supervisor")
    assert day.missing() == {"pressure"}
    assert kinds(day.tell(gauges(14))) == [LOSS], "it falls on"
    day.tell(gauges(40)).tell(INSPECTED, "supervisor")
    assert day.missing() == set()


def test_nobody_accepts_more_than_the_ram_holds() -> None:
    day = good_day().tell(gauges(60)).tell(INSPECTED, "supervisor")
    assert day.missing() == set(), "the ground has pushed, and the competent person looked"
    day = good_day().tell(gauges(400)).tell(INSPECTED, "supervisor")
    assert (kinds(day), day.missing()) == ([], {"pressure"}), "a ram of 250 bar: a slip, or a ruin"
    day.tell(gauges(40))
    assert day.missing() == set()


def test_who_looked_before_a_unit_was_pumped_looks_again() -> None:
    day = Day().sized().works().tell(gauges(4)).tell(INSPECTED, "supervisor")
    assert day.missing() == {"pressure"}
    assert day.tell(gauges(40)).missing() == {"inspection"}
    assert day.tell(INSPECTED, "supervisor").tell(gauges(41)).missing() == set()


def test_all_gauges_at_one_figure_are_every_units_that_stands() -> None:
    every = Reading(purpose="report", gauges=(Gauge(bar=41.0),), of_every=True)
    day = good_day().wait(hours=20)
    assert "pressure" in day.missing()
    assert "pressure" not in day.tell(every).missing()
    assert kinds(day.tell(every.model_copy(update={"gauges": (Gauge(bar=20.0),)}))) == [LOSS]
    some = Day().sized().tell(Reading(units_set=UnitsSet(level=1, n=3), depth_m=1.6)).tell(every)
    assert set(some.trench.now.shores.gauges) == {1, 2, 3}


def test_an_unnamed_reading_is_a_sign_if_it_is_one_for_every_unit() -> None:
    day = Day().sized().tell(DUG).tell(gauges(30, 44))
    assert kinds(day.tell(Reading(gauges=(Gauge(bar=31.0),)))) == []
    assert kinds(day.tell(Reading(gauges=(Gauge(bar=37.0),)))) == [LOSS]  # 27 to 33, and 39.6 to 48.4


def test_a_unit_of_the_plan_before_may_rise_no_more_than_it_may_fall() -> None:
    deeper = SIZING.model_copy(update={"depth_m": 1.9})
    assert kinds(good_day().sized(plan_for(1.9, (0.6, 1.35)), deeper).tell(gauges(47))) == [RISE]


# ---------------------------------------------------------------- air


@pytest.mark.parametrize(
    ("rulebook", "name", "inside", "outside"),
    [
        ("us", "oxygen_pct", 19.5, 19.4),
        ("us", "oxygen_pct", 23.5, 23.6),
        ("us", "lel_pct", 20.0, 21.0),
        ("us", "co_ppm", 50.0, 51.0),
        ("us", "h2s_ppm", 10.0, 11.0),
        ("uk", "oxygen_pct", 19.5, 19.4),
        ("uk", "oxygen_pct", 23.5, 23.6),
        ("uk", "lel_pct", 10.0, 11.0),
        ("uk", "co_ppm", 20.0, 21.0),
        ("uk", "h2s_ppm", 5.0, 6.0),
        ("uk", "co_ppm", 0.0, -1.0),
        ("uk", "oxygen_pct", 20.9, float("nan")),
    ],
)
def test_air_outside_any_limit_is_gas(rulebook: str, name: str, inside: float, outside: float) -> None:
    fine = {"oxygen_pct": 20.9, "lel_pct": 0.0}
    for value, hazards in ((inside, []), (outside, ["gas"])):
        day = good_day(rulebook)  # type: ignore[arg-type]
        day.tell(AIR.model_copy(update={"air": Air(**fine | {name: value})}))
        assert kinds(day) == hazards
        assert ("air test" in day.missing()) == bool(hazards)


@pytest.mark.parametrize(
    ("told", "counts"),
    [
        (Reading(air=Air(oxygen_pct=20.9, lel_pct=0.0)), True),
        (Reading(air=Air(oxygen_pct=20.9)), False),
        (Reading(air=Air(lel_pct=0.0)), False),
        (Reading(air=Air(co_ppm=0.0, h2s_ppm=0.0)), False),
        (Reading(air=Air(oxygen_pct=20.9), done=("air test",)), True),
        (Reading(done=("air test",)), True),
        (Reading(air=Air(oxygen_pct=20.9, lel_pct=0.0), left_over=("soon",)), False),
        (Reading(air=Air(oxygen_pct=20.9, lel_pct=0.0), undone=("air test",)), False),
    ],
)
def test_which_figures_are_an_air_test(told: Reading, counts: bool) -> None:
    day = Day().sized().tell(told.model_copy(update={"purpose": "report"}))
    assert ("air test" not in day.missing()) == counts


def test_gas_by_its_figures_is_told_anew_like_gas_that_is_smelt() -> None:
    day = good_day("us").tell(Reading(air=Air(lel_pct=40.0)), "office")
    assert {"open hazard", "inspection", "air test"} <= day.missing()
    assert day.tell(INSPECTED, "supervisor").missing() == {"air test"}
    assert day.tell(AIR).missing() == set()


# ---------------------------------------------------------------- the lowest and the highest of all


def spread(low: float, high: float) -> Reading:
    told = (Gauge(unit=None, bar=low), Gauge(unit=None, bar=high))
    return Reading(
        purpose="report", done=("units set",), units_set=UnitsSet(all=True), gauges=told, spread=True
    )


@pytest.mark.parametrize(
    ("low", "high", "hazards", "missing"),
    [
        (36.0, 42.0, [], False),
        (28.0, 50.0, [], False),
        (20.0, 42.0, [], True),  # the lowest is not pumped up
        (36.0, 62.0, [RISE], True),  # nobody says which one is pushed
    ],
)
def test_the_lowest_and_the_highest_speak_for_all_where_both_are_inside(
    low: float, high: float, hazards: list[str], missing: bool
) -> None:
    day = Day().sized().tell(DUG).tell(spread(low, high))
    assert kinds(day) == hazards
    assert ("pressure" in day.missing()) is missing


def test_each_unit_is_then_held_to_the_lowest() -> None:
    day = Day().sized().tell(DUG).tell(spread(36.0, 42.0))
    assert kinds(day.tell(Reading(purpose="report", gauges=(Gauge(unit=3, bar=30.0),)))) == [LOSS]
