"""What stands in the way of entry: a truth table over every fact, and the words of the contract one by one.

Expected answers are worked by hand from the public contract of the outcome, CDM 2015 reg 22(4) (M-H), 29 CFR
1926.651 and 652 (R1/R2), and common practice where no source is published.
"""

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, time, timedelta
from itertools import product
from typing import get_args
from zoneinfo import ZoneInfo

import pytest
from trench_days import (
    AIR,
    ALL_SET,
    ALLOW,
    ASKED,
    AT_40,
    DRY,
    DUG,
    ENDS,
    INSPECTED,
    LADDER,
    LOCATED,
    MINUTE,
    SHIFT,
    SIZING,
    SPOIL,
    START,
    SUPPORTED,
    TABLE_HERE,
    Day,
    event,
    gauges,
    good_day,
    hazard,
    plan_for,
    tables,
)

from knowledge.entry.may_enter import allowance, may_allow
from knowledge.outcome import EntryFact, Props, Sized
from knowledge.reading import BuriedService, Gauge, Hazard, Reading, Soil, UnitsSet, details_of
from knowledge.record.shift import Shift
from knowledge.record.trench import Role, told
from knowledge.sizing.size import size

# ---------------------------------------------------------------- the truth table

# A trench worked on for two days. On the second morning only what cannot be taken as still so is told again.
Step = Callable[[Day], Day]
FIRST: dict[str, Step] = {
    "sizing": lambda d: d.sized(),
    "services": lambda d: d.tell(LOCATED),
    "gap below": lambda d: d.tell(DUG),
    "units": lambda d: d.tell(ALL_SET),
    "pressure": lambda d: d.tell(gauges(40, 40, 40, 40, 40, 40)),
    "ladder": lambda d: d.tell(LADDER),
    "spoil": lambda d: d.tell(SPOIL),
    "ends": lambda d: d.tell(ENDS),
    "water": lambda d: d.tell(DRY),
    "air test": lambda d: d.tell(AIR),
    "inspection": lambda d: d.tell(INSPECTED, "supervisor"),
}
AGAIN = ("pressure", "ladder", "spoil", "water", "air test", "inspection")


def none(day: Day) -> Day:
    return day


def two_days(rulebook: str, first: dict[str, Step], second: dict[str, Step]) -> Day:
    day = Day(rulebook)  # type: ignore[arg-type]
    for step in ({"table on site": lambda d: d.tell(TABLE_HERE)} | FIRST | first).values():
        step(day)
    day.wait(days=1)
    for step in ({name: FIRST[name] for name in AGAIN} | second).values():
        step(day)
    return day


def says(reading: Reading, role: Role = "fitter", **more: object) -> Step:
    return lambda day: day.tell(reading, role, **more)


def sizes(plan: Sized | None = None, **other: object) -> Step:
    return lambda day: day.sized(plan, SIZING.model_copy(update=other))


def then(*steps: Step) -> Step:
    def walk(day: Day) -> Day:
        for step in steps:
            step(day)
        return day

    return walk


CHAT = Reading(purpose="chat")
STOP = Reading(purpose="stop")
INSPECTS = says(INSPECTED, "supervisor")
NO_PLAN: set[EntryFact] = {"sizing", "units", "pressure", "gap below"}
BARE_PIPE = (BuriedService(what="water", at_m=2.0),)
BY_TABLE = plan_for().model_copy(update={"governed_by": "table"})
WITH_PROPS = plan_for().model_copy(update={"props": Props(depth_m=0.1, units=4, strut=plan_for().strut)})
LOOSE_SAND = Soil(kind="sand", state="loose")

