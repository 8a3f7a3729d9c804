"""The record: what one event does to it, order by sent time, and working it again from its events.

Expected states are worked by hand from the public contract of the reading; that short shores are set level by
level as the dig goes down is common practice, no source.
"""

import random
from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta

import pytest
from pydantic import TypeAdapter
from trench_days import (
    ALL_SET,
    ALLOW,
    AT_40,
    DRY,
    DUG,
    FIRM_CLAY,
    INSPECTED,
    LADDER,
    MINUTE,
    SIZING,
    SPOIL,
    START,
    Day,
    event,
    gauges,
    good_day,
    hazard,
    plan_for,
    tables,
    tell_all,
)

from knowledge.outcome import Sized
from knowledge.reading import (
    Beside,
    BuriedService,
    Details,
    Gauge,
    Reading,
    Soil,
    UnitsMoved,
    UnitsSet,
    details_of,
)
from knowledge.record.trench import Event, Trench, details, late, merged, rebuild, renamed, told
from knowledge.sizing.size import size

EMPTY = Trench("T7", "Mill Lane", "uk", "light")

# ---------------------------------------------------------------- details


def test_later_told_wins_and_nothing_told_erases_nothing() -> None:
    day = (
        Day()
        .tell(Reading(purpose="size", depth_m=1.5, soil=FIRM_CLAY))
        .tell(Reading(purpose="size", depth_m=1.6))
    )
    day.tell(Reading(width_m=0.9, services=(BuriedService(what="gas", at_m=2.0),))).tell(DRY)
    assert details(day.trench) == Details(
        depth_m=1.6, width_m=0.9, soil=FIRM_CLAY, water="dry", services=(BuriedService(what="gas", at_m=2.0),)
    )


@pytest.mark.parametrize(
    ("first", "then", "merged_soil"),
    [
        (Soil(kind="clay"), Soil(state="firm"), Soil(kind="clay", state="firm")),
        (FIRM_CLAY, Soil(kind="sand"), Soil(kind="sand")),
        (FIRM_CLAY, Soil(type="B"), Soil(kind="clay", state="firm", type="B")),
        (FIRM_CLAY, Soil(kind="clay", state="soft"), Soil(kind="clay", state="soft")),
    ],
)
def test_soil_told_in_parts(first: Soil, then: Soil, merged_soil: Soil) -> None:
    day = Day().tell(Reading(purpose="size", soil=first)).tell(Reading(purpose="size", soil=then))
    assert details(day.trench).soil == merged_soil


def test_a_service_told_of_is_not_forgotten_when_another_is_told() -> None:
    day = (
        Day()
        .tell(Reading(services=(BuriedService(what="gas"),)))
        .tell(Reading(services=(BuriedService(what="water", at_m=1.0),)))
    )
    day.tell(Reading(services=(BuriedService(what="gas", at_m=2.0),)))
    assert set(details(day.trench).services) == {
        BuriedService(what="water", at_m=1.0),
        BuriedService(what="gas", at_m=2.0),
    }


def test_what_stands_beside_is_not_forgotten_when_another_thing_is_told() -> None:
    day = Day().tell(Reading(beside=(Beside(what="foundation", at_m=1.0), Beside(what="wall"))))
    day.tell(Reading(beside=(Beside(what="pole", at_m=3.0),)))
    day.tell(Reading(beside=(Beside(what="wall", at_m=4.0),)))
    assert set(details(day.trench).beside) == {
        Beside(what="foundation", at_m=1.0),
        Beside(what="pole", at_m=3.0),
        Beside(what="wall", at_m=4.0),
    }


def test_a_stage_dug_is_not_the_depth_of_the_trench() -> None:
    day = Day().sized().tell(Reading(purpose="report", depth_m=0.9))
    assert details(day.trench).depth_m == 1.6
    assert day.trench.now.dug_m == 0.9
    assert details(day.tell(Reading(purpose="report", depth_m=1.9)).trench).depth_m == 1.9
    assert details(day.tell(Reading(purpose="report", depth_m=1.6)).trench).depth_m == 1.6


