"""Published values of loads beside a trench, supplier's tables, air, services, gear: where each is held.

Cases, sources and marks stand in tests/cases/published_values.toml.
"""

import tomllib
from pathlib import Path
from typing import Any

import pytest
from places import exists
from test_tried_first import turn
from trench_days import AIR, LOCATED, SIZING, SUPPORTED, good_day
from trenches import TABLES, outcome, told

from bot.config.basis import Basis
from knowledge.outcome import Sized
from knowledge.reading import Air, BuriedService
from knowledge.sizing.surcharge import strip, uniform
from knowledge.units import KPA_PER_PSF, M_PER_FT

FILE = Path(__file__).parents[1] / "cases" / "published_values.toml"
WHOLE: dict[str, list[dict[str, Any]]] = tomllib.loads(FILE.read_text(encoding="utf-8"))
KG_PER_LB = 0.45359237


@pytest.mark.parametrize("value", WHOLE["value"], ids=lambda value: value["says"][:60])
def test_each_value_has_its_test_or_a_reason(value: dict[str, Any]) -> None:
    assert value["source"]
    assert ("where" in value) is not ("why_not" in value)
    assert [place for place in value.get("where", ()) if not exists(place)] == []


@pytest.mark.parametrize("case", WHOLE["beside"], ids=lambda case: str(case["told"]))
def test_loads_beside_a_trench(case: dict[str, Any]) -> None:
    found = outcome(told(1.6, 0.9, "firm clay", length_m=6.0, water="dry", **case["told"]))
    assert found.kind == case["kind"]
    if isinstance(found, Sized):
        assert set(case.get("cautions", ())) <= {caution.id for caution in found.cautions}


def test_a_heap_of_all_that_is_dug() -> None:
    """0.9 by 1.6 m loosened by 1.3 lies at 37 degrees 1.19 m high and 3.15 m wide, 19 kPa in its middle (C).

    0.6 m off it presses more than the 72 psf of App C; our flat heap presses no less than that one.
    """
    heap = [
        (0.6 + i * 0.0315, 19.0 * (1 - abs(i + 0.5 - 50) / 50)) for i in range(100)
    ]  # a hundred strips of the triangle
    depths = [cm / 100 for cm in range(1, 161)]
    theirs = max(sum(strip(q, x, x + 0.0315, z) for x, q in heap) for z in depths)
    found = outcome(told(1.6, 0.9, "firm clay", length_m=6.0, water="dry", spoil_m=0.6))
    assert isinstance(found, Sized)
    ours = next(line.value for line in found.sheet.lines if line.symbol == "p_h")
    assert ours >= theirs > 72 * KPA_PER_PSF


@pytest.mark.parametrize("row", WHOLE["uniform"], ids=lambda row: f"{row['q']} kPa")
def test_a_load_over_all_the_ground(row: dict[str, float]) -> None:
    assert uniform(row["K"], row["q"]) == pytest.approx(row["p"], abs=0.01)


def test_figures_beside_a_trench() -> None:
    rows, us = TABLES.pressures, TABLES.rulebook("us")
    assert rows.surcharge_least.si == 10.0
    assert rows.lane.si == pytest.approx(300 * KPA_PER_PSF, rel=0.003)
    heavy = next(c for c in TABLES.rules.rule["plant-heavy"].when if c.fact == "plant_t")
    assert heavy.si <= 20_000 * KG_PER_LB / 1000  # never looser than the pounds
    assert us.spoil.si == pytest.approx(2 * M_PER_FT)
    assert TABLES.rules.rule["plant-at-edge"].numbers["clear_of"].value == 0.6


@pytest.mark.parametrize("row", WHOLE["air"], ids=lambda row: f"{row['rulebook']} {row['gas']}")
def test_air_above_the_figure_of_a_shift_is_out(row: dict[str, Any]) -> None:
    fine = {"oxygen_pct": 20.9, "lel_pct": 0.0}
    for value in (*row["in"], *row["out"]):
        day = good_day(row["rulebook"]).tell(
            AIR.model_copy(update={"air": Air(**fine | {row["gas"]: value})})
        )
        assert [each.kind for each in day.trench.now.hazards] == (["gas"] if value in row["out"] else [])


@pytest.mark.parametrize("case", WHOLE["text"], ids=lambda case: f"{case['text']} {case.get('rulebook', '')}")
def test_what_a_text_means(case: dict[str, Any], basis: Basis) -> None:
    found = turn(case["text"], basis, case.get("rulebook", "uk"))
    assert list(found.reading.hazards) == case.get("hazards", [])
    assert list(found.reading.done) == case.get("done", [])
    assert found.reading.air is None
    at = 0
    for name in case.get("names", ()):
        at = found.reply.text.index(name, at) + len(name)
    assert [name for name in case.get("never", ()) if name in found.reply.text] == []


def test_scanned_is_not_exposed() -> None:
    """What lies in the trench must still be held while it is open: 1926.651(b)(4) (R1), HSG47 (M-H)."""
    pipe = SIZING.model_copy(update={"services": (BuriedService(what="water", at_m=2.0),)})
    day = good_day().sized(reading=pipe).tell(LOCATED)
    assert "services" in day.missing()
    assert "services" not in day.tell(SUPPORTED).missing()