# (row, changes to the first day, changes to the second day, facts then missing)
ROWS: list[tuple[str, dict[str, Step], dict[str, Step], set[EntryFact]]] = [
    ("all told and fresh", {}, {}, set()),
    ("sizing untold", {"sizing": none}, {}, NO_PLAN),
    ("sizing refused", {"sizing": says(SIZING, stopped=True)}, {}, NO_PLAN),
    ("units untold", {"units": none, "pressure": none}, {"pressure": none}, {"units", "pressure"}),
    (
        "units some",
        {"units": says(Reading(units_set=UnitsSet(n=3))), "pressure": none},
        {"pressure": says(gauges(40, 40, 40))},
        {"units", "pressure"},
    ),
    (
        "units taken out",
        {},
        {"inspection": then(says(Reading(undone=("units set",))), INSPECTS)},
        {"units", "pressure"},
    ),
    ("units uncounted", {"sizing": sizes(plan_for(each=None))}, {}, {"units", "pressure"}),
    ("pressure untold", {"pressure": none}, {"pressure": none}, {"pressure"}),
    ("pressure stale", {}, {"pressure": none}, {"pressure"}),
    ("pressure of one untold", {"pressure": none}, {"pressure": says(gauges(*[40] * 5))}, {"pressure"}),
    ("pressure of one stale", {}, {"pressure": says(gauges(*[40] * 5))}, {"pressure"}),
    ("pressure low", {"pressure": none}, {"pressure": says(gauges(40, 40, 20, 40, 40, 40))}, {"pressure"}),
    ("pressure high", {"pressure": none}, {"pressure": says(gauges(40, 40, 55, 40, 40, 40))}, {"pressure"}),
    ("depth dug untold", {"gap below": none}, {}, {"gap below"}),
    ("gap too great", {"sizing": sizes(plan_for(struts=(0.5, 0.95)))}, {}, {"gap below"}),
    ("dug deeper", {"gap below": says(Reading(depth_m=1.8))}, {}, {"plan changed", "gap below"}),
    ("other soil", {}, {"water": says(Reading(water="dry", soil=LOOSE_SAND))}, {"plan changed"}),
    ("refused since", {}, {"water": says(DRY, stopped=True)}, {"plan changed"}),
    ("water untold", {"sizing": sizes(water=None), "water": none}, {"water": none}, {"water"}),
    ("water stale", {}, {"water": none}, {"water"}),
    (
        "water seeping",
        {"sizing": sizes(water="seeping")},
        {"water": says(Reading(water="seeping"))},
        {"water"},
    ),
    ("water more than planned", {}, {"water": says(Reading(water="standing"))}, {"water", "plan changed"}),
    ("air untested", {"air test": none}, {"air test": none}, {"air test"}),
    ("air test stale", {}, {"air test": none}, {"air test"}),
    ("air test undone", {}, {"air test": says(Reading(undone=("air test",)))}, {"air test"}),
    ("not inspected", {"inspection": none}, {"inspection": none}, {"inspection"}),
    ("inspection stale", {}, {"inspection": none}, {"inspection"}),
    ("inspected by a fitter", {}, {"inspection": says(INSPECTED, "fitter")}, {"inspection"}),
    ("inspected by the office", {}, {"inspection": says(INSPECTED, "office")}, {"inspection"}),
    ("services untold", {"services": none}, {}, {"services"}),
    ("services bare", {"sizing": sizes(services=BARE_PIPE)}, {}, {"services"}),
    ("ladder untold", {"ladder": none}, {"ladder": none}, {"ladder"}),
    ("ladder stale", {}, {"ladder": none}, {"ladder"}),
    ("ladder taken out", {}, {"ladder": says(Reading(undone=("ladder",)))}, {"ladder"}),
    ("table untold", {"table on site": none, "sizing": sizes(BY_TABLE)}, {}, {"table on site"}),
    ("surface not propped", {"sizing": sizes(WITH_PROPS)}, {}, {"surface propped"}),
    ("ends untold", {"ends": none}, {}, {"ends"}),
    ("ends open", {"ends": says(Reading(ends="open"))}, {}, {"ends"}),
    ("spoil untold", {"spoil": none}, {"spoil": none}, {"spoil"}),
    ("spoil stale", {}, {"spoil": none}, {"spoil"}),
    ("spoil too near", {"spoil": none}, {"spoil": says(Reading(spoil_m=0.3))}, {"spoil"}),
    (
        "hazard since",
        {},
        {"inspection": then(INSPECTS, says(hazard("crack")))},
        {"open hazard", "inspection"},
    ),
    ("closed", {}, {"inspection": then(INSPECTS, says(Reading(purpose="close")))}, {"sizing"}),
    ("not understood", {}, {"inspection": then(says(CHAT, open_text=True), INSPECTS)}, {"open text"}),
    ("stopped", {}, {"inspection": then(INSPECTS, says(STOP))}, {"stopped"}),
    (
        "perhaps dangerous",
        {},
        {"inspection": then(INSPECTS, says(Reading(possible_hazard=True, danger=0.6)))},
        {"open hazard"},
    ),
]


