"""The sketch and the chart: to scale, readable without colour, told in words, and harmless.

What a section drawing shows is common practice, no source.
"""

import xml.etree.ElementTree as ET
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from made import sized

from bot.drawing.section import UNDUG
from bot.drawing.sketch import sketch
from bot.drawing.svg import drawing, element, text
from bot.office.chart import GaugeReading, Moments, strips
from knowledge.outcome import Level
from knowledge.reading import BuriedService, Details
from knowledge.record.set_shores import SetShores, UnitGauge
from knowledge.record.state import TrenchState

AT = datetime(2026, 11, 25, 8, tzinfo=UTC)
SVG = "{http://www.w3.org/2000/svg}"
TOLD = Details(depth_m=1.6, width_m=0.8, length_m=6.0, ends="battered", water="dry")


def drawn(details: Details = TOLD, state: TrenchState | None = None, **plan: object) -> ET.Element:
    return ET.fromstring(sketch(sized(**plan), details, state or TrenchState(), rail_m=0.5))


def circles(svg: ET.Element) -> list[tuple[float, float]]:
    return [(float(c.attrib["cx"]), float(c.attrib["cy"])) for c in svg.iter(f"{SVG}circle")]


def words(svg: ET.Element) -> list[str]:
    return ["".join(each.itertext()) for each in svg.iter(f"{SVG}text")]


def test_units_stand_to_scale_along_and_down() -> None:
    places = circles(drawn())
    assert len(places) == 8
    top, low = places[:4], places[4:]
    along = [(x - top[0][0]) / (top[3][0] - top[0][0]) for x, _ in top]
    # The plan's own places: 0.75, 2.25, 3.75 and 5.25 m of 6 m, 0.4 and 1.1 m down of 1.6 m.
    assert along == pytest.approx([0, 1 / 3, 2 / 3, 1], abs=0.01)
    x0 = next(float(r.attrib["x"]) for r in drawn().iter(f"{SVG}rect") if r.attrib.get("fill") == UNDUG)
    assert (top[0][0] - x0) / (top[3][0] - x0) == pytest.approx(0.75 / 5.25, abs=0.01)
    ground = next(float(r.attrib["y"]) for r in drawn().iter(f"{SVG}rect") if r.attrib.get("fill") == UNDUG)
    assert (top[0][1] - ground) / (low[0][1] - ground) == pytest.approx(0.4 / 1.1, abs=0.01)


def test_a_turned_unit_lies_and_is_told_of() -> None:
    at = (0.75, 2.25, 3.75, 5.25)
    first = Level(depth_m=0.4, units=4, positions_m=at, turned_m=(2.25,))
    svg = drawn(levels=(first, Level(depth_m=1.1, units=4, positions_m=at)))
    rails = [
        (float(r.attrib["width"]), float(r.attrib["height"]))
        for r in svg.iter(f"{SVG}rect")
        if r.attrib.get("stroke-dasharray") == "4 3"
    ][:8]  # those of the long section
    assert [wide > tall for wide, tall in rails] == [False, True, *[False] * 6]
    scale = circles(svg)[1][0] - circles(svg)[0][0]
    assert rails[1][0] / scale == pytest.approx(0.5 / 1.5, abs=0.01)  # a rail of 0.5 m, units 1.5 m apart
    assert "Rails level at 2.25 m." in svg.findtext(f"{SVG}desc", "")


def test_a_unit_is_solid_only_where_it_is_told_set() -> None:
    shores = SetShores.of(sized())
    fills = [c.attrib["fill"] for c in drawn(state=TrenchState(shores=shores)).iter(f"{SVG}circle")]
    assert set(fills) == {"#fff"}
    state = TrenchState(shores=replace(shores, counts=(4, 0), whole=(True, False)))
    fills = [c.attrib["fill"] for c in drawn(state=state).iter(f"{SVG}circle")]
    assert fills[:4] != ["#fff"] * 4 and set(fills[4:]) == {"#fff"}