def test_backfill_is_no_dig() -> None:
    now = good_day().tell(Reading(depth_m=1.2, done=("backfill",))).trench.now
    assert (now.dug_m, now.filled_m) == (1.6, 1.2)


# ---------------------------------------------------------------- the plan


@pytest.mark.parametrize(
    ("told_since", "what"),
    [
        (Reading(width_m=1.0), "width"),
        (Reading(width_m=0.8), "width"),
        (Reading(length_m=8.0), "length"),
        (Reading(soil=Soil(kind="clay", state="stiff")), "soil"),
        (Reading(water="seeping"), "water"),
        (Reading(face="ravelling"), "face"),
        (Reading(plant_m=1.0), "load"),
        (Reading(traffic=True), "load"),
        (Reading(surcharge_kpa=20.0), "load"),
        (Reading(traffic_m=2.0), "load"),
        (Reading(plant_t=2.0), "load"),
        (Reading(beside=(Beside(what="pole", at_m=1.0),)), "load"),
        (Reading(pit=True), "face"),
        (Reading(pavement_m=0.3), "slab"),
        (Reading(services=(BuriedService(what="gas"),)), "services"),
        (Reading(depth_m=1.62), "depth"),
    ],
)
def test_what_voids_a_plan(told_since: Reading, what: str) -> None:
    now = Day().sized().tell(told_since).trench.now
    assert [each.what for each in now.changed] == [what]
    assert not now.holds


@pytest.mark.parametrize(
    "told_since",
    [
        Reading(depth_m=1.5),
        Reading(depth_m=1.605),
        Reading(width_m=0.905),
        Reading(length_m=5.0),
        Reading(water="damp"),
        Reading(spoil_m=1.5),
        Reading(plant_m=4.0),
        Reading(traffic=False),
        Reading(ends="battered"),
        Reading(face="stands"),
    ],
)
def test_what_leaves_a_plan_in_force(told_since: Reading) -> None:
    assert Day().sized().tell(told_since).trench.now.holds


def test_a_plan_is_held_against_what_it_was_sized_on_even_where_an_older_message_comes_late() -> None:
    day = Day().tell(SIZING.model_copy(update={"soil": FIRM_CLAY}))
    day.sized()
    softer = event(Reading(soil=Soil(kind="clay", state="soft")), day.now - 30 * MINUTE)
    assert told(day.trench, softer, tables).now.holds, "told again since, and sized on that"
    between = event(Reading(soil=Soil(kind="clay", state="soft")), day.now - MINUTE / 2)
    day.trench = told(EMPTY, day.trench.events[0], tables)
    plan = event(
        Reading(purpose="size", length_m=6.0), day.now, plan=plan_for(), sized_on=details(day.trench)
    )
    assert [each.what for each in tell_all(day.trench, (plan, between)).now.changed] == ["soil"]


def test_a_plan_without_what_it_was_sized_on_is_an_error() -> None:
    with pytest.raises(ValueError, match="come together"):
        Event("m", START, "Sam", "+447700900123", "fitter", SIZING, plan=plan_for())


# ---------------------------------------------------------------- units and gauges


def set_and_planned(day: Day) -> tuple[int, int | None]:
    shores = day.trench.now.shores
    return shores.standing, shores.planned