@pytest.mark.parametrize("rulebook", ["uk", "us"])
@pytest.mark.parametrize(("row", "first", "second", "expected"), ROWS, ids=[row[0] for row in ROWS])
def test_truth_table(
    rulebook: str, row: str, first: dict[str, Step], second: dict[str, Step], expected: set[EntryFact]
) -> None:
    assert two_days(rulebook, first, second).missing() == expected


def test_the_table_speaks_of_every_fact_and_one_row_only_may() -> None:
    assert set().union(*(row[3] for row in ROWS)) == set(get_args(EntryFact))
    assert [row[0] for row in ROWS if not row[3]] == ["all told and fresh"]


def test_of_all_told_and_untold_together_one_row_may() -> None:
    may = []
    for row in product((True, False), repeat=len(FIRST)):
        day = Day()
        for step, is_told in zip(FIRST.values(), row, strict=True):
            if is_told:
                step(day)
        if day.entry().entry == "may":
            may.append(row)
    # A gauge told for every unit by its number tells that the unit is set.
    all_but_units = tuple(name != "units" for name in FIRST)
    # "dry" stands in the sizing message already.
    all_but_water = tuple(name != "water" for name in FIRST)
    neither = tuple(name not in ("units", "water") for name in FIRST)
    assert sorted(may) == sorted([(True,) * len(FIRST), all_but_units, all_but_water, neither])


# ---------------------------------------------------------------- the words of the contract


def test_a_deeper_dig_changes_the_plan_and_a_new_one_must_be_set() -> None:
    day = good_day().tell(DUG.model_copy(update={"depth_m": 1.9}))
    assert "plan changed" in day.missing()
    deeper = SIZING.model_copy(update={"depth_m": 1.9})
    day.sized(plan_for(1.9, (0.6, 1.3)), deeper)
    assert "plan changed" not in day.missing()
    assert "units" in day.missing()
    day.tell(AT_40).tell(INSPECTED, "supervisor")
    assert day.missing() == set()


def test_a_deeper_dig_needs_new_units_even_where_the_new_plan_looks_the_same() -> None:
    day = good_day().tell(DUG.model_copy(update={"depth_m": 1.65}))
    day.sized(plan_for(1.65), SIZING.model_copy(update={"depth_m": 1.65}))
    assert {"units", "pressure"} <= day.missing()


def test_the_same_plan_once_more_leaves_the_units_set() -> None:
    assert good_day().sized().missing() == set()


def test_a_plan_refused_and_given_again_needs_only_the_inspection() -> None:
    day = good_day().tell(DRY, stopped=True)
    assert day.missing() == {"plan changed", "inspection"}
    assert day.sized().missing() == {"inspection"}


def test_which_units_are_unread_is_not_said_where_nobody_counted_them() -> None:
    """Common practice, no source: of a length untold nobody knows how many units there are to read."""
    day = Day().sized(plan_for(each=None)).tell(Reading(gauges=(Gauge(unit=2, bar=40.0),)))
    (unread,) = (each for each in day.entry().missing if each.id == "pressure.some")
    assert unread.numbers == {"units": "?"}


