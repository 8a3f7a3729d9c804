"""The calculation sheet: what a checking engineer asks of it, on trenches of every kind."""

import json
import math
import re
from typing import Any

import pytest
from trenches import TABLES, outcome, told

from knowledge.outcome import Sized, Stop
from knowledge.reading import Beside, BuriedService
from knowledge.sheet import Sheet, SheetLine
from knowledge.tables.load import ABROAD
from knowledge.units import round_down, round_up

USUAL = {"length_m": 6.0, "pavement_m": 0.0, "water": "dry", "ends": "battered"}
STANDS = {"face": "stands"}
# Every branch that leaves other lines: grounds, boards, loads of each kind, slopes, slabs, services.
TRENCHES: dict[str, Any] = {
    "main": (1.6, 0.9, "firm clay", {"spoil_m": 1.2}),
    "shallow": (0.9, 0.6, "stiff clay", {}),
    "boards": (2.0, 0.9, "firm clay", {"spoil_m": 0.3}),
    "soft": (1.6, 0.9, "soft clay", STANDS),
    "sand": (1.5, 0.75, "medium dense sand", STANDS),
    "gravel": (1.5, 0.9, "dense gravel", STANDS),
    "made ground": (1.1, 0.6, "made ground", STANDS),
    "type told": (1.5, 0.9, "type B", {}),
    "virgin": (2.0, 1.5, "stiff clay", {"disturbed": False, "traffic": False}),
    "traffic": (1.2, 0.6, "firm clay", {"traffic": True, "traffic_m": 1.0}),
    "traffic untold distance": (1.2, 0.6, "stiff clay", {"traffic": True}),
    "plant": (1.6, 0.9, "stiff clay", {"plant_m": 1.0, "plant_t": 2.5}),
    "plant and traffic": (1.5, 0.9, "very stiff clay", {"plant_m": 1.2, "plant_t": 5.0, "traffic_m": 2.0}),
    "load stated": (1.5, 0.9, "stiff clay", {"surcharge_kpa": 15.0}),
    "load and plant": (1.5, 0.9, "very stiff clay", {"surcharge_kpa": 15.0, "plant_m": 1.0, "plant_t": 2.0}),
    "heap at the edge": (1.2, 0.9, "stiff clay", {"spoil_m": 0.0}),
    "slope": (1.2, 0.9, "stiff clay", {"beside": (Beside(what="slope", one_in=5.0),)}),
    "slab": (1.6, 0.9, "firm clay", {"pavement_m": 0.25}),
    "services": (1.6, 0.9, "firm clay", {"services": (BuriedService(what="water", at_m=3.0, depth_m=0.6),)}),
    "turned": (
        1.6,
        0.9,
        "firm clay",
        {"services": tuple(BuriedService(what="electric", at_m=x, depth_m=0.25) for x in (2.5, 3.0, 3.5))},
    ),
    "length untold": (1.6, 0.9, "firm clay", {"length_m": None}),
    "damp": (1.6, 0.9, "stiff clay", {"water": "damp", "fissured": True}),
}
HELD = [
    (name, book, kit)
    for name in TRENCHES
    for book, kit in (("uk", "light"), ("uk", "heavy"), ("us", "heavy"), ("us", "light"))
]
WORDS = {"min", "max", "sqrt", "tan", "radians", "atan", "sin", "cos", "round_down", "round_up", "π", "given"}
SYMBOL = re.compile(r"[^\W\d]\w*")


def sheet_of(name: str, book: str = "uk", kit: str = "light") -> tuple[Sized | Stop, list[SheetLine]]:
    depth, width, ground, more = TRENCHES[name]
    found = outcome(told(depth, width, ground, **(USUAL | more)), book, kit)
    assert isinstance(found, Sized | Stop), found
    return found, found.sheet.lines


ALL = pytest.mark.parametrize(("name", "book", "kit"), HELD)


def test_every_kind_of_trench_is_among_them() -> None:
    """Else what follows would hold of stops alone, whose sheets are short."""
    sized = {name for name in TRENCHES if isinstance(sheet_of(name)[0], Sized)}
    assert sized >= TRENCHES.keys() - {"soft", "sand", "gravel", "made ground"}
    assert {"gravel"} <= sized
    turned = sheet_of("turned")[0]
    assert isinstance(turned, Sized) and turned.turned


@ALL
def test_each_line_says_in_words_what_it_is_and_where_from(name: str, book: str, kit: str) -> None:
    for line in sheet_of(name, book, kit)[1]:
        assert len(line.name.split()) > 1 or line.name in ("Strut", "Shape factor"), line
        assert line.source and line.part, line


@ALL
def test_a_symbol_stands_for_one_value(name: str, book: str, kit: str) -> None:
    seen: dict[str, float] = {}
    for line in sheet_of(name, book, kit)[1]:
        if line.holds is None:
            assert line.symbol not in seen, line
            seen[line.symbol] = line.value


