"""Thirteen trenches worked by hand beside the sheet, line by line: tests/cases/by_hand.toml."""

import math
import re
import tomllib
from pathlib import Path
from typing import Any, NamedTuple

import pytest
from trenches import outcome, told

from knowledge.outcome import Sized

CASES: list[dict[str, Any]] = tomllib.loads(
    (Path(__file__).parents[1] / "cases" / "by_hand.toml").read_text(encoding="utf-8")
)["trench"]
USUAL = {"length_m": 6.0, "pavement_m": 0.0, "water": "dry", "ends": "battered", "spoil_m": 1.2}
BY_HAND = 0.02  # what rounding to three digits at every step comes to over a page
ALL = pytest.mark.parametrize("case", CASES, ids=lambda case: f"{case['no']} {case['title']}")

# What a hand uses, degrees for angles.
HAND = {
    "tan": lambda degrees: math.tan(math.radians(degrees)),
    "sqrt": math.sqrt,
    "max": max,
    "min": min,
    "ceil": math.ceil,
    "floor": math.floor,
}


class Step(NamedTuple):
    """One line of the hand working: `symbol: words = arithmetic = value unit`."""

    symbol: str
    arithmetic: str
    value: float


def steps(case: dict[str, Any]) -> list[Step]:
    found = []
    for line in case["working"].strip().splitlines():
        if line.startswith(("spacing: ", "verdict: ")):
            continue
        head, arithmetic, value = line.rsplit(" = ", 2)
        found.append(Step(head.partition(":")[0], arithmetic, float(value.split()[0])))
    return found


def answered(case: dict[str, Any]) -> Sized:
    more = USUAL | case["told"]
    details = told(more.pop("depth_m"), more.pop("width_m"), more.pop("soil"), **more)
    found = outcome(details, case.get("rulebook", "uk"), case.get("kit", "light"))
    assert isinstance(found, Sized), found
    return found


def test_there_are_the_main_example_and_twelve_more() -> None:
    assert [case["no"] for case in CASES] == list(range(1, 14))
    assert CASES[0]["told"] == {"depth_m": 1.6, "width_m": 0.9, "soil": "firm clay"}


@ALL
def test_the_arithmetic_of_the_hand_is_right(case: dict[str, Any]) -> None:
    """Else a slip of the hand would be compared with the program, and the program be bent to it."""
    for step in steps(case):
        again = eval(step.arithmetic.replace("^", "**"), HAND)
        assert step.value == pytest.approx(again, rel=0.006), step


@ALL
def test_each_value_of_the_hand_goes_on_into_the_next(case: dict[str, Any]) -> None:
    """The pressure, the bearing and the load that later lines use are those of the lines before."""
    values = {step.symbol: f"{step.value:g}" for step in steps(case)}
    uses = {
        "s_bn": ("R_b", "p", "h"),
        "N": ("p", "h"),
        "N_1": ("N",),
        "R_1": ("R_b", "N_kit"),
        "s_max": ("p",),
    }
    for step in steps(case):
        for symbol in uses.get(step.symbol, ()):
            assert values[symbol] in re.findall(r"[\d.]+", step.arithmetic), (step, symbol)


@ALL
def test_the_sheet_has_the_values_of_the_hand(case: dict[str, Any]) -> None:
    on_sheet = {line.symbol: line.value for line in answered(case).sheet.lines if line.holds is None}
    compared = [step for step in steps(case) if step.symbol != "each"]
    for step in compared:
        assert on_sheet[step.symbol] == pytest.approx(step.value, rel=BY_HAND), step
    assert len(compared) >= 17


@ALL
def test_the_answer_is_that_of_the_hand(case: dict[str, Any]) -> None:
    found = answered(case)
    assert [level.depth_m for level in found.levels] == pytest.approx(case["levels_m"])
    assert list(found.stages_m) == pytest.approx(case["stages_m"], abs=0.0005)
    assert (found.units, found.boards) == (case["units"], case["boards"])
    assert found.spacing_m == pytest.approx(case["spacing_m"])
    assert list(found.pressure_bar) == case["bar"]
    each = next(step.value for step in steps(case) if step.symbol == "each")
    assert found.units == each * len(case["levels_m"])


@ALL
def test_the_hand_says_how_it_stands_to_app_d_and_to_practice(case: dict[str, Any]) -> None:
    for wanted in ("App D", "Common practice", "Not unsafe: ", "Not laughable: "):
        assert wanted in case["remark"], wanted
    one_level = case["told"]["depth_m"] <= 1.2
    beyond = case["told"]["depth_m"] > 2.0
    assert len(case["levels_m"]) == (1 if one_level else 2) or beyond, "practice: one to 1.2 m, two to 2.0 m"