def test_low_when_set_is_pressure_and_no_hazard() -> None:
    day = Day().sized().tell(DUG).tell(Reading(units_set=UnitsSet(n=1), gauges=(Gauge(unit=1, bar=20.0),)))
    assert "pressure" in day.missing()
    assert "open hazard" not in day.missing()
    day.tell(Reading(units_set=UnitsSet(n=1), gauges=(Gauge(unit=1, bar=40.0),)))
    assert day.trench.now.hazards == ()


@pytest.mark.parametrize(
    "fallen",
    [
        gauges(30),
        Reading(gauges=(Gauge(bar=30.0),)),  # which unit is not said: it is below all that were read
        AT_40.model_copy(update={"gauges": (Gauge(bar=35.0),)}),
    ],
    ids=["by number", "without number", "all"],
)
def test_a_fall_from_a_reading_that_held_is_a_hazard(fallen: Reading) -> None:
    day = good_day().tell(fallen)
    assert "open hazard" in day.missing()
    assert [each.kind for each in day.trench.now.hazards] == ["pressure loss"]
    day.tell(INSPECTED, "fitter")
    assert "open hazard" in day.missing()
    day.tell(INSPECTED, "supervisor")
    assert day.missing() == set()


def test_a_creeping_gauge_is_a_fall_too() -> None:
    """However slowly, and whoever looked meanwhile: held against what the unit was set to, 40 bar less 4."""
    day = good_day().tell(gauges(38)).tell(INSPECTED, "supervisor").tell(gauges(36.5))
    assert day.trench.now.hazards == ()
    assert [each.kind for each in day.tell(gauges(35.9)).trench.now.hazards] == ["pressure loss"]


def test_a_unit_of_the_plan_before_may_not_fall_either() -> None:
    deeper = SIZING.model_copy(update={"depth_m": 1.9})
    day = good_day().sized(plan_for(1.9, (0.6, 1.35)), deeper).tell(gauges(30))
    assert [each.kind for each in day.trench.now.hazards] == ["pressure loss"]


def test_bar_and_psi_of_one_gauge_are_no_fall() -> None:
    # 580 psi = 39.99 bar (NIST SP 811, C).
    assert good_day().tell(gauges(580 * 0.06894757293)).missing() == set()


@pytest.mark.parametrize("kind", get_args(Hazard))
@pytest.mark.parametrize("teller", ["fitter", "supervisor", "office"])
def test_any_hazard_closes_entry_until_the_supervisor_has_inspected(kind: Hazard, teller: str) -> None:
    day = good_day().tell(hazard(kind), teller)  # type: ignore[arg-type]
    assert {"open hazard", "inspection"} <= day.missing()
    for reading in (AT_40, DRY, AIR, INSPECTED):
        day.tell(reading, "fitter")
    assert day.missing() == {"open hazard", "inspection"}
    assert day.tell(INSPECTED, "supervisor").missing() == set()


def test_an_inspection_that_tells_a_hazard_clears_nothing() -> None:
    day = good_day().tell(hazard("crack", done=("inspection",)), "supervisor")
    assert {"open hazard", "inspection"} <= day.missing()


def test_after_water_gas_or_a_leak_the_fact_is_told_anew() -> None:
    for kind, fact in (
        ("water", "water"),
        ("rain", "water"),
        ("gas", "air test"),
        ("fluid leak", "pressure"),
    ):
        day = good_day().tell(hazard(kind)).tell(INSPECTED, "supervisor")
        assert day.missing() == {fact}, kind


def test_worst_first() -> None:
    found = good_day().tell(hazard("crack", undone=("ladder",), depth_m=1.9)).entry()
    facts = [each.fact for each in found.missing]
    assert facts == ["open hazard", "plan changed", "gap below", "inspection", "ladder"]