@pytest.mark.parametrize(
    ("reports", "standing"),
    [
        ([Reading(units_set=UnitsSet(n=2))], 2),
        ([Reading(units_set=UnitsSet(n=2)), Reading(units_set=UnitsSet(n=2))], 2),
        ([Reading(units_set=UnitsSet(n=3, level=1)), Reading(units_set=UnitsSet(n=2, level=2))], 5),
        ([Reading(units_set=UnitsSet(level=1, all=True))], 3),
        ([Reading(units_set=UnitsSet(level=1))], 3),
        ([Reading(units_set=UnitsSet(n=4, all=True))], 4),
        ([ALL_SET], 6),
        ([gauges(40, 40)], 2),
        ([ALL_SET, Reading(done=("units out",), units_set=UnitsSet(level=2))], 3),
        ([ALL_SET, Reading(done=("units out",))], 0),
        ([ALL_SET, Reading(undone=("units set",))], 3),
        ([ALL_SET, Reading(undone=("units set",), units_set=UnitsSet(level=1))], 3),
        ([ALL_SET, Reading(undone=("units set",)), Reading(undone=("units set",))], 0),
        ([Reading(depth_m=0.9), ALL_SET], 3),
        ([Reading(depth_m=0.9), ALL_SET, DUG], 3),
        ([Reading(depth_m=0.9), ALL_SET, DUG, ALL_SET], 6),
        ([Reading(depth_m=0.9), Reading(units_set=UnitsSet(n=3, level=2))], 0),
    ],
)
def test_units_told_set(reports: list[Reading], standing: int) -> None:
    day = Day().sized()
    for report in reports:
        day.tell(report)
    assert set_and_planned(day) == (standing, 6)


def test_units_told_before_any_plan_count_for_nothing() -> None:
    assert set_and_planned(Day().tell(ALL_SET).sized()) == (0, 6)


@pytest.mark.parametrize(
    ("report", "bars"),
    [
        (AT_40, {1: 40, 2: 40, 3: 40, 4: 40, 5: 40, 6: 40}),
        (
            AT_40.model_copy(update={"gauges": (Gauge(bar=40.0), Gauge(unit=3, bar=30.0))}),
            {1: 40, 2: 40, 3: 30, 4: 40, 5: 40, 6: 40},
        ),
        (Reading(gauges=tuple(Gauge(bar=40.0 + n) for n in range(6))), {n + 1: 40 + n for n in range(6)}),
        (Reading(gauges=(Gauge(bar=40.0),)), {0: 40}),
        (Reading(gauges=(Gauge(bar=40.0), Gauge(bar=38.0))), {0: 38}),
        (
            AT_40.model_copy(update={"units_set": UnitsSet(level=1, all=True), "done": ()}),
            {1: 40, 2: 40, 3: 40},
        ),
    ],
)
def test_whose_gauge_a_reading_is(report: Reading, bars: dict[int, float]) -> None:
    found = Day().sized().tell(report).trench.now.shores.gauges
    assert {unit: gauge.bar for unit, gauge in found.items()} == bars


def test_a_reading_of_an_unknown_unit_stands_until_all_are_read() -> None:
    day = Day().sized().tell(ALL_SET).tell(Reading(gauges=(Gauge(bar=20.0),))).tell(gauges(40, 40, 40))
    assert 0 in day.trench.now.shores.gauges
    assert 0 not in day.tell(gauges(*[40] * 6)).trench.now.shores.gauges


# ---------------------------------------------------------------- hazards, people, closing


def test_hazards_stand_worst_first_from_when_they_were_first_told() -> None:
    day = good_day().tell(hazard("rain"))
    since = day.now
    now = day.tell(hazard("rain", "person hurt")).trench.now
    assert [(each.kind, each.said.at) for each in now.hazards] == [
        ("person hurt", since + MINUTE),
        ("rain", since),
    ]


def test_everybody_who_texted_is_told_once() -> None:
    day = Day().tell(DRY).tell(INSPECTED, "supervisor").tell(DRY).tell(DRY, "office")
    assert day.trench.now.told == ("+447700900123", "+447700900124", "+447700900125")


def test_the_office_may_look_only() -> None:
    day = Day().sized()
    before = day.trench.now
    after = (
        day.tell(LADDER, "office").tell(ALL_SET, "office").tell(Reading(purpose="close"), "office").trench.now
    )
    assert (after.said, after.shores, after.closed) == (before.said, before.shores, None)