@ALL
def test_each_value_put_in_has_its_own_line_before(name: str, book: str, kit: str) -> None:
    seen: dict[str, float] = {}
    for line in sheet_of(name, book, kit)[1]:
        for symbol in SYMBOL.findall(line.formula):
            assert symbol in seen or symbol in WORDS, f"{symbol} in {line}"
        if line.holds is None:
            seen[line.symbol] = line.value


@ALL
def test_each_line_comes_out_by_the_values_of_the_lines_before(name: str, book: str, kit: str) -> None:
    """To all digits: the sheet is what was computed, not a retelling of it."""
    names = {n: getattr(math, n) for n in WORDS if hasattr(math, n)}
    names |= {"min": min, "max": max, "round_down": round_down, "round_up": round_up, "π": math.pi}
    seen: dict[str, float] = {}
    for line in sheet_of(name, book, kit)[1]:
        work = line.formula.replace("×", "*").replace("^", "**")
        if line.holds is not None:
            over, under = (eval(side, {**names, **seen}) for side in work.split("<="))
            assert (over <= under * (1 + 1e-9)) is line.holds
            assert line.value == pytest.approx(over / under, rel=1e-9)
            continue
        if line.formula != "given":
            assert line.value == pytest.approx(eval(work, {**names, **seen}), rel=1e-9), line
        seen[line.symbol] = line.value


@ALL
def test_figures_are_printed_in_four_digits(name: str, book: str, kit: str) -> None:
    for line in sheet_of(name, book, kit)[1]:
        if "round_" in line.formula:  # must show on which side of the step it lies
            continue
        for figure in re.findall(r"\d+\.?\d*", line.figures.replace("3.14159", "").replace("10000", "")):
            significant = figure.replace(".", "").strip("0")
            assert len(significant) <= 4, f"{figure} in {line}"


@ALL
def test_an_answer_holds_every_check_of_its_sheet(name: str, book: str, kit: str) -> None:
    """But for the loss of one unit, which is said and does not stop."""
    found, lines = sheet_of(name, book, kit)
    if not isinstance(found, Sized):
        return
    checks = [line for line in lines if line.holds is not None]
    lost = [line for line in checks if line.part == "One unit lost"]
    assert all(line.holds for line in checks if line not in lost)
    assert found.survives is not None
    assert [line.holds for line in lost] == [found.survives.holds]
    # Each stage of the dig, and each member at full depth.
    assert len(checks) >= 5 + len(found.levels)


@ALL
def test_each_rulebook_cites_its_own_law_or_says_that_it_has_none(name: str, book: str, kit: str) -> None:
    """Finding: UK answers cited 29 CFR for what a UK text says, US ones a British booklet."""
    found, lines = sheet_of(name, book, kit)
    foreign = (
        ("29 CFR", "Caltrans", "UFC", "FHWA", "GEC")
        if book == "uk"
        else ("BS ", "EN 19", "CIRIA", "HSE", "CDM", "DIN", "EN 837")
    )
    sources = [line.source for line in lines] + [c.source for c in found.cautions]
    sources += [r.source for r in found.stop] if isinstance(found, Stop) else []
    for source in sources:
        if any(word in source for word in foreign):
            assert ABROAD["us" if book == "uk" else "uk"] in source or "[US" in source, source


def test_what_is_withdrawn_is_marked_and_says_what_stands_in_its_place() -> None:
    for name, _, _ in HELD[::4]:
        for line in sheet_of(name)[1]:
            if "BS 8002:1994" in line.source:
                assert "withdrawn" in line.source
    assert any("withdrawn; now BS 8002:2015" in line.source for line in sheet_of("main")[1])


def test_a_sheet_comes_back_from_the_log_as_it_was() -> None:
    found, lines = sheet_of("main")
    stored = json.loads(json.dumps(found.public()))["sheet"]
    assert Sheet.of([SheetLine(**line) for line in stored]).lines == lines


def test_a_verdict_is_printed_with_its_figures() -> None:
    """engineering.md's form: `N = 15.7 kN <= R_b = 16.2 kN: holds`, here with the share it takes."""
    line = next(line for line in sheet_of("main")[1] if line.symbol == "N <= R_b")
    assert str(line).startswith("Load on the ground behind a rail: N <= R_b: 14.05 <= 16.17 kN: holds (0.87)")


def test_a_check_that_fails_says_so() -> None:
    sheet = Sheet()
    sheet.given("N", 20.0, "kN", "told", "Load of a strut")
    assert not sheet.check("Load of a strut", ("N", 20.0), ("R", 10.0), "kN", "at full depth")
    assert "20 > 10 kN: DOES NOT HOLD (2.00)" in str(sheet.lines[-1])


def test_the_tables_name_no_source_that_is_not_used_or_unknown() -> None:
    assert all(source.home in (None, "uk", "us") for source in TABLES.sources.source.values())
