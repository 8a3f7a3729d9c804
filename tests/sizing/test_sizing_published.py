"""Published results, reproduced by the functions that size a trench; sources and marks are in the rows."""

import math
import tomllib
from pathlib import Path
from typing import Any

import pytest
from trenches import FT, TABLES, outcome, sized, stopped, told

from knowledge.reading import Details
from knowledge.sheet import Sheet
from knowledge.sizing.ground import Ground, downgraded, type_by_strength
from knowledge.sizing.levels import heights
from knowledge.sizing.pressure import (
    base_bearing,
    design_pressure,
    rankine,
    sand_pressure,
    stability_number,
    strip_worst_depth,
)
from knowledge.sizing.strut import gauge_force, strut_load
from knowledge.sizing.surcharge import strip
from knowledge.tables.kit import StrutSize
from knowledge.tables.sizing_figures import RulebookTable
from knowledge.units import (
    BAR_PER_PSI,
    KPA_PER_PSF,
    KPA_PER_TSF,
    Amount,
    Lengths,
    as_told,
    round_down,
    round_up,
    show,
)

CASES = tomllib.loads((Path(__file__).parents[1] / "cases" / "published.toml").read_text(encoding="utf-8"))
FAR = Details(spoil_m=100.0)  # a heap so far off that it presses nothing


def envelope(ground: Ground, depth: float, symbol: str) -> float:
    """One envelope of the design pressure, off its sheet."""
    sheet = Sheet()
    design_pressure(ground, depth, 0.9, FAR, TABLES, TABLES.rulebook_uk, sheet)
    return next(line.value for line in sheet.lines if line.symbol == symbol)


def ground_of(soil_type: str, kind: str = "clay", state: str = "hard") -> Ground:
    row = TABLES.soils.rows[kind, state]  # type: ignore[index]
    strength = row.strength.uk if row.strength else None
    return Ground(row, soil_type, row.weight.si, strength, row.friction.si, intact=False, heap=row.weight.si)  # type: ignore[arg-type]


@pytest.mark.parametrize("case", CASES["app_c"], ids=lambda case: f"{case['feet']} ft")
@pytest.mark.parametrize("soil_type", ["A", "B", "C"])
def test_app_c_pressures(case: dict[str, Any], soil_type: str) -> None:
    kpa = envelope(ground_of(soil_type), case["feet"] * FT, "p_1")
    assert kpa / KPA_PER_PSF == pytest.approx(case["psf"][soil_type], rel=1e-6)


@pytest.mark.parametrize(("soil_type", "kpa"), [("A", 9.73), ("B", 14.76), ("C", 23.55)])
def test_app_c_pressures_in_si_at_1_6_m(soil_type: str, kpa: float) -> None:
    assert envelope(ground_of(soil_type), 1.6, "p_1") == pytest.approx(kpa, rel=1e-3)


@pytest.mark.parametrize("case", CASES["strut_loads"], ids=lambda case: case["against"])
def test_strut_loads_by_tributary_area(case: dict[str, Any]) -> None:
    p = sand_pressure(
        TABLES.pressures.sand_factor.si, rankine(case["phi"]), case["weight"], case["depth"], 0.0
    )
    assert p == pytest.approx(case["pressure"], rel=0.005)
    carried = heights(tuple(case["struts"]), case["depth"], Sheet())
    loads = [strut_load(p, case["spacing"], h) for h in carried]
    assert loads == pytest.approx(case["tributary"], rel=0.005)
    area = p * case["depth"] * case["spacing"]
    assert sum(loads) == pytest.approx(area, rel=1e-3)
    assert sum(case["hinge"]) == pytest.approx(area, rel=1e-3)


@pytest.mark.parametrize(("n", "shapes"), [(3.6, 1), (5.0, 2), (7.2, 2)])
def test_the_stability_number_switches_the_clay_envelope(n: float, shapes: int) -> None:
    # Caltrans 8-3 (R1): up to 4 stiff, 4 to 6 the larger of two, above 6 soft.
    ground = ground_of("B", state="soft")
    assert ground.strength is not None
    depth = n * ground.strength / ground.weight
    assert stability_number(ground.weight, depth, ground.strength) == pytest.approx(n)
    sheet = Sheet()
    found = design_pressure(ground, depth, 0.9, FAR, TABLES, TABLES.rulebook_us, sheet)
    symbols = ["p_2"] if shapes == 1 else ["p_2a", "p_2s", "p_2"]
    lines = [line for line in sheet.lines if line.symbol.startswith("p_2")]
    assert [line.symbol for line in lines] == symbols
    if n > 6:
        soft = max(0.25, 1 - 4 / n) * ground.weight * depth
        assert lines[1].value - lines[0].value == pytest.approx(soft - 0.4 * ground.weight * depth)
        assert lines[2].value == lines[1].value > lines[0].value
    assert found.kpa >= max(line.value for line in lines)


