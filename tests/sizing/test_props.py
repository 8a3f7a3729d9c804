"""A hard surface that overhangs is propped by units of its own: common practice, no source.

29 CFR 1926.651(i)(3) (R2): pavements are undermined only where supported. That a surface may overhang
0.3 m in all, and how far apart its props stand, is practice.
"""

from itertools import pairwise
from typing import Any

import pytest
from naive import faults
from trenches import TABLES, outcome, sized, stopped, told

from knowledge.entry.steps import dig_in, take_out
from knowledge.outcome import Ask, Sized
from knowledge.reading import Details
from knowledge.sizing.load_list import load_list

KIT = TABLES.kits["light"]


def street(
    overhang: float | None = 0.1, depth: float = 1.6, ground: str = "firm clay", **more: Any
) -> Details:
    usual = {
        "spoil_m": 1.2,
        "length_m": 6.0,
        "water": "dry",
        "ends": "battered",
        "face": "stands",
        "pavement_m": 0.2,
    }
    return told(depth, 0.9, ground, overhang_m=overhang, **(usual | more))


def test_the_main_example_with_a_slab_that_overhangs() -> None:
    """0.9 less 0.1 less two rails of 0.05: a strut of 0.70 m; p s t_s = 17.6 x 1.0 x 0.2 = 3.5 kN (C)."""
    found = sized(street())
    plain = sized(street(None))
    assert found.props is not None and plain.props is None
    assert (found.props.depth_m, found.props.units) == (0.1, 6)
    assert found.props.strut.needed_m == pytest.approx(0.70)
    assert found.props.strut.load_kn == pytest.approx(3.52, abs=0.02)
    assert (found.units, found.levels, found.spacing_m) == (plain.units, plain.levels, plain.spacing_m)
    verdicts = [
        line for line in found.sheet.lines if line.name == "Load of a prop" and line.holds is not None
    ]
    assert verdicts and all(line.holds for line in verdicts)
    assert "overhang" in {caution.id for caution in found.cautions}


@pytest.mark.parametrize("ground", ["firm clay", "stiff clay", "soft clay", "hard clay", "firm silt"])
@pytest.mark.parametrize("length", [2.9, 3.0, 6.0, 11.7, None])
@pytest.mark.parametrize("overhang", [0.01, 0.15, 0.3])
def test_the_second_opinion_finds_no_fault(ground: str, length: float | None, overhang: float) -> None:
    trench = street(overhang, ground=ground, length_m=length)
    found = outcome(trench)
    assert isinstance(found, Sized)
    assert faults(trench, found, TABLES) == []
    assert found.props is not None
    at = found.props.positions_m or ()
    assert all(KIT.rail.length_m <= b - a <= found.spacing_m + 1e-9 for a, b in pairwise(at))


@pytest.mark.parametrize(
    ("overhang", "rules"), [(0.3, set()), (0.31, {"overhang-far"}), (0.6, {"overhang-far"})]
)
def test_a_surface_that_overhangs_far_is_broken_back(overhang: float, rules: set[str]) -> None:
    found = outcome(street(overhang))
    assert (set() if isinstance(found, Sized) else set(stopped(street(overhang)))) == rules


@pytest.mark.parametrize("slab", [None, 0.0])
def test_what_overhangs_has_a_thickness(slab: float | None) -> None:
    found = outcome(street(pavement_m=slab))
    assert isinstance(found, Ask)
    assert found.questions == ("pavement_m",)


def test_a_kit_whose_rails_lie_level_nowhere_props_nothing() -> None:
    refused = stopped(street(), "uk", "heavy")
    assert set(refused) == {"props-not-by-kit"}
    assert "heavy" in refused["props-not-by-kit"].say


def test_edges_that_no_strut_reaches_are_a_stop_that_says_how_far_apart_they_are() -> None:
    """0.42 m wide: 0.28 m between the edges, less two rails 0.18, and the short strut is 0.28 closed."""
    narrow = street(0.14).model_copy(update={"width_m": 0.42})
    refused = stopped(narrow)
    assert set(refused) == {"props-do-not-fit"}
    assert "0.28 m" in refused["props-do-not-fit"].say


@pytest.mark.parametrize("overhang", [0.1, 0.3])
def test_a_plan_holds_no_wider_than_its_props_reach(overhang: float) -> None:
    found = sized(street(overhang))
    assert found.props is not None
    wide = found.props.strut.needed_m + found.holds_to.width_m - 0.9
    assert wide <= found.props.strut.length_m[1] + 1e-9


def test_they_go_on_the_van() -> None:
    """12 rails, 6 struts, 6 x (2 + 1) pins more, and what lifts their rams (C)."""
    lists = []
    for trench in (street(None), street()):
        lists.append(load_list([(sized(trench), trench)], KIT, TABLES.lifting))
    counts = [{} for _ in lists]  # type: list[dict[str, int]]
    for each, count in zip(lists, counts, strict=True):
        for item in each.items:
            kind = "strut" if item.name.startswith("strut") else item.name
            count[kind] = count.get(kind, 0) + item.count
    more = {name: n - counts[0].get(name, 0) for name, n in counts[1].items()}
    assert (more["rail"], more["strut"], more["pin"], more["ladder"]) == (12, 6, 18, 0)
    assert lists[1].fluid_l > lists[0].fluid_l


def test_they_are_set_before_the_first_level_and_come_out_last() -> None:
    found = sized(street())
    steps = [step.id for step in dig_in(found, TABLES)]
    assert steps[:3] == ["step-dig-first", "step-prop", "step-set"]
    assert steps.count("step-prop") == 1
    prop = next(step for step in dig_in(found, TABLES) if step.id == "step-prop")
    assert "6 units" in prop.say and "0.1 m" in prop.say
    assert [step.id for step in take_out(found, TABLES)][-1] == "step-fill-up-props"
    plain = sized(street(None))
    assert "step-prop" not in [step.id for step in dig_in(plain, TABLES)]
    assert [step.id for step in take_out(plain, TABLES)][-1] == "step-fill-up"