def test_a_closed_trench_is_sized_anew_from_nothing() -> None:
    day = good_day().tell(Reading(purpose="close"))
    assert day.trench.closed
    day.sized()
    assert not day.trench.closed
    assert day.trench.now.said.keys() == {"water"}
    assert day.trench.now.inspected is None
    assert "units" in day.missing()


CLOSE = Reading(purpose="close")


@pytest.mark.parametrize("anew", [SIZING, DUG, hazard("rain")])
def test_a_hazard_left_open_outlives_the_closing_whatever_is_told_next(anew: Reading) -> None:
    """Practice: the ground that moved is still there when the same street is opened again."""
    day = good_day().tell(hazard("crack")).tell(CLOSE)
    assert day.trench.closed
    day.tell(anew)
    assert not day.trench.closed
    assert "crack" in {each.kind for each in day.trench.now.hazards}
    assert (day.trench.now.plan, day.trench.now.inspected) == (None, None)
    assert day.trench.now.shores.standing == 0


@pytest.mark.parametrize("asked", [Reading(purpose="entry"), Reading(purpose="why"), CLOSE])
def test_a_question_opens_no_closed_trench(asked: Reading) -> None:
    assert good_day().tell(CLOSE).tell(asked).trench.closed


def test_who_may_not_tell_opens_a_closed_trench_by_a_hazard_only() -> None:
    assert good_day().tell(CLOSE).tell(DUG, "office").trench.closed
    assert not good_day().tell(CLOSE).tell(hazard("gas"), "office").trench.closed


def test_a_record_under_another_reference() -> None:
    assert renamed(good_day().trench, "A3").ref == "A3"


# ---------------------------------------------------------------- two references of one trench


def joined(one: Day, other: Day) -> Day:
    """One day that goes on where both were joined."""
    day = Day(now=max(one.now, other.now))
    day.trench = merged(one.trench, renamed(other.trench, "T3"), tables)
    return day


def test_a_day_told_under_two_references_needs_an_inspection_and_no_more() -> None:
    whole = good_day()
    for split in range(1, len(whole.trench.events)):
        one, other = Day(now=whole.now), Day(now=whole.now)
        one.trench = tell_all(EMPTY, whole.trench.events[:split])
        other.trench = tell_all(EMPTY, whole.trench.events[split:])
        for day in (joined(one, other), joined(other, one)):
            assert day.missing() == {"inspection"}, split
            assert day.tell(INSPECTED, "supervisor").missing() == set(), split


def test_only_trenches_on_the_same_terms_are_joined() -> None:
    with pytest.raises(ValueError, match="same terms"):
        merged(EMPTY, Trench("T3", "Mill Lane", "us", "light"), tables)


@pytest.mark.parametrize("told_last", ["better", "worse"])
@pytest.mark.parametrize(
    ("better", "worse", "fact"),
    [
        (Reading(width_m=0.9), Reading(width_m=1.1), "plan changed"),
        (Reading(depth_m=1.6), Reading(depth_m=1.8), "plan changed"),
        (SIZING, Reading(purpose="size", depth_m=1.9), "plan changed"),
        (Reading(soil=FIRM_CLAY), Reading(soil=Soil(kind="clay", state="soft")), "plan changed"),
        (DRY, Reading(water="standing"), "water"),
        (SPOIL, Reading(spoil_m=0.2), "spoil"),
        (Reading(ends="battered"), Reading(ends="open"), "ends"),
        (gauges(*[40] * 6), gauges(40, 20), "pressure"),
    ],
)
def test_of_two_figures_the_worse_one_stands(
    told_last: str, better: Reading, worse: Reading, fact: str
) -> None:
    """Whichever record it was told on, and whichever was told last."""
    for at_home in (better, worse):
        abroad = worse if at_home is better else better
        first, second = (
            (abroad, at_home) if (at_home is better) == (told_last == "better") else (at_home, abroad)
        )
        one, other = good_day(), Day()
        other.now = one.now
        for reading in (first, second):
            here = one if reading is at_home else other
            here.now = max(one.now, other.now)
            here.tell(reading)
        assert fact in joined(one, other).missing()
        assert fact in joined(other, one).missing()


