"""Fourteen trenches worked by hand, each inside its range: tests/cases/worked_by_hand.toml, sources there."""

import tomllib
from pathlib import Path
from typing import Any

import pytest
from naive import faults
from trenches import TABLES, outcome, told

from knowledge.outcome import Ask, Sized, Stop
from knowledge.reading import Details

CASES: list[dict[str, Any]] = tomllib.loads(
    (Path(__file__).parents[1] / "cases" / "worked_by_hand.toml").read_text(encoding="utf-8")
)["trench"]
USUAL = {"length_m": 6.0, "pavement_m": 0.0, "water": "dry", "ends": "battered", "spoil_m": 1.2}
LOW = (27.58, 30.0)  # bar: 400 psi, common practice


def details(case: dict[str, Any]) -> Details:
    more = USUAL | case
    return told(more.pop("depth_m"), more.pop("width_m"), more.pop("soil"), **more)


def answered(case: dict[str, Any]) -> Ask | Stop | Sized:
    return outcome(details(case["told"]), case.get("rulebook", "uk"), case.get("kit", "light"))


def inside(value: float, ends: list[float] | tuple[float, float]) -> bool:
    return ends[0] - 1e-6 <= value <= ends[1] + 1e-6


@pytest.mark.parametrize("case", CASES, ids=lambda case: f"{case['no']} {case['told']['soil']}")
def test_inside_the_range_of_the_engineer(case: dict[str, Any]) -> None:
    found = answered(case)
    assert found.kind in case.get("kinds", ["sized"])
    if isinstance(found, Stop) and "stop_names" in case:
        assert any(case["stop_names"] in refusal.say.lower() for refusal in found.stop)
    if not isinstance(found, Sized):
        return
    assert inside(len(found.levels), case["levels"])
    assert inside(found.spacing_m, case["spacing_m"])
    assert found.units is not None and inside(found.units, case["units"])
    assert inside(found.pressure_kpa, case["pressure_kpa"])
    assert inside(found.pressure_bar[0], LOW) and inside(found.pressure_bar[1], case["bar_high"])
    for level, ends in zip(found.levels, case.get("level_depths_m", []), strict=False):
        assert inside(level.depth_m, ends)
    assert found.boards or not case.get("boards")
    assert set(case.get("cautions", [])) <= {caution.id for caution in found.cautions}
    assert faults(details(case["told"]), found, TABLES) == []


def sized_as(no: int) -> Sized:
    found = answered(next(case for case in CASES if case["no"] == no))
    assert isinstance(found, Sized)
    return found


def test_traffic_presses() -> None:
    """Finding 3: traffic added nothing. Trench 2 against the same without it."""
    case = next(case for case in CASES if case["no"] == 2)
    without = answered({"told": case["more_than"]["told"]})
    assert isinstance(without, Sized)
    assert sized_as(2).pressure_kpa >= without.pressure_kpa + case["more_than"]["pressure_kpa"]


def test_a_heap_at_the_edge_never_takes_fewer_units() -> None:
    assert (sized_as(10).units or 0) >= (sized_as(3).units or 0)


def test_ground_dug_to_the_table_of_app_d_would_give_way() -> None:
    """Finding 1: 8 ft of spacing in trench 14 brings 44 kN on ground that bears 31 at failure (C)."""
    found = sized_as(14)
    per_m = found.strut.load_kn / found.spacing_m
    borne = next(line.value for line in reversed(found.sheet.lines) if line.symbol == "R_b")
    assert per_m * 8 * 0.3048 > 1.4 * borne
    assert found.strut.load_kn <= borne


@pytest.mark.parametrize(("cm", "kind"), [(130, "sized"), (131, "stop"), (135, "stop"), (136, "sized")])
def test_a_slab_leaves_a_gap_of_five_centimetres(cm: int, kind: str) -> None:
    """Finding 12: a slab over 0.20 m refused every two-level trench. With it 1.31 to 1.35 m fits neither."""
    found = answered({"told": {"depth_m": cm / 100, "width_m": 0.9, "soil": "firm clay", "pavement_m": 0.25}})
    assert found.kind == kind
    if isinstance(found, Stop):
        assert [r.rule for r in found.stop] == ["levels-do-not-fit"]
        assert "1.36 m" in found.stop[0].say


@pytest.mark.parametrize("lost", [1, 2, 3, 4, 5, 6, 10, 11])
def test_what_a_lost_unit_leaves_its_neighbours(lost: int) -> None:
    """1.5 N against the ground at failure and the strut: finding "loss of one unit"."""
    found = sized_as(lost)
    assert found.survives is not None
    assert found.survives.neighbour_kn == pytest.approx(1.5 * found.strut.load_kn)
    assert found.survives.holds == (found.survives.neighbour_kn <= found.survives.of_kn)
    assert ("one-lost" in {c.id for c in found.cautions}) is not found.survives.holds
    # Next to a lost end unit, alone: 2 N. Where even that holds nothing is said.
    assert found.survives.end_kn == pytest.approx(2 * found.strut.load_kn)
    said = {c.id for c in found.cautions} & {"one-lost", "end-lost"}
    assert bool(said) is not (found.survives.end_kn <= found.survives.of_kn)  # type: ignore[operator]
