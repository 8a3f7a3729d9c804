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
    args = [quantity(v, found.units[n]) for v, n in zip(WORKED[name]["put_in"], found.names, strict=True)]
    result = found(*args)
    declared = quantity(1.0, found.units["return"])
    if name == "in_bar":  # a bare conversion: its factor carries the unit
        declared = quantity(1.0, "GPa")
    assert REGISTRY.Quantity(result).is_compatible_with(declared)
    if name != "in_bar" and "radians" not in found.work.__code__.co_names:
        assert REGISTRY.Quantity(result).to(declared.units).magnitude == pytest.approx(
            found(*WORKED[name]["put_in"])
        )


def test_a_symbol_means_one_thing_on_a_sheet() -> None:
    """Only the envelope for struts has a formula for each kind of ground; N_c is the bearing factor alone."""
    symbols = [formula.symbol for formula in FORMULAS.values()]
    assert {symbol for symbol in symbols if symbols.count(symbol) > 1} == {"p_2"}
    assert [name for name, formula in FORMULAS.items() if "N_c" in formula.names] == ["rail_bearing"]
    worked = {symbol for symbol in symbols if symbol.startswith("N")}
    assert worked == {"N", "N_s", "N_cb", "N_bRd", "N_m", "N_v", "N_ram", "N_1", "N_2", "N_t"}


@pytest.mark.parametrize("name", sorted(FORMULAS))
def test_a_printed_line_can_be_worked_again(name: str) -> None:
    sheet = Sheet()
    value = sheet.work(FORMULAS[name], *WORKED[name]["put_in"])
    assert recomputed(sheet.lines[0].figures) == pytest.approx(value, rel=2e-4)


def recomputed(figures: str) -> float:
    names = {n: getattr(math, n) for n in ("tan", "radians", "sqrt", "atan", "sin", "cos")}
    return eval(figures.replace("×", "*").replace("^", "**"), {"min": min, "max": max, **names})