@pytest.mark.parametrize(
    ("works", "why"),
    [
        (Reading(depth_m=1.55), "dig"),
        (Reading(undone=("units set",)), "units"),
    ],
)
def test_inspection_comes_after_the_works(works: Reading, why: str) -> None:
    """CDM 2015 reg 22(4)(a)(ii) (M-H): again after anything likely to have affected strength."""
    day = good_day().tell(works)
    assert "inspection" in day.missing()
    assert any(each.id.endswith(f".{why}") for each in day.entry().missing)


def test_a_long_pause_needs_a_new_inspection() -> None:
    day = good_day("us").wait(hours=8, minutes=30)
    assert "inspection" in day.missing()
    day.tell(AIR)
    assert day.missing() == {"inspection"}
    assert day.tell(INSPECTED, "supervisor").missing() == set()


def test_a_day_on_a_plan_that_was_really_sized() -> None:
    found = size(details_of(SIZING), tables, "uk", "light")
    assert isinstance(found, Sized)
    day = Day().sized(found).works()
    assert day.missing() == {"inspection"}
    assert day.tell(INSPECTED, "supervisor").missing() == set()
    assert day.trench.plan is not None
    assert day.trench.plan.sheet.lines == [], "the record is kept light"
    assert found.sheet.lines


# ---------------------------------------------------------------- figures of the two rulebooks


@pytest.mark.parametrize(
    ("rulebook", "depth", "asked"),
    [
        ("uk", 1.0, {"ladder"}),  # common practice, no source: a ladder at any depth
        ("uk", 1.2, {"ladder"}),
        ("uk", 1.21, {"ladder", "air test"}),
        ("us", 1.21, set()),  # 4 ft = 1.2192 m: 1926.651(c)(2) (R1) at that depth, (g)(1)(i) (R2) deeper
        ("us", 1.2192, {"ladder"}),
        ("us", 1.23, {"ladder", "air test"}),
    ],
)
def test_depths_at_which_ladder_and_air_test_are_asked(rulebook: str, depth: float, asked: set[str]) -> None:
    day = Day(rulebook)  # type: ignore[arg-type]
    day.sized(plan_for(depth, (0.7,)), SIZING.model_copy(update={"depth_m": depth}))
    assert day.missing() & {"ladder", "air test"} == asked


@pytest.mark.parametrize(
    "suspect",
    [
        SIZING.model_copy(update={"depth_m": 1.0, "services": (BuriedService(what="gas", depth_m=2.0),)}),
        SIZING.model_copy(update={"depth_m": 1.0, "soil": Soil(kind="made ground")}),
        SIZING.model_copy(update={"depth_m": 1.0, "hazards": ("gas",)}),
    ],
    ids=["gas pipe", "made ground", "gas smelt"],
)
def test_suspect_air_is_tested_at_any_depth(suspect: Reading) -> None:
    assert "air test" in Day("us").sized(plan_for(1.0, (0.5,)), suspect).missing()
    plain = SIZING.model_copy(update={"depth_m": 1.0})
    assert "air test" not in Day("us").sized(plan_for(1.0, (0.5,)), plain).missing()


@pytest.mark.parametrize(
    ("rulebook", "metres", "enough"),
    [
        ("us", 0.6096, True),  # 2 ft: 29 CFR 1926.651(j)(2) (R1)
        ("us", 0.6, False),
        ("uk", 1.0, True),  # what the trench is sized for, practice; GB law names no distance
        ("uk", 0.99, False),
    ],
)
def test_spoil_distance(rulebook: str, metres: float, enough: bool) -> None:
    day = good_day(rulebook).tell(Reading(spoil_m=metres))  # type: ignore[arg-type]
    assert ("spoil" not in day.missing()) == enough


