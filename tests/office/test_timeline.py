"""One line of time a day: every kind of thing that happened has its mark, and all of it stands in words."""

import xml.etree.ElementTree as ET
from datetime import timedelta

from trench_days import ALLOW, INSPECTED, SHIFT, Day, hazard, tables

from bot.office.timeline import LANES, day_lines

SVG = "{http://www.w3.org/2000/svg}"


def drawn(day: Day) -> list[ET.Element]:
    return [ET.fromstring(each.svg) for each in day_lines(day.trench, tables, SHIFT, day.now)]


def test_a_day_has_its_digging_units_gauges_inspection_leave_and_texts() -> None:
    day = Day().sized().works()
    day.tell(INSPECTED, "supervisor").tell(ALLOW, "supervisor", code_ok=True).wait(minutes=30)
    (line,) = drawn(day)
    words = ["".join(each.itertext()) for each in line.iter(f"{SVG}text")]
    assert set(LANES) <= set(words) and {"1.6 m", "6 of 6", "6 read"} <= set(words)
    assert words.count("Alex") == 2  # inspected, and let people in
    told = line.findtext(f"{SVG}desc") or ""
    assert "dug to 1.6 m" in told and "People in: Alex" in told and "Danger" not in told


def test_a_hazard_ends_the_leave_and_lasts_until_somebody_inspects() -> None:
    day = Day().sized().works()
    day.tell(INSPECTED, "supervisor").tell(ALLOW, "supervisor", code_ok=True).wait(minutes=30)
    begun = day.now
    day.tell(hazard("gas")).wait(minutes=20).tell(INSPECTED, "supervisor").wait(minutes=5)
    told = drawn(day)[0].findtext(f"{SVG}desc") or ""
    at, gone = (begun + timedelta(minutes=n) for n in (1, 22))
    assert f"Danger: gas, {at:%d %b %H:%M} to {gone:%d %b %H:%M}" in told
    assert f"to {at:%d %b %H:%M}" in told.partition("People in")[2]


def test_each_day_has_a_line_and_the_latest_stands_first() -> None:
    day = Day().sized().wait(days=1).tell(hazard("rain"))
    days = [each.day for each in day_lines(day.trench, tables, SHIFT, day.now)]
    assert len(days) == 2 and days == sorted(days, reverse=True)
    assert day_lines(Day().trench, tables, SHIFT, day.now) == []