def test_of_two_counts_of_units_the_lesser_stands() -> None:
    few = Day().sized().tell(Reading(purpose="report", units_set=UnitsSet(n=4)))
    assert "units" in joined(good_day(), few).missing()
    assert "units" in joined(few, good_day()).missing()


@pytest.mark.parametrize(
    ("against", "fact"),
    [
        (lambda day: day.tell(hazard("crack")), "open hazard"),
        (lambda day: day.tell(Reading(purpose="unclear"), open_text=True), "open text"),
        (lambda day: day.tell(Reading(purpose="stop")), "stopped"),
        (lambda day: day.tell(Reading(possible_hazard=True, danger=0.6)), "open hazard"),
    ],
)
def test_nobody_answered_on_one_record_for_what_stood_on_the_other(
    against: Callable[[Day], Day], fact: str
) -> None:
    other = against(Day())
    one = good_day()
    seen = tuple(event.id for event in other.trench.events)
    one.now += 30 * MINUTE
    one.tell(LADDER).tell(INSPECTED, "supervisor", seen=seen)
    for day in (joined(one, other), joined(other, one)):
        assert {fact, "inspection"} <= day.missing()
        words = tuple(each.said.event for each in day.trench.now.open_texts)
        assert day.tell(INSPECTED, "supervisor", seen=words).missing() <= {"ladder"}


def test_what_was_joined_twice_stands_twice() -> None:
    other = Day().tell(hazard("crack"))
    once = joined(good_day(), other).tell(INSPECTED, "supervisor")
    assert once.missing() == set()
    assert "open hazard" in joined(once, other).missing()


# ---------------------------------------------------------------- order


def test_a_late_message_takes_its_place() -> None:
    day = good_day()
    crack = event(hazard("crack"), day.now - 2 * MINUTE)
    assert late(day.trench, crack)
    late_crack = tell_all(day.trench, (crack,))
    assert late_crack.events[-3].id == crack.id
    after = event(hazard("crack"), day.now + MINUTE)
    assert not late(day.trench, after)
    assert [each.kind for each in tell_all(day.trench, (after,)).now.hazards] == ["crack"]


def test_nobody_inspected_for_a_hazard_that_was_not_told_yet() -> None:
    """Sent before the inspection and come in after it: it is still open until somebody inspects again."""
    day = good_day()
    day.trench = told(day.trench, event(hazard("crack"), day.now - 2 * MINUTE), tables)
    assert day.missing() == {"open hazard", "inspection"}
    assert day.tell(INSPECTED, "supervisor").missing() == set()


def test_a_hazard_told_twice_is_open_while_one_report_of_it_is() -> None:
    day = good_day().tell(hazard("crack"))
    first = day.now
    day.tell(INSPECTED, "supervisor")
    day.trench = told(day.trench, event(hazard("crack"), first - MINUTE / 2), tables)
    assert "open hazard" in day.missing()
    assert day.tell(INSPECTED, "supervisor").missing() == set()


def test_an_inspection_sent_before_a_hazard_clears_nothing_however_late_it_comes() -> None:
    day = good_day().tell(hazard("crack"))
    day.trench = told(day.trench, event(INSPECTED, day.now - MINUTE / 2, "supervisor"), tables)
    assert "open hazard" in day.missing()


def test_the_same_event_twice_changes_nothing() -> None:
    day = good_day()
    assert told(day.trench, day.trench.events[3], tables) is day.trench