@pytest.mark.parametrize(("dug", "enough"), [(1.7, True), (1.71, False), (1.1, True), (1.09, False)])
def test_gap_below_the_lowest_strut(dug: float, enough: bool) -> None:
    """0.6 m: common practice, no source. A bottom above the lowest strut, 1.1 m, is an earlier one."""
    day = good_day().sized(plan_for(2.0), SIZING.model_copy(update={"depth_m": 2.0}))
    assert ("gap below" not in day.tell(Reading(depth_m=dug)).missing()) == enough


def test_services_deeper_than_the_trench_need_no_support() -> None:
    deep, met = (
        BuriedService(what="water", at_m=2.0, depth_m=2.5),
        BuriedService(what="water", at_m=2.0, depth_m=0.9),
    )
    for service, expected in ((deep, set()), (met, {"services"})):
        day = Day().sized(reading=SIZING.model_copy(update={"services": (service,)})).works()
        day.tell(INSPECTED, "supervisor")
        assert day.missing() == expected
    assert day.tell(SUPPORTED).missing() == set()


# ---------------------------------------------------------------- until when


def test_may_until_the_air_test_lapses_or_the_shift_ends() -> None:
    day = good_day()
    tested = day.trench.now.said["air test"].at
    assert day.entry().until == tested + timedelta(hours=4)
    day.wait(hours=3, minutes=58)
    assert day.entry().entry == "may"
    assert day.wait(minutes=5).missing() == {"air test"}
    shallow = Day("us").sized(plan_for(1.0, (0.5,)), SIZING.model_copy(update={"depth_m": 1.0}))
    shallow.now = shallow.now.replace(hour=15)
    for reading in (Reading(depth_m=1.0), AT_40, SPOIL, ENDS, LOCATED):
        shallow.tell(reading)
    assert shallow.tell(INSPECTED, "supervisor").entry().until == shallow.now.replace(hour=18, minute=0)


def test_may_until_silence_is_a_break_in_the_work() -> None:
    """Common practice, no source: after eight hours without a word the supervisor looks again."""
    day = Day(now=START.replace(hour=7, minute=5))
    day.sized(
        plan_for(0.9, struts=(0.5,), each=2), SIZING.model_copy(update={"depth_m": 0.9, "length_m": 4.0})
    )
    for reading in (
        DUG.model_copy(update={"depth_m": 0.9}),
        gauges(40, 40),
        LADDER,
        SPOIL,
        ENDS,
        LOCATED,
        DRY,
    ):
        day.tell(reading)
    found = day.tell(INSPECTED, "supervisor").entry()
    assert (found.missing, found.until) == ((), day.now + timedelta(hours=8))


def test_until_is_the_moment_at_which_entry_turns_to_no() -> None:
    day = good_day()
    until = day.entry().until
    assert until is not None
    day.now = until - timedelta(microseconds=1)
    assert day.entry().entry == "may"
    day.now = until
    assert day.entry().entry == "no"


def test_overtime_and_night_need_their_own_inspection() -> None:
    day = good_day()
    day.now = day.now.replace(hour=17, minute=30)
    for reading in (AIR, AT_40):
        day.tell(reading)
    day.tell(INSPECTED, "supervisor")
    assert day.missing() == set()
    day.now = day.now.replace(hour=18, minute=1)
    assert {"inspection", "pressure", "ladder"} <= day.missing()


def test_a_clock_that_runs_ahead_makes_nothing_fresh() -> None:
    day = good_day()
    ahead = Day().sized().works()
    ahead.wait(hours=1).tell(INSPECTED, "supervisor").wait(hours=-1)
    assert "inspection" in ahead.missing()
    assert day.missing() == set()