def test_a_gauge_outside_the_band_or_in_doubt_has_a_sign_of_its_own() -> None:
    bars = {1: 40.0, 2: 20.0, 3: 60.0, 4: 40.0}
    gauges = {unit: UnitGauge(bar, bar, bar, AT, sure=unit != 4) for unit, bar in bars.items()}
    shores = replace(SetShores.of(sized()), counts=(4, 0), whole=(True, False), gauges=gauges)
    svg = drawn(state=TrenchState(shores=shores))
    assert {"40", "20", "60", "40 ?"} <= set(words(svg))
    wedges = [p.attrib["class"] for p in svg.iter(f"{SVG}path") if "class" in p.attrib]
    assert [each for each in wedges if each != "batter"] == ["below", "above"]
    assert {t.text for t in svg.iter(f"{SVG}text") if t.attrib.get("font-weight") == "700"} == {"20", "60"}
    told = svg.findtext(f"{SVG}desc") or ""
    assert "Unit 2 read 20 bar, below the band." in told
    assert "Unit 4 read 40 bar, in the band, in doubt since." in told


def test_the_drawing_is_told_in_words_and_named() -> None:
    svg = drawn(replace_services(TOLD))
    assert svg.attrib["role"] == "img"
    named = svg.attrib["aria-labelledby"].split()
    assert [each.attrib["id"] for each in svg if each.attrib.get("id")] == named
    told = svg.findtext(f"{SVG}desc") or ""
    for part in (
        "1.6 m deep, 0.8 m wide, 6 m long",
        "Level 2: struts 1.1 m down, 4 units",
        "gas at 3 m, 0.7 m down",
        "water along a face, depth not told",
        "Pump to 28-51 bar (410-740 psi)",
    ):
        assert part in told


def replace_services(details: Details) -> Details:
    services = (BuriedService(what="gas", at_m=3.0, depth_m=0.7), BuriedService(what="water"))
    return details.model_copy(update={"services": services})


def test_what_is_not_told_is_not_drawn() -> None:
    svg = drawn(Details(depth_m=1.6), units=None, run_m=3.0, units_per_run=2,
                levels=(Level(depth_m=0.4), Level(depth_m=1.1)))  # fmt: skip
    assert circles(svg) == []
    assert any("length not reported, one run is shown" in each for each in words(svg))
    assert words(svg).count("end?") == 2
    assert "not told wide" in (svg.findtext(f"{SVG}desc") or "")


def heights(svg: ET.Element, fill: str) -> list[float]:
    """How tall the boxes of that fill are that are as broad as a trench or more."""
    boxes = [r.attrib for r in svg.iter(f"{SVG}rect") if r.attrib.get("fill") == fill]
    return [
        float(each["height"]) for each in boxes if float(each["width"]) > 40 and float(each["height"]) > 20
    ]


def test_white_is_what_is_reported_dug_and_no_more() -> None:
    planned = heights(drawn(), UNDUG)
    assert len(planned) == 2 and heights(drawn(), "#fff") == []  # nobody said how deep it is dug
    half = drawn(state=TrenchState(dug_m=0.8))
    assert [
        white / full for white, full in zip(heights(half, "#fff"), heights(half, UNDUG), strict=True)
    ] == (pytest.approx([0.5, 0.5], abs=0.01))
    past = drawn(state=TrenchState(dug_m=2.0))
    assert heights(past, "#fff") == heights(past, UNDUG)
    assert any("dug 2 m: deeper than the plan" in each for each in words(past))
    assert "Reported dug to 2 m, deeper than the plan." in (past.findtext(f"{SVG}desc") or "")


def test_the_cross_section_is_solid_only_where_a_whole_level_is_set() -> None:
    def struts(state: TrenchState) -> list[tuple[str, str | None]]:
        found = [r.attrib for r in drawn(state=state).iter(f"{SVG}rect") if r.attrib["height"] == "8"]
        return [(each["fill"], each.get("stroke-dasharray")) for each in found]

    none = SetShores.of(sized())
    assert struts(TrenchState(shores=none)) == [("#fff", "4 3")] * 2
    some = replace(none, counts=(3, 0))
    assert struts(TrenchState(shores=some)) == [("#fff", None), ("#fff", "4 3")]
    whole = replace(none, counts=(4, 0), whole=(True, False))
    assert struts(TrenchState(shores=whole))[0][0] not in ("#fff", None)
    assert {"4 of 4", "0 of 4"} <= set(words(drawn(state=TrenchState(shores=whole))))