@pytest.mark.parametrize("case", CASES["app_a"], ids=lambda case: f"{case['tsf']} tsf")
def test_app_a_boundaries(case: dict[str, Any]) -> None:
    assert type_by_strength(case["tsf"] * KPA_PER_TSF, TABLES.soils) == case["type"]


@pytest.mark.parametrize("case", CASES["downgrade"], ids=lambda case: f"{case['start']} {case['conditions']}")
def test_app_a_downgrades(case: dict[str, Any]) -> None:
    held = {
        name: name in case["conditions"] for name in ("fissured", "vibration", "disturbed", "wet", "dipping")
    }
    assert downgraded(case["start"], **held) == case["result"]


@pytest.mark.parametrize("case", CASES["scale"], ids=lambda case: case["soil"])
@pytest.mark.parametrize("rulebook", ["uk", "us"])
def test_the_same_word_on_two_scales(case: dict[str, Any], rulebook: str) -> None:
    details = told(1.2, 1.0, case["soil"], disturbed=False, fissured=False, traffic=False, face="stands")
    assert outcome(details, rulebook).soil_type == case[rulebook]  # type: ignore[union-attr]


def test_street_ground_is_dug_before_unless_the_message_says_virgin() -> None:
    # App A Type A (iii), R1: previously disturbed soil is B at best.
    assert sized(told(1.2, 0.9, "stiff clay", fissured=False, traffic=False)).soil_type == "B"
    assert sized(told(1.2, 0.9, "stiff clay", disturbed=False, traffic=False)).soil_type == "B"


def test_a_type_told_is_taken_as_classed_and_never_better_than_described() -> None:
    assert sized(told(1.6, 0.9, "type A")).soil_type == "A"
    assert sized(told(1.6, 0.9, "type A", traffic=True, pavement_m=0)).soil_type == "B"
    soft = told(1.6, 0.9, "soft clay", face="stands")
    assert soft.soil is not None
    both = soft.model_copy(update={"soil": soft.soil.model_copy(update={"type": "A"})})
    assert sized(both).soil_type == "C"


@pytest.mark.parametrize("case", CASES["bore"], ids=lambda case: f"{case['inches']} in")
def test_force_is_pressure_by_bore_area(case: dict[str, Any]) -> None:
    name = "two-inch short" if case["inches"] == 2 else "three-inch"
    size: StrutSize = next(s for s in TABLES.kits["heavy"].strut if s.name == name)
    assert size.bore_area_mm2 == pytest.approx(case["mm2"], rel=1e-4)
    for psi, kn in case["kn"].items():
        force = gauge_force(float(psi) * BAR_PER_PSI / 10_000, size.bore_area_mm2)
        assert force == pytest.approx(kn, rel=1e-3)


def test_a_pump_limit_is_never_rounded_the_unsafe_way() -> None:
    # 400 psi = 27.58 bar, 750 psi = 51.71 bar; 52 bar would be 754 psi (C from exact definitions).
    practice = TABLES.practice
    assert practice.pressure_least.si == pytest.approx(27.58, abs=0.005)
    assert practice.pressure_most.si == pytest.approx(51.71, abs=0.005)
    assert round_up(practice.pressure_least.si, 1.0) == 28
    assert round_down(practice.pressure_most.si, 1.0) == 51
    assert show(Amount(practice.pressure_most.si, "bar", "upper")) == "51 bar"
    found = sized(told(1.6, 0.9, "firm clay"))
    assert found.pressure_bar[1] / BAR_PER_PSI <= 750
    assert found.pressure_bar[0] / BAR_PER_PSI >= 400