def test_shift_edges_in_summer_time() -> None:
    shift = Shift(time(7), time(18), ZoneInfo("Europe/London"))
    noon = datetime(2026, 7, 1, 12, tzinfo=UTC)
    assert shift.begin(noon) == datetime(2026, 7, 1, 6, tzinfo=UTC)
    assert shift.close(noon) == datetime(2026, 7, 1, 17, tzinfo=UTC)
    night = datetime(2026, 7, 1, 23, 30, tzinfo=UTC)
    assert shift.begin(night) == datetime(2026, 7, 1, 17, tzinfo=UTC)
    assert shift.close(night) == datetime(2026, 7, 2, 6, tzinfo=UTC)
    assert shift.clock(noon, night) == "01/07 13:00"


# ---------------------------------------------------------------- who allows


def allowed(day: Day) -> str | None:
    return day.entry().allowed_by


def test_only_the_supervisor_allows_and_only_where_nothing_is_missing() -> None:
    day = good_day()
    for role, may in (("fitter", False), ("office", False), ("supervisor", True)):
        assert may_allow(day.trench, role, day.now, tables, SHIFT) == may  # type: ignore[arg-type]
        assert allowed(good_day().tell(ALLOW, role, code_ok=True)) == ("Alex" if may else None)  # type: ignore[arg-type]
    day.tell(Reading(undone=("ladder",)))
    assert not may_allow(day.trench, "supervisor", day.now, tables, SHIFT)


def test_no_code_no_allowance() -> None:
    assert allowed(good_day().tell(ALLOW, "supervisor")) is None


def test_an_allowance_given_while_a_fact_was_missing_never_counts() -> None:
    day = Day().sized().works().tell(ALLOW, "supervisor", code_ok=True).tell(INSPECTED, "supervisor")
    assert day.entry().entry == "may"
    assert allowed(day) is None


@pytest.mark.parametrize(
    ("breaks", "mends"),
    [
        (hazard("crack"), (INSPECTED,)),
        (Reading(undone=("ladder",)), (LADDER,)),
        (Reading(depth_m=1.9), (DUG, INSPECTED)),
        (Reading(spoil_m=0.2), (SPOIL,)),
    ],
)
def test_an_allowance_lapses_at_once_and_does_not_come_back(
    breaks: Reading, mends: tuple[Reading, ...]
) -> None:
    day = good_day().tell(ALLOW, "supervisor", code_ok=True)
    assert allowed(day) == "Alex"
    assert allowed(day.tell(breaks)) is None
    for reading in mends:
        day.tell(reading, "supervisor")
    assert day.entry().entry == "may"
    assert allowed(day) is None
    assert allowed(day.tell(ALLOW, "supervisor", code_ok=True)) == "Alex"


def test_an_allowance_ends_when_it_said_it_would() -> None:
    day = good_day().tell(ALLOW, "supervisor", code_ok=True)
    until = day.entry().until
    assert until is not None
    day.wait(hours=2).tell(AIR)
    assert day.entry().until == until
    assert allowed(day) == "Alex"
    day.now = until
    assert day.entry().entry == "may"
    assert allowed(day) is None


def test_an_allowance_outlives_what_was_sent_before_it_and_came_late() -> None:
    """A text that the network delayed and that changes nothing ends no leave; nor does what was said of an
    earlier time before the leave was given."""
    late = good_day().tell(ALLOW, "supervisor", code_ok=True)
    late.trench = told(late.trench, event(LADDER, late.now - MINUTE / 2), tables)
    assert allowed(late) == "Alex"
    said = good_day()
    said.trench = told(said.trench, replace(event(LADDER, said.now - MINUTE / 2), retold=True), tables)
    assert allowed(said.tell(ALLOW, "supervisor", code_ok=True)) == "Alex"
    said.trench = told(said.trench, replace(event(LADDER, said.now - MINUTE / 2), retold=True), tables)
    assert allowed(said) is None


