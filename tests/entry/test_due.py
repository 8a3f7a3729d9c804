"""What falls due as time goes by. The clock is an argument, so every moment here is made by hand.

Inspection at the start of the shift: CDM 2015 reg 22(4)(a)(i) (M-H). The other times are common practice, no
source.
"""

from datetime import datetime, timedelta

import pytest
from trench_days import (
    AIR,
    ALLOW,
    AT_40,
    DRY,
    DUG,
    INSPECTED,
    LADDER,
    MINUTE,
    SHIFT,
    SPOIL,
    START,
    Day,
    good_day,
    hazard,
    tables,
)

from knowledge.entry.due import Due, due
from knowledge.reading import Reading
from knowledge.record.shift import Shift
from knowledge.record.trench import renamed


def at(hour: int, minute: int = 0, days: int = 0) -> datetime:
    return START.replace(hour=hour, minute=minute) + timedelta(days=days)


def kinds(day: Day, now: datetime) -> list[str]:
    return [each.kind for each in due([day.trench], now, tables, SHIFT)]


def test_nothing_is_due_on_a_good_morning() -> None:
    assert kinds(good_day(), at(8)) == []


def test_nothing_is_due_for_a_trench_that_is_only_sized() -> None:
    assert kinds(Day().sized(), at(17, 45)) == []


def test_inspection_at_the_start_of_the_next_shift() -> None:
    day = good_day()
    assert "inspection" not in kinds(day, at(6, 59, days=1))
    assert kinds(day, at(7, days=1)) == ["inspection"]
    [found] = due([day.trench], at(9, days=1), tables, SHIFT)
    assert found.at == at(7, days=1)
    assert found.to == ("supervisor",)
    assert found.say == "T7: inspection due before anybody goes in."
    day.now = at(7, 20, days=1)
    day.tell(INSPECTED, "fitter")
    assert "inspection" in kinds(day, at(9, days=1))
    day.tell(INSPECTED, "supervisor")
    assert "inspection" not in kinds(day, at(9, days=1))


def test_no_inspection_is_due_at_night() -> None:
    assert "inspection" not in kinds(good_day(), at(23))


def test_no_inspection_is_due_where_nothing_was_sized() -> None:
    """There are no shores to inspect: what stands in the way is the plan."""
    assert "inspection" not in kinds(Day().tell(LADDER), at(9, days=1))


def test_a_trench_begun_as_the_shift_begins_is_not_carried_over() -> None:
    day = Day(now=at(6, 59)).sized()
    assert day.now == at(7)
    assert "inspection" not in kinds(day, at(9))


def test_inspection_some_time_after_a_hazard() -> None:
    day = good_day().tell(hazard("crack"))
    told = day.now
    assert "inspection" not in kinds(day, told + 29 * MINUTE)
    assert "inspection" in kinds(day, told + 30 * MINUTE)
    assert kinds(day.tell(INSPECTED, "supervisor"), told + 60 * MINUTE) == []


def test_an_allowance_about_to_lapse() -> None:
    day = good_day().tell(ALLOW, "supervisor", code_ok=True)
    until = day.entry().until
    assert until is not None
    assert "allowance" not in kinds(day, until - 21 * MINUTE)
    assert "allowance" in kinds(day, until - 20 * MINUTE)
    assert "allowance" not in kinds(day, until)
    found = next(e for e in due([day.trench], until - MINUTE, tables, SHIFT) if e.kind == "allowance")
    assert f"{until:%H:%M}" in found.say
    assert set(found.to) == {"supervisor", "fitter"}


def test_gauges_are_read_again() -> None:
    day = good_day()
    read = min(gauge.at for gauge in day.trench.now.shores.gauges.values())
    assert kinds(day, read + timedelta(hours=2, minutes=59)) == []
    assert kinds(day, read + timedelta(hours=3)) == ["gauge"]
    day.now = read + timedelta(hours=3)
    assert kinds(day.tell(AT_40), day.now + MINUTE) == []


def test_a_gauge_read_as_the_shift_begins_is_of_that_shift() -> None:
    day = Day(now=at(6, 58)).sized().tell(AT_40)
    assert day.now == at(7) and day.trench.now.shores.standing
    assert "gauge" in kinds(day, at(10))


@pytest.mark.parametrize(
    ("day", "open_"),
    [
        (good_day(), True),
        (good_day().tell(Reading(done=("units out",))), True),
        (good_day().tell(Reading(purpose="close")), False),
        (Day().sized(), False),
    ],
    ids=["good", "units out", "closed", "sized only"],
)
def test_a_trench_open_at_the_end_of_the_shift(day: Day, open_: bool) -> None:
    assert "open" not in kinds(day, at(17, 29))
    assert ("open" in kinds(day, at(17, 30))) == open_
    assert ("open" in kinds(day, at(18, 10))) == open_, "a restart over the end of the shift loses nothing"


def test_a_trench_begun_as_the_shift_ends_is_not_left_open_by_it() -> None:
    day = Day(now=at(17, 59)).tell(DUG)
    assert day.now == at(18)
    assert "open" not in kinds(day, at(18, 10))


def test_a_note_until_an_hour_that_is_past_holds_until_tomorrow() -> None:
    day = good_day().wait(hours=5).tell(Reading(purpose="note", until="07:30"), words="note T7 till 0730")
    assert day.now.hour > 8
    assert "note" not in kinds(day, day.now + MINUTE)
    assert "note" in kinds(day, at(7, 29, days=1))


