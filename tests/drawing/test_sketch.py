"""The sketch and the chart: to scale, readable without colour, told in words, and harmless.

What a section drawing shows is common practice, no source.
"""

import xml.etree.ElementTree as ET
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from made import sized

from bot.drawing.sketch import sketch
from bot.drawing.svg import drawing, element, text
from bot.office.chart import GaugeReading, chart
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
    x0 = next(float(r.attrib["x"]) for r in drawn().iter(f"{SVG}rect") if r.attrib.get("fill") == "#fff")
    assert (top[0][0] - x0) / (top[3][0] - x0) == pytest.approx(0.75 / 5.25, abs=0.01)
    ground = next(float(r.attrib["y"]) for r in drawn().iter(f"{SVG}rect") if r.attrib.get("fill") == "#fff")
    assert (top[0][1] - ground) / (low[0][1] - ground) == pytest.approx(0.4 / 1.1, abs=0.01)


def test_a_turned_unit_lies_and_is_told_of() -> None:
    at = (0.75, 2.25, 3.75, 5.25)
    first = Level(depth_m=0.4, units=4, positions_m=at, turned_m=(2.25,))
    svg = drawn(levels=(first, Level(depth_m=1.1, units=4, positions_m=at)))
    rails = [
        (float(r.attrib["width"]), float(r.attrib["height"]))
        for r in svg.iter(f"{SVG}rect")
        if r.attrib.get("stroke-dasharray") == "4 3"
    ]
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
    assert wedges == ["below", "above"]
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
    assert any("length not told, a run is shown" in each for each in words(svg))
    assert words(svg).count("end?") == 2
    assert "not told wide" in (svg.findtext(f"{SVG}desc") or "")


def test_no_value_can_break_out_of_its_element() -> None:
    nasty = '"><script>alert(1)</script>&'
    made = drawing(10, 10, nasty, nasty, "x", [text(0, 0, nasty), element("g", id=nasty)])
    svg = ET.fromstring(made)
    assert [each.tag for each in svg.iter(f"{SVG}script")] == []
    assert nasty in words(svg) and svg.find(f"{SVG}g").attrib["id"] == nasty  # type: ignore[union-attr]


def test_a_reading_outside_its_band_is_a_cross_and_units_alike_share_a_line() -> None:
    read = ((0, 1, 40.0), (0, 2, 40.0), (0, 3, 20.0), (2, 1, 38.0), (2, 2, 38.0), (2, 3, 39.0))
    reads = [GaugeReading(AT + timedelta(hours=hours), unit, bar, bar < 27.6) for hours, unit, bar in read]
    svg = ET.fromstring(chart(reads, sized(), UTC))
    assert {"units 1, 2", "unit 3"} <= set(words(svg))
    assert len([p for p in svg.iter(f"{SVG}path") if p.attrib["stroke"] == "#98210f"]) == 1
    assert "unit 3 20 bar at 25 Nov 08:00" in (svg.findtext(f"{SVG}desc") or "")
    with pytest.raises(ValueError, match="no reading"):
        chart([], sized(), UTC)