@pytest.mark.parametrize(("later", "by"), [(timedelta(), "Alex"), (timedelta(seconds=1), None)])
def test_an_allowance_sleeps_so_long_and_no_longer(later: timedelta, by: str | None) -> None:
    """Common practice, no source: as long as people can wait beside the trench while words are cleared up."""
    day = good_day().tell(ALLOW, "supervisor", code_ok=True)
    day.tell(Reading(left_over=("odd",)), open_text=True, words="odd at the far end")
    assert allowed(day) is None
    read = (day.trench.now.open_texts[0].said.event,)
    at = day.now + tables.entry.figure.leave_sleeps.span + later
    day.trench = told(day.trench, event(Reading(), at, "supervisor", seen=read), tables)
    day.now = at
    assert allowed(day) == by


def test_a_service_at_the_very_bottom_needs_its_support() -> None:
    """CDM 2015 reg 25 (M-H): it lies in the trench when the bottom reaches it."""
    for depth, unsupported in ((1.6, True), (1.61, False)):
        day = Day().sized(reading=SIZING.model_copy(update={"services": (BuriedService(depth_m=depth),)}))
        ids = {each.id for each in day.tell(LOCATED).tell(DUG).entry().missing}
        assert ("services.unsupported" in ids) == unsupported


def test_units_are_unknown_where_no_length_and_where_nothing_was_told() -> None:
    unknown = {each.id for each in Day().sized(plan_for(each=None)).entry().missing}
    nothing = {each.id for each in Day().tell(LADDER).entry().missing}
    assert "units.length" in unknown and "units.untold" in nothing


def test_an_allowance_names_its_basis() -> None:
    day = good_day().tell(ALLOW, "supervisor", code_ok=True)
    found = allowance(day.trench, day.now, tables, SHIFT)
    assert found is not None
    events = {each.id: each for each in day.trench.events}
    assert events[found.basis[0]].plan is not None
    assert [events[each].reading for each in found.basis][-1] == INSPECTED
    assert found.number == "+447700900124"


# ---------------------------------------------------------------- after a hazard

# What the new inspection alone does not settle. Air after gas or a strike: 29 CFR 1926.651(g)(1)(iv), tested
# as often as necessary (R1); the rest common practice, no source: what was measured before is no longer so.
ANEW: dict[Hazard, set[EntryFact]] = {
    "gas": {"air test"},
    "strike": {"air test"},
    "pressure loss": {"pressure"},
    "pressure rise": {"pressure"},
    "fluid leak": {"pressure"},
    "water": {"water"},
    "rain": {"water"},
}


@pytest.mark.parametrize("kind", get_args(Hazard))
def test_what_must_be_told_anew_after_a_hazard(kind: Hazard) -> None:
    day = good_day().tell(hazard(kind))
    assert {"open hazard", "inspection"} <= day.missing()
    assert day.tell(INSPECTED, "supervisor").missing() == ANEW.get(kind, set())


@pytest.mark.parametrize(("kind", "tested"), [("gas", True), ("strike", True), ("crack", False)])
def test_gas_and_a_strike_ask_for_an_air_test_at_any_depth(kind: Hazard, tested: bool) -> None:
    """A struck pipe leaks into a hole of any depth: common practice, no source; 1926.651(g)(1)(i), could
    reasonably be expected to exist (R1)."""
    shallow = SIZING.model_copy(update={"depth_m": 0.9})
    day = Day().sized(plan_for(0.9, struts=(0.5,)), shallow)
    assert "air test" not in day.missing()
    assert ("air test" in day.tell(hazard(kind)).missing()) == tested


# ---------------------------------------------------------------- in words


def test_every_missing_fact_says_something_whole() -> None:
    for row, first, second, _ in ROWS:
        for each in two_days("uk", first, second).entry().missing:
            assert each.say.endswith((".", "?")), row
            assert "{" not in each.say, row
            assert each.id.partition(".")[0] in tables.entry.fact, row


def test_an_entry_question_changes_nothing() -> None:
    day = good_day()
    before = day.trench.now
    after = day.tell(ASKED).trench.now
    assert (after.details, after.said, after.shores) == (before.details, before.said, before.shores)