@pytest.mark.parametrize(
    ("metres", "unit", "said"),
    [  # common practice, no source
        (8.0, "cm", "8 m"),
        (8.255, "mm", "8.255 m"),
        (3.0, "cm", "3 m"),
        (2.99, "cm", "299 cm"),
        (1.6, "cm", "160 cm"),
        (1.605, "mm", "1605 mm"),
        (1.6, "m", "1.6 m"),
        (8.001, "ft", "26 ft 3 in"),
    ],
)
def test_a_length_is_said_back_in_the_unit_of_the_sender_or_in_metres(
    metres: float, unit: Lengths, said: str
) -> None:
    assert as_told(metres, unit) == said


def test_a_worked_length_is_rounded_to_its_safe_side_in_any_unit() -> None:
    assert show(Amount(3.456, "m", "upper"), "cm") == "3.45 m"
    assert show(Amount(3.451, "m", "lower"), "mm") == "3.46 m"
    assert show(Amount(1.456, "m", "upper"), "cm") == "145 cm"


def test_the_strip_presses_most_where_a_search_finds_it() -> None:
    for x_1, x_2 in ((0.3, 1.8), (1.0, 2.5), (2.0, 2.1), (0.05, 4.0)):
        deepest = strip_worst_depth(x_1, x_2, 1e9)
        searched = max((z / 1000 for z in range(1, 8000)), key=lambda z: strip(10.0, x_1, x_2, z))
        assert deepest == pytest.approx(searched, abs=0.002)


@pytest.mark.parametrize(
    ("ratio", "strip_n_c", "square"),
    [(0.0001, 5.14, 6.2), (1, 6.4, 7.7), (2, 7.0, 8.4), (4, 7.5, 9.0), (9, 7.5, 9.0)],
)
def test_bearing_factor_for_base_heave(ratio: float, strip_n_c: float, square: float) -> None:
    # Skempton 1951 table, also used for Bjerrum and Eide's chart (M-H); chart readings differ by 3%.
    rows = TABLES.pressures
    assert base_bearing(ratio, 1.0, None, rows, Sheet()) == pytest.approx(strip_n_c, rel=0.03)
    assert base_bearing(ratio, 1.0, 1.0, rows, Sheet()) == pytest.approx(square, rel=0.03)


def test_base_factor_of_a_published_cut() -> None:
    # Caltrans Ex 10-2 (R1): H/B 2, B/L 1/3, 7.6 off the chart; chart readings 3%.
    assert base_bearing(30.0, 15.0, 45.0, TABLES.pressures, Sheet()) == pytest.approx(7.6, rel=0.03)


@pytest.mark.parametrize(
    ("rule", "number", "metres"),
    [
        ("ladder-us", "reach", 25 * FT),
    ],
)
def test_figures_of_the_us_rules(rule: str, number: str, metres: float) -> None:
    # 29 CFR 1926.651 and 652 (R1).
    assert TABLES.rules.rule[rule].numbers[number].si == pytest.approx(metres)


def test_depths_and_distances_of_the_us_rulebook() -> None:
    # 20 ft: App F; 2 ft: 651(j)(2); 4 ft: 651(c)(2) (all R1).
    book: RulebookTable = TABLES.rulebook_us
    assert book.depth is not None
    assert book.depth.si == pytest.approx(20 * FT)
    assert book.spoil.si == pytest.approx(2 * FT)
    at, above = told(4 * FT, 1.0, "type B"), told(3.9 * FT, 1.0, "type B")
    assert "ladder-us" in {c.id for c in sized(at, "us").cautions}
    assert "ladder-us" not in {c.id for c in sized(above, "us").cautions}


def test_water_makes_any_soil_type_c_and_stops_it() -> None:
    # App A Type C (iii), R1.
    details = told(1.6, 0.9, "type A", water="seeping")
    assert outcome(details).soil_type == "C"  # type: ignore[union-attr]
    assert "water" in stopped(details)


def test_a_squash_load_is_never_exceeded_by_the_column() -> None:
    # Hibbeler, Mechanics of Materials, Ex 13.1 (R1): a stocky column fails by yield, not by Euler's load.
    for kit in TABLES.kits.values():
        for c in kit.combinations:
            tube = c.size.tube
            assert c.size.stated_kn(c.greatest_m) <= tube.yield_gpa * tube.area_mm2
            assert math.isfinite(tube.inertia_mm4)