def test_spoil_stands_at_its_distance_in_the_scale_of_the_width() -> None:
    def heap(off: float) -> float:
        svg = drawn(state=TrenchState(spoil_m=off))
        path = next(p for p in svg.iter(f"{SVG}path") if p.attrib.get("class") == "spoil")
        face = max(
            float(r.attrib["x"]) + float(r.attrib["width"])
            for r in svg.iter(f"{SVG}rect") if r.attrib.get("fill") == UNDUG
        )  # fmt: skip
        broad = min(float(r.attrib["width"]) for r in svg.iter(f"{SVG}rect") if r.attrib.get("fill") == UNDUG)
        return (float(path.attrib["d"].split()[1]) - face) / broad * 0.8

    for off in (0.3, 0.6, 1.5, 3.0):
        assert heap(off) == pytest.approx(off, abs=0.02)
    assert any("not to scale" in each for each in words(drawn(state=TrenchState(spoil_m=8.0))))


def test_one_scale_both_ways_or_the_drawing_says_that_it_is_not() -> None:
    assert "Long section, to scale" in words(drawn(TOLD.model_copy(update={"length_m": 3.0})))
    long = drawn(TOLD.model_copy(update={"length_m": 12.0}))
    assert any("heights drawn" in each and "times too tall" in each for each in words(long))


def test_a_battered_end_slopes_and_an_open_one_does_not() -> None:
    def slopes(ends: str) -> int:
        svg = drawn(TOLD.model_copy(update={"ends": ends}))
        return sum(p.attrib.get("class") == "batter" for p in svg.iter(f"{SVG}path"))

    assert (slopes("battered"), slopes("open"), slopes("supported")) == (2, 0, 0)


def test_units_set_that_nobody_placed_are_told_and_not_drawn() -> None:
    unknown = {"units": None, "run_m": 3.0, "units_per_run": 2}
    levels = (Level(depth_m=0.4), Level(depth_m=1.1))
    shores = replace(SetShores.of(sized(**unknown, levels=levels)), loose=4)
    svg = drawn(Details(depth_m=1.6), TrenchState(shores=shores), **unknown, levels=levels)
    assert "4 units reported set, places not known" in words(svg) and circles(svg) == []


def test_no_rail_reaches_below_the_bottom() -> None:
    svg = ET.fromstring(sketch(sized(), TOLD, TrenchState(), rail_m=1.4))
    bottom = max(
        float(r.attrib["y"]) + float(r.attrib["height"])
        for r in svg.iter(f"{SVG}rect") if r.attrib.get("fill") == UNDUG
    )  # fmt: skip
    rails = [r.attrib for r in svg.iter(f"{SVG}rect") if r.attrib.get("stroke-dasharray") == "4 3"]
    assert rails and all(float(each["y"]) + float(each["height"]) <= bottom + 0.1 for each in rails)


def test_no_value_can_break_out_of_its_element() -> None:
    nasty = '"><script>alert(1)</script>&'
    made = drawing(10, 10, nasty, nasty, "x", [text(0, 0, nasty), element("g", id=nasty)])
    svg = ET.fromstring(made)
    assert [each.tag for each in svg.iter(f"{SVG}script")] == []
    assert nasty in words(svg) and svg.find(f"{SVG}g").attrib["id"] == nasty  # type: ignore[union-attr]


def test_each_unit_has_a_strip_of_its_own_with_what_happened_marked() -> None:
    read = (
        (0, 1, 40.0, "in"),
        (0, 3, 20.0, "low"),
        (2, 1, 38.0, "in"),
        (2, 3, 39.0, "in"),
        (2, 9, 40.0, "in"),
    )
    reads = [GaugeReading(AT + timedelta(hours=at), unit, bar, state) for at, unit, bar, state in read]
    when = Moments(hazards=(AT + timedelta(hours=1),), inspections=(AT + timedelta(hours=2),))
    one, three, nine = (ET.fromstring(each) for each in strips(reads, sized(), UTC, when))
    crosses = [[p for p in svg.iter(f"{SVG}path") if p.attrib["stroke"] == "#98210f"] for svg in (one, three)]
    assert [len(each) for each in crosses] == [0, 1]
    assert "Unit 1: 38 bar" in words(one) and "Unit 9, not in the plan: 40 bar" in words(nine)
    assert {"bar", "!", "I"} <= set(words(one))
    told = three.findtext(f"{SVG}desc") or ""
    assert "20 bar at 25 Nov 08:00; 39 bar at 25 Nov 10:00; band " in told
    with pytest.raises(ValueError, match="no reading"):
        strips([], sized(), UTC)
