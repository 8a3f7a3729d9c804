"""The next step, and what must be on record before it: top down going in, bottom up coming out.

Order and conditions are common practice, no source; removal from the bottom, backfill keeping pace: 29 CFR
1926.652(e)(1)(v), (vi) (M-H).
"""

from trench_days import (
    AIR,
    ALL_SET,
    DRY,
    DUG,
    ENDS,
    INSPECTED,
    LADDER,
    LOCATED,
    SHIFT,
    SPOIL,
    Day,
    gauges,
    good_day,
    hazard,
    tables,
)

from knowledge.entry.next_step import NextStep, first_out, next_step
from knowledge.reading import Gauge, Reading, UnitsMoved, UnitsSet


def upcoming(day: Day) -> NextStep:
    return next_step(day.trench, day.now, tables, SHIFT)


def step(day: Day) -> tuple[str, int | None, float | None]:
    found = upcoming(day)
    assert found.missing == ()
    assert found.step is not None
    return found.step.action, found.step.level, found.step.depth_m


def lacks(day: Day) -> list[str]:
    found = upcoming(day)
    assert found.step is None
    return [each.fact for each in found.missing]


def test_a_dig_step_by_step() -> None:
    day = Day()
    assert lacks(day) == ["sizing"]
    day.sized()
    assert lacks(day) == ["services"], "located before the first bite"
    assert step(day.tell(LOCATED)) == ("dig", None, 0.9)
    assert step(day.tell(Reading(depth_m=0.9))) == ("set", 1, 0.5)
    day.tell(ALL_SET)
    assert lacks(day) == ["pressure"], "no digging on under a level whose gauges nobody told"
    assert upcoming(day).missing[0].say == "No gauge reading for unit 1-3."
    day.tell(gauges(40, 40, 20))
    assert upcoming(day).missing[0].say == "No gauge reading for unit 3."
    day.tell(Reading(units_set=UnitsSet(level=1), gauges=(Gauge(unit=3, bar=40.0),)))
    assert step(day) == ("dig", None, 1.5)
    assert step(day.tell(Reading(depth_m=1.5))) == ("set", 2, 1.1)
    day.tell(Reading(units_set=UnitsSet(level=2, all=True), gauges=(Gauge(bar=40.0),)))
    assert step(day) == ("dig", None, 1.6)
    assert step(day.tell(DUG)) == ("ends", None, None)
    assert step(day.tell(ENDS)) == ("ladder", None, None)
    assert step(day.tell(LADDER)) == ("inspect", None, None)
    for reading in (DRY, AIR, SPOIL):
        day.tell(reading)
    day.tell(INSPECTED, "supervisor")
    assert upcoming(day) == NextStep()


def test_a_level_that_is_set_tells_that_its_bite_was_dug() -> None:
    """Common practice, no source: a level is set where it was dug to, whether the depth was texted or not."""
    day = Day().sized().tell(LOCATED)
    day.tell(Reading(units_set=UnitsSet(level=1, all=True), gauges=(Gauge(bar=40.0),)))
    assert day.trench.now.dug_m is None
    assert step(day) == ("dig", None, 1.5)


def test_no_step_with_an_open_hazard_or_a_void_plan() -> None:
    assert lacks(good_day().tell(hazard("crack"))) == ["open hazard"]
    assert lacks(good_day().tell(Reading(depth_m=1.9))) == ["plan changed"]
    assert lacks(good_day().tell(Reading(purpose="close"))) == ["sizing"]


def test_taking_out_step_by_step() -> None:
    """Feet of the rails: half a short rail (0.55 m, the invented light kit) under each strut."""
    foot = tables.kits["light"].rail.length_m / 2
    day = good_day().tell(Reading(done=("backfill",), depth_m=1.5))
    assert step(day) == ("fill", 2, round(1.1 + foot, 3))
    assert step(day.tell(Reading(done=("backfill",), depth_m=1.35))) == ("release", 2, None)
    day.tell(Reading(undone=("units set",)))
    assert day.trench.now.shores.standing == 3
    assert step(day) == ("fill", 1, round(0.5 + foot, 3))
    assert step(day.tell(Reading(done=("backfill",), depth_m=0.75))) == ("release", 1, None)
    assert step(day.tell(Reading(done=("units out",)))) == ("fill", None, None)


def test_a_level_that_is_out_tells_that_it_was_filled_up_to() -> None:
    """Common practice, no source: nobody takes a level out of the air."""
    day = good_day().tell(Reading(done=("backfill",))).tell(Reading(undone=("units set",)))
    assert day.trench.now.filled_m is None
    assert step(day)[:2] == ("fill", 1)


def test_a_fill_is_close_enough_by_the_tape_and_no_further() -> None:
    """A depth is taped to the nearest centimetre: practice, the tape tolerance of entry.toml."""
    under, tape = 1.1 + tables.kits["light"].rail.length_m / 2, tables.entry.figure.tape_tolerance.si
    for left, wanted in ((under + tape, "release"), (under + 2 * tape, "fill")):
        day = good_day().tell(Reading(done=("backfill",), depth_m=left))
        assert step(day)[:2] == (wanted, 2)


def test_a_level_is_out_when_none_of_it_stands() -> None:
    day = good_day().tell(Reading(done=("backfill",), depth_m=1.35))
    day.tell(Reading(moved=UnitsMoved(how="carried", n=1)))
    assert (day.trench.now.shores.counts, day.trench.now.shores.standing) == ((2, 2), 5)  # of which is untold
    assert step(day)[:2] == ("release", 2)


def test_the_first_step_out_is_the_lowest_that_is_not_done() -> None:
    day = good_day()
    first = first_out(day.trench, tables)
    assert first is not None and (first.action, first.level) == ("fill", 2)
    day.tell(Reading(done=("backfill",), depth_m=1.35)).tell(Reading(undone=("units set",)))
    after = first_out(day.trench, tables)
    assert after is not None and (after.action, after.level) == ("fill", 1)
    assert first_out(Day().trench, tables) is None


def test_no_release_before_the_fill_is_on_record() -> None:
    day = good_day().tell(Reading(done=("backfill",)))
    assert step(day)[0] == "fill"


def test_units_set_again_turn_back_to_the_dig() -> None:
    day = good_day().tell(Reading(done=("units out",)))
    assert day.trench.now.taking_out
    assert not day.tell(ALL_SET).trench.now.taking_out