def test_order_of_coming_in_does_not_matter() -> None:
    """Any order gives the record of the sent order, where no two were sent at once and none is a hazard."""
    day = good_day().tell(Reading(undone=("ladder",))).tell(INSPECTED, "supervisor").tell(DRY).sized()
    day.tell(gauges(43, 43)).tell(ALLOW, "supervisor", code_ok=True).tell(SPOIL).tell(LADDER)
    events = [replace(each, came=None) for each in day.trench.events]
    for seed in range(200):
        random.Random(seed).shuffle(events)
        assert tell_all(EMPTY, events).states == day.trench.states


def test_a_plan_stands_where_it_came_in_and_what_it_tells_where_it_was_sent() -> None:
    day = good_day().wait(minutes=30)
    late = event(SIZING, START - timedelta(hours=1), "fitter", plan_for(1.6, struts=(0.4, 1.2)))
    day.trench = told(day.trench, replace(late, received=day.now), tables)
    assert {"units", "pressure", "inspection"} <= day.missing()
    assert day.trench.events[-1].plan is not None
    assert day.trench.now.said["water"].at == START - timedelta(hours=1)


def test_more_units_than_the_plan_has_are_none_of_it() -> None:
    """ "7 top 6 bottom" of a plan of six: another trench's, or another plan's."""
    day = Day().sized().tell(DUG).tell(Reading(units_set=UnitsSet(n=13), gauges=(Gauge(bar=40.0),)))
    assert day.trench.now.shores.standing == 0
    for reading, over in (
        (Reading(units_set=UnitsSet(n=13)), (13, 6)),
        (Reading(units_set=UnitsSet(level=1, n=4)), (4, 3)),
        (Reading(gauges=(Gauge(bar=40.0),), read_on=13), (13, 6)),
        (Reading(units_set=UnitsSet(n=6)), None),
    ):
        assert day.trench.now.shores.over(reading) == over


def test_units_gone_nobody_says_which_may_be_gone_from_any_level() -> None:
    day = good_day().tell(Reading(moved=UnitsMoved(how="damaged", n=2)))
    assert day.trench.now.shores.standing == 4
    day.tell(Reading(units_set=UnitsSet(level=2, n=3), gauges=(Gauge(bar=40.0),)))
    assert "units" in day.missing(), "the other two may have been of the first level"


def test_a_record_written_down_and_read_back_is_the_same() -> None:
    found = size(details_of(SIZING), tables, "uk", "light")
    assert isinstance(found, Sized)
    events = TypeAdapter(tuple[Event, ...])
    day = Day().sized(found).works().tell(hazard("crack")).tell(INSPECTED, "supervisor")
    live = day.tell(Reading(depth_m=1.9)).tell(SIZING, plan=found).trench  # one plan, twice
    back = events.validate_json(events.dump_json(live.events))
    assert rebuild("T7", "Mill Lane", "uk", "light", back, tables) == live


def test_rebuilt_from_the_log_equals_the_live_record() -> None:
    """Random histories, many sent at once or late, given in the order in which they came in."""
    choices: list[Reading] = [
        SIZING,
        DUG,
        ALL_SET,
        AT_40,
        LADDER,
        SPOIL,
        DRY,
        INSPECTED,
        gauges(30, 40),
        hazard("crack"),
    ]
    for seed in range(300):
        chance = random.Random(seed)
        live, came_in = EMPTY, []
        for _ in range(chance.randrange(1, 25)):
            reading = chance.choice(choices)
            plan = plan_for() if reading is SIZING and chance.random() < 0.8 else None
            at = START + timedelta(minutes=chance.randrange(15))
            came_in.append(event(reading, at, chance.choice(("fitter", "supervisor", "office")), plan))
            live = told(live, came_in[-1], tables)
        assert rebuild("T7", "Mill Lane", "uk", "light", came_in, tables) == live
        # The record's own order works too: that is how it is kept on disk.
        assert rebuild("T7", "Mill Lane", "uk", "light", live.events, tables) == live