def test_a_key_names_one_reminder_for_good() -> None:
    """The same reminder has the same key whenever it is asked for, and another day another."""
    day = good_day()

    def key(now: datetime, kind: str) -> str:
        return next(each.key for each in due([day.trench], now, tables, SHIFT) if each.kind == kind)

    assert key(at(17, 30), "open") == key(at(17, 59), "open") == key(at(20), "open")
    assert key(at(17, 30, days=1), "open") != key(at(17, 30), "open")
    assert key(at(7, days=1), "inspection") != key(at(7, days=2), "inspection")


def test_each_reminder_goes_out_once_whatever_the_ticks() -> None:
    """A shell that ticks at odd times and keeps only the keys sends the same reminders, each once."""
    day = good_day().tell(ALLOW, "supervisor", code_ok=True)

    def sent(step: timedelta) -> dict[str, Due]:
        out: dict[str, Due] = {}
        now = day.now
        while now < at(12, days=1):
            for each in due([day.trench], now, tables, SHIFT):
                out.setdefault(each.key, each)
            now += step
        return out

    often, seldom = sent(timedelta(minutes=1)), sent(timedelta(minutes=17))
    assert often.keys() == seldom.keys()
    assert sorted(each.kind for each in often.values()) == ["allowance", "gauge", "inspection", "open"]


def test_several_trenches_longest_due_first() -> None:
    first, second = good_day(), good_day()
    second.now += timedelta(minutes=30)
    second.tell(hazard("rain")).tell(DRY)
    found = due([renamed(second.trench, "T8"), first.trench], at(17, 45), tables, SHIFT)
    assert [each.at for each in found] == sorted(each.at for each in found)
    assert {each.trench for each in found} == {"T7", "T8"}
    assert len({each.key for each in found}) == len(found)


def test_words_and_ids_are_whole() -> None:
    day = good_day().tell(ALLOW, "supervisor", code_ok=True)
    for each in due([day.trench], at(17, 45), tables, SHIFT):
        assert "{" not in each.say
        assert each.id == f"watch.{each.kind}"
        assert tables.entry.watch[each.kind].say.format_map(each.numbers) == each.say


def test_a_renewed_morning_is_quiet() -> None:
    day = good_day()
    day.now = at(7, 5, days=1)
    for reading in (AT_40, LADDER, SPOIL, DRY, AIR):
        day.tell(reading)
    day.tell(INSPECTED, "supervisor")
    assert kinds(day, at(9, days=1)) == []


def said(day: Day, kind: str, now: datetime) -> str:
    return next(each.say for each in due([day.trench], now, tables, SHIFT) if each.kind == kind)


PARKED = Reading(purpose="parked", until="0", guarded="fence and lights")


def test_who_left_it_open_looks_at_its_fence_and_lights_by_the_clock_and_never_at_night() -> None:
    day = good_day().tell(PARKED)
    assert "guard" not in kinds(day, at(18))
    [guard] = [each for each in due([day.trench], at(7, days=1), tables, SHIFT) if each.kind == "guard"]
    assert guard.at == at(7, days=1)  # twelve hours on it was night
    assert "Sam" in guard.say and "FENCE AND LIGHTS OK" in guard.say
    day.now = at(7, 10, days=1)
    day.tell(Reading(purpose="report", guarded="fence and lights"))
    assert "guard" not in kinds(day, at(18, days=1))
    assert "open" not in kinds(day, at(17, 45, days=1))


def test_a_parked_trench_is_in_the_care_of_who_took_it_over() -> None:
    day = good_day().tell(PARKED).tell(Reading(purpose="handover", to="Alex"))
    assert "Sam:" in said(day, "guard", at(7, days=1))
    day.tell(Reading(purpose="take"), "supervisor")
    assert "Alex:" in said(day, "guard", at(7, days=1))


def test_an_alarm_that_nobody_answers_is_told_to_the_supervisors_again_and_then_to_the_office() -> None:
    day = good_day().tell(hazard("crack"))
    told = day.now
    assert "alarm" not in kinds(day, told + 4 * MINUTE)
    assert "alarm" in kinds(day, told + 5 * MINUTE) and "alarm office" not in kinds(day, told + 9 * MINUTE)
    late = [
        each for each in due([day.trench], told + 10 * MINUTE, tables, SHIFT) if each.kind == "alarm office"
    ]
    assert [each.to for each in late] == [("office",)]
    answered = day.tell(Reading(purpose="answer", answer="coming"))
    assert not {"alarm", "alarm office"} & {*kinds(answered, told + 60 * MINUTE)}


def test_an_alarm_at_night_waits_for_no_morning() -> None:
    day = good_day()
    day.now = at(23)
    day.tell(hazard("crack"))
    assert {"alarm", "alarm office"} <= {*kinds(day, at(23, 20))}


def test_what_a_note_says_to_run_out_is_reminded_of_before() -> None:
    day = good_day().tell(Reading(purpose="note", until="16:00"), words="note T7 permit to 1600")
    assert "note" not in kinds(day, at(15, 29)) and "note" in kinds(day, at(15, 30))


def test_on_a_day_off_no_shift_is_on() -> None:
    weekdays = Shift(SHIFT.start, SHIFT.end, SHIFT.zone, (0, 1, 2, 3, 4), (START.date() + timedelta(days=1),))
    monday = START - timedelta(days=START.weekday())
    noon = monday.replace(hour=12, minute=0)
    assert [weekdays.on(noon + timedelta(days=n)) for n in (0, 5, 6)] == [True, False, False]
    assert not weekdays.on(START.replace(hour=12) + timedelta(days=1))
    assert weekdays.close(noon + timedelta(days=5)) == noon.replace(hour=18) + timedelta(days=5)
