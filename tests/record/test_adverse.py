"""Of a text with words left over only what stands against entry counts.

Expected answers follow from the rule alone: what would help waits, what is worse is taken at once.
"""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from trench_days import (
    AIR,
    ALL_SET,
    AT_40,
    DRY,
    DUG,
    ENDS,
    FIRM_CLAY,
    INSPECTED,
    LADDER,
    LOCATED,
    SIZING,
    SPOIL,
    SUPPORTED,
    Day,
    gauges,
    good_day,
    hazard,
    plan_for,
    tables,
)

from knowledge.reading import Air, BuriedService, Details, Gauge, Reading, Soil, UnitsSet, details_of
from knowledge.record.adverse import adverse

LEFT = ("when dave's back",)


def partly(reading: Reading) -> Reading:
    """The same reading of a text in which words were left over."""
    return reading.model_copy(update={"left_over": LEFT})


def told(**what: object) -> Reading:
    return partly(Reading.model_validate({"purpose": "report", **what}))


@pytest.mark.parametrize(
    "helpful", [DUG, ALL_SET, AT_40, LADDER, SPOIL, ENDS, LOCATED, SUPPORTED, DRY, AIR, INSPECTED]
)
def test_what_would_help_waits(helpful: Reading) -> None:
    """On a day that lacks everything but the plan nothing is ticked, told by whomever."""
    for role in ("fitter", "supervisor"):
        before = Day().sized(reading=SIZING.model_copy(update={"water": None}))
        missing = before.missing()
        now = before.tell(partly(helpful), role).trench.now  # type: ignore[arg-type]
        assert before.missing() == missing
        assert (dict(now.said), now.shores.standing, dict(now.shores.gauges)) == ({}, 0, {})
        assert (now.inspected, now.dug_m, now.last_at) == (None, None, before.trench.states[0].last_at)


@pytest.mark.parametrize(
    ("worse", "facts"),
    [
        (told(hazards=("crack",)), {"open hazard", "inspection"}),
        (told(undone=("ladder",)), {"ladder"}),
        (told(undone=("inspection",)), {"inspection"}),
        (told(undone=("units set",)), {"units", "pressure", "inspection"}),
        (told(done=("units out",)), {"units", "pressure", "inspection"}),
        (told(units_set=UnitsSet(n=5)), {"units", "pressure", "inspection"}),
        (told(units_set=UnitsSet(n=2, level=1)), {"units", "pressure", "inspection"}),
        (told(water="seeping"), {"water", "plan changed", "inspection"}),
        (told(face="ravelling"), {"plan changed", "inspection"}),
        (told(ends="open"), {"ends"}),
        (told(depth_m=1.65), {"plan changed", "inspection", "gap below"}),
        (told(width_m=1.0), {"plan changed", "inspection"}),
        (told(length_m=7.0), {"plan changed", "inspection"}),
        (told(spoil_m=0.3), {"spoil"}),
        (told(plant_m=1.0), {"plan changed", "inspection"}),
        (told(traffic=True), {"plan changed", "inspection"}),
        (told(pavement_m=0.2), {"plan changed", "inspection"}),
        (told(soil=Soil(state="soft")), {"plan changed", "inspection"}),
        (told(soil=Soil(kind="sand")), {"plan changed", "inspection"}),
        (told(soil=Soil(type="C")), {"plan changed", "inspection"}),
        (told(services=(BuriedService(what="telecom"),)), {"plan changed", "inspection", "services"}),
        (told(disturbed=True), {"plan changed", "inspection"}),
        (told(fissured=True), {"plan changed", "inspection"}),
        (told(surcharge_kpa=10.0), {"plan changed", "inspection"}),
        (told(gauges=(Gauge(unit=2, bar=20.0),)), {"open hazard", "inspection", "pressure"}),
        (told(gauges=(Gauge(unit=2, bar=30.0),)), {"open hazard", "inspection", "pressure"}),
        (told(gauges=(Gauge(bar=46.0),)), {"open hazard", "inspection", "pressure"}),
        (told(gauges=(Gauge(bar=40.0), Gauge(bar=90.0))), {"open hazard", "inspection", "pressure"}),
        (told(air=Air(oxygen_pct=18.0)), {"open hazard", "inspection", "air test"}),
        (told(purpose="stop"), {"stopped"}),
        (told(verdict="not safe", done=("inspection",)), {"stopped"}),
        (told(possible_hazard=True), {"open hazard"}),
    ],
)
def test_what_is_worse_counts_at_once(worse: Reading, facts: set[str]) -> None:
    assert good_day().tell(worse).missing() == facts


@pytest.mark.parametrize(
    "no_worse",
    [
        told(depth_m=1.5),
        told(depth_m=1.9, done=("backfill",)),
        told(width_m=0.8),
        told(length_m=5.0),
        told(water="damp"),
        told(spoil_m=1.5),
        told(plant_m=4.0),
        told(traffic=False),
        told(soil=Soil(kind="clay", state="stiff")),
        told(soil=FIRM_CLAY),
        told(gauges=(Gauge(unit=2, bar=43.0),)),
        told(gauges=(Gauge(bar=37.0),)),
        told(units_set=UnitsSet(n=6)),
        told(purpose="close"),
        told(air=Air(oxygen_pct=20.9, lel_pct=0.0)),
        told(answer="all safe"),
    ],
)
def test_what_is_no_worse_changes_nothing(no_worse: Reading) -> None:
    day = good_day()
    before = day.trench.now
    assert day.tell(no_worse).missing() == set()
    assert day.trench.now == before


