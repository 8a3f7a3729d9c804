"""The particulars of an inspection report: CDM 2015 reg 24(1)(b) (i) to (viii).

R1 through the Northern Ireland twin, SR 2016/146 reg 23.
"""

from datetime import timedelta

import pytest
from trench_days import DRY, INSPECTED, SHIFT, Day, event, gauges, good_day, hazard, tables

from knowledge.entry.inspection import InspectionReport, inspection_report, inspections
from knowledge.reading import Reading
from knowledge.record.trench import told

MADE_FOR = ("Invented Water", "1 Pump Lane, Overton")


def report_of(day: Day) -> InspectionReport:
    last = inspections(day.trench, tables)[-1]
    return inspection_report(day.trench, last, tables, SHIFT, MADE_FOR, "Mill Lane, Overton")


def test_the_eight_particulars() -> None:
    day = good_day().tell(hazard("fluid leak"))
    since = day.now
    day.tell(gauges(40, 40, 40, 40, 40, 40)).tell(hazard("rain")).tell(INSPECTED, "supervisor")
    report = report_of(day)
    assert (report.made_for, report.made_for_address) == MADE_FOR  # (i)
    assert (report.site, report.trench, report.site_address) == (
        "Mill Lane",
        "T7",
        "Mill Lane, Overton",
    )  # (ii)
    assert (report.details.depth_m, report.levels_m) == (1.6, (0.5, 1.1))  # (iii)
    assert (report.kit, report.units_set, report.units_planned, report.ladder) == ("light", 6, 6, True)
    assert [(each.unit, each.bar) for each in report.gauges] == [(unit, 40.0) for unit in range(1, 7)]
    assert report.at == day.now  # (iv)
    assert {(r.hazard, r.reported_by) for r in report.risks} == {
        ("fluid leak", "Sam"),
        ("rain", "Sam"),
    }  # (v)
    assert min(r.since for r in report.risks) == since
    assert [len(a.gauges) for a in report.actions] == [6]  # (vi)
    assert [m.fact for m in report.further] == ["water"]  # (vii): not told since the rain
    assert (report.by, report.position) == ("Alex", "supervisor")  # (viii)
    assert not report.satisfied


def test_what_was_told_in_the_very_minute_of_the_hazard_is_an_action() -> None:
    day = good_day().tell(hazard("crack"))
    day.trench = told(day.trench, event(gauges(*[40] * 6), day.now), tables)
    report = report_of(day.tell(INSPECTED, "supervisor"))
    assert [len(each.gauges) for each in report.actions] == [6]


def test_times_of_the_report() -> None:
    """Told before the end of the shift, reg 24(1)(a); handed over within 24 hours, (1)(c); kept, (3)(a)."""
    day = good_day()
    report = report_of(day)
    assert report.satisfied
    assert report.risks == report.actions == report.further == ()
    assert report.tell_by == day.now.replace(hour=18, minute=0)
    assert report.hand_over_by == day.now + timedelta(hours=24)
    assert report.keep_months == 3


def test_only_the_competent_person_reports() -> None:
    day = Day().sized().tell(INSPECTED, "fitter").tell(INSPECTED, "office")
    assert inspections(day.trench, tables) == ()
    with pytest.raises(ValueError, match="no inspection"):
        inspection_report(day.trench, day.trench.events[-1], tables, SHIFT)


def test_a_report_stays_as_it_was_when_more_is_told() -> None:
    day = good_day()
    before = report_of(day)
    day.tell(hazard("crack")).tell(DRY).tell(Reading(undone=("ladder",)))
    assert report_of(day) == before
