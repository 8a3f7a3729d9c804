"""Every formula of the sizing core against hand-worked rows, and its unit against pint."""

import inspect
import math
import re
import tomllib
from pathlib import Path
from typing import Any

import pint
import pytest
import theory

from knowledge.sheet import Formula, Sheet
from knowledge.sizing import bearing, ground, levels, pressure, strut, survival
from knowledge.units import round_down, round_up

ROWS = tomllib.loads((Path(__file__).parents[1] / "cases" / "formulas.toml").read_text(encoding="utf-8"))[
    "row"
]
FORMULAS: dict[str, Formula[Any]] = {
    name: found
    for module in (bearing, ground, pressure, levels, strut, survival)
    for name, found in inspect.getmembers(module, lambda member: isinstance(member, Formula))
} | {"rankine_passive": theory.rankine_passive}  # beside the active one in the published table
WORKED = {name: next(row for row in ROWS if row["formula"] == name) for name in {r["formula"] for r in ROWS}}
REGISTRY = pint.UnitRegistry()


@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"{row['formula']} {row['put_in']}")
def test_a_formula_gives_the_published_result(row: dict[str, Any]) -> None:
    assert FORMULAS[row["formula"]](*row["put_in"]) == pytest.approx(
        row["result"], rel=row.get("within", 1e-4)
    ), row["against"]


def test_every_formula_has_a_hand_worked_row() -> None:
    assert set(FORMULAS) == set(WORKED)


def quantity(value: float, unit: str) -> pint.Quantity:
    """A pint quantity; the sheet writes "kN/m3" where pint wants "kN/m**3"."""
    return REGISTRY.Quantity(value, re.sub(r"([a-z])(\d)", r"\1**\2", unit.replace(" ", "*")))


@pytest.mark.parametrize("name", sorted(FORMULAS))
def test_a_formula_comes_out_in_the_unit_it_declares(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    found = FORMULAS[name]
    # math.sqrt takes the number out of a quantity and would lose its unit.
    if "sqrt" in found.work.__globals__:
        monkeypatch.setitem(found.work.__globals__, "sqrt", lambda x: x**0.5)
    for name_of, rounds in (("round_down", math.floor), ("round_up", math.ceil)):
        if name_of in found.work.__globals__:  # to whole steps, which have no unit
            whole = lambda x, step, rounds=rounds: rounds(float(x / step)) * step  # noqa: E731
            monkeypatch.setitem(found.work.__globals__, name_of, whole)
    args = [quantity(v, found.units[n]) for v, n in zip(WORKED[name]["put_in"], found.names, strict=True)]
    result = found(*args)
    declared = quantity(1.0, found.units["return"])
    assert REGISTRY.Quantity(result).is_compatible_with(declared)
    # The factor of a conversion carries the unit.
    if (
        name not in ("in_bar", "in_gpa", "in_mm", "rail_allowable")
        and "radians" not in found.work.__code__.co_names
    ):
        assert REGISTRY.Quantity(result).to(declared.units).magnitude == pytest.approx(
            found(*WORKED[name]["put_in"])
        )


def test_a_symbol_means_one_thing_on_a_sheet() -> None:
    """Only the envelope for struts has a formula for each ground, and a pressure is turned to and fro.

    On a sheet those have names of their own: tests/sizing/test_sheet.py.
    """
    symbols = [formula.symbol for formula in FORMULAS.values()]
    assert {symbol for symbol in symbols if symbols.count(symbol) > 1} == {"p_2", "p_g"}
    assert [name for name, formula in FORMULAS.items() if "N_c" in formula.names] == ["rail_bearing"]
    worked = {symbol for symbol in symbols if symbol.startswith("N")}
    assert worked == {"N", "N_s", "N_cb", "N_bRd", "N_m", "N_v", "N_ram", "N_1", "N_2", "N_t", "N_p"}


@pytest.mark.parametrize("name", sorted(FORMULAS))
def test_a_printed_line_can_be_worked_again(name: str) -> None:
    sheet = Sheet()
    value = sheet.work(FORMULAS[name], *WORKED[name]["put_in"])
    assert recomputed(sheet.lines[0].figures) == pytest.approx(value, rel=3e-3)


def recomputed(figures: str) -> float:
    names = {n: getattr(math, n) for n in ("tan", "radians", "sqrt", "atan", "sin", "cos")}
    names |= {"min": min, "max": max, "round_down": round_down, "round_up": round_up}
    return eval(figures.replace("×", "*").replace("^", "**"), names)