def test_what_was_never_told_has_nothing_to_be_worse_than() -> None:
    """A depth or a soil out of half a text is no ground to size a trench on."""
    told_first = told(depth_m=0.8, width_m=0.6, length_m=2.0, soil=FIRM_CLAY)
    assert Day().tell(told_first).trench.now.whole == Details()


def test_a_sizing_text_is_sized_and_ticks_nothing() -> None:
    """It is answered from what it says; but neither water, ends nor spoil are told by it."""
    text = SIZING.model_copy(
        update={"ends": "battered", "spoil_m": 1.0, "done": ("ladder",), "left_over": LEFT}
    )
    day = Day().tell(text, plan=plan_for())
    assert details_of(text) == day.trench.now.details
    assert day.trench.now.plan is not None
    assert dict(day.trench.now.said) == {}


def test_a_sizing_text_does_not_dry_a_wet_trench() -> None:
    wet = good_day().tell(Reading(purpose="report", water="seeping"))
    wet.tell(partly(SIZING), plan=plan_for())
    assert "water" in wet.missing()


def test_a_depth_told_for_sure_is_news_though_a_doubt_had_told_it_before_the_inspection() -> None:
    """Who inspected knew of no more than the doubt; a doubt never helps."""
    day = Day().sized().tell(Reading(purpose="report", depth_m=1.2)).tell(told(depth_m=1.6))
    assert "inspection" not in day.tell(INSPECTED, "supervisor").missing()
    assert "inspection" in day.tell(DUG).missing()


def test_silence_is_not_broken_by_half_a_text() -> None:
    day = good_day().wait(hours=5).tell(partly(DRY)).wait(hours=4)
    assert "inspection" in day.missing()


READINGS = st.builds(
    Reading,
    purpose=st.sampled_from(("report", "stop", "close", "answer", "chat", "unclear", "entry")),
    depth_m=st.sampled_from((None, 1.0, 1.6, 1.9)),
    width_m=st.sampled_from((None, 0.8, 0.9, 1.2)),
    length_m=st.sampled_from((None, 5.0, 6.0, 9.0)),
    soil=st.sampled_from(
        (None, FIRM_CLAY, Soil(kind="clay", state="stiff"), Soil(kind="sand"), Soil(type="B"))
    ),
    water=st.sampled_from((None, "dry", "damp", "seeping", "standing")),
    face=st.sampled_from((None, "stands", "running")),
    ends=st.sampled_from((None, "battered", "supported", "open")),
    spoil_m=st.sampled_from((None, 0.2, 0.7, 2.0)),
    plant_m=st.sampled_from((None, 1.0, 5.0)),
    traffic=st.sampled_from((None, True, False)),
    services=st.sampled_from(((), (BuriedService(what="gas"),))),
    gauges=st.sampled_from(((), (Gauge(bar=40.0),), (Gauge(unit=1, bar=20.0),), (Gauge(unit=3, bar=60.0),))),
    units_set=st.sampled_from((None, UnitsSet(all=True), UnitsSet(n=2), UnitsSet(n=3, level=2))),
    done=st.sampled_from(
        (
            (),
            ("units set",),
            ("units out",),
            ("inspection",),
            ("ladder", "air test"),
            ("backfill",),
            ("spoil back",),
        )
    ),
    undone=st.sampled_from(((), ("ladder",), ("units set",), ("inspection",))),
    hazards=st.sampled_from(((), ("rain",), ("crack",))),
    verdict=st.sampled_from((None, "safe", "not safe")),
    answer=st.sampled_from((None, "yes", "ignore", "seen", "all safe")),
    air=st.sampled_from((None, Air(oxygen_pct=20.9, lel_pct=0.0), Air(h2s_ppm=50.0))),
    possible_hazard=st.sampled_from((None, True)),
    danger=st.sampled_from((None, 0.6)),
    left_over=st.just(LEFT),
)
DAYS = {
    "nothing told": Day,
    "sized": lambda: Day().sized(),
    "half told": lambda: Day().sized().tell(DUG).tell(gauges(40, 40)).tell(LADDER),
    "complete": good_day,
    "shaken": lambda: good_day().tell(hazard("rain")).tell(Reading(purpose="stop")),
    "in doubt": lambda: (
        good_day()
        .tell(Reading(purpose="chat"), open_text=True)
        .tell(Reading(purpose="unclear", possible_hazard=True, danger=0.6))
    ),
}


@settings(max_examples=400, deadline=None)
@given(
    name=st.sampled_from(sorted(DAYS)),
    readings=st.lists(READINGS, min_size=1, max_size=3),
    role=st.sampled_from(("fitter", "supervisor", "office")),
)
def test_no_text_with_words_left_over_ever_helps(name: str, readings: list[Reading], role: str) -> None:
    """Whatever it says and whoever says it: what was missing is missing still, at once and an hour later."""
    day, same = DAYS[name](), DAYS[name]()
    for reading in readings:
        day.tell(reading, role, seen=tuple(e.id for e in day.trench.events))  # type: ignore[arg-type]
        same.wait(minutes=1)
        assert same.missing() <= day.missing()
    day.wait(hours=1)
    same.wait(hours=1)
    assert same.missing() <= day.missing()
    if day.entry().entry == "may":
        assert day.entry().until <= same.entry().until  # type: ignore[operator]


def test_what_it_keeps_is_a_reading_with_words_left_over_still() -> None:
    assert not adverse(good_day().trench.now, told(depth_m=1.9), tables).whole
