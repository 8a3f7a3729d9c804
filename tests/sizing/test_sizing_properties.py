"""What must hold for any trench: reason is the source. EXAMPLES=2000 in the environment tries that many."""

import math
import os
import re
from itertools import pairwise
from typing import Any

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st
from trenches import FT, TABLES, outcome

from knowledge.outcome import Ask, Sized, Stop
from knowledge.reading import Beside, BuriedService, Details, Soil
from knowledge.units import round_down, round_up

MANY = settings(
    max_examples=int(os.environ.get("EXAMPLES", "100")),
    suppress_health_check=[HealthCheck.filter_too_much, HealthCheck.too_slow],
)
GROUNDS = [row.name for row in TABLES.soils.ground]
FIRST_THAT_STANDS = next(i for i, row in enumerate(TABLES.soils.ground) if row.stands != "never")
WATERS = ["dry", "damp", "seeping", "standing"]  # wetter to the right
RULEBOOKS = st.sampled_from([("uk", "light"), ("uk", "heavy"), ("us", "heavy")])

depths = st.integers(550, 2600).map(lambda mm: mm / 1000)
widths = st.integers(300, 2000).map(lambda mm: mm / 1000)
grounds = st.integers(0, len(GROUNDS) - 1)
loads = st.none() | st.integers(0, 60).map(float)
spoils = st.none() | st.integers(0, 30).map(lambda dm: dm / 10)


@st.composite
def trenches(draw: st.DrawFn, **fixed: Any) -> dict[str, Any]:
    """Everything the gate needs, so that the answer is a stop or a sizing."""
    return {
        "depth_m": draw(depths),
        "width_m": draw(widths),
        "length_m": draw(st.none() | st.integers(600, 20000).map(lambda mm: mm / 1000)),
        "ground": draw(grounds),
        "water": draw(st.none() | st.sampled_from(WATERS[:2])),
        "face": "stands",
        "ends": draw(st.sampled_from([None, "battered", "supported", "open"])),
        "spoil_m": draw(spoils),
        "plant_m": draw(st.none() | st.integers(0, 30).map(lambda dm: dm / 10)),
        "surcharge_kpa": draw(loads),
        "pavement_m": draw(st.none() | st.sampled_from([0.0, 0.1, 0.15, 0.2])),
        "disturbed": draw(st.sampled_from([None, False, True])),
        "fissured": draw(st.sampled_from([None, False, True])),
        "traffic": draw(st.sampled_from([None, False, True])),
    } | {name: draw(v) if isinstance(v, st.SearchStrategy) else v for name, v in fixed.items()}


def likely(**fixed: Any) -> st.SearchStrategy[dict[str, Any]]:
    """Trenches that are mostly sized."""
    return trenches(
        **{
            "depth_m": st.integers(550, 2000).map(lambda mm: mm / 1000),
            "width_m": st.integers(600, 1500).map(lambda mm: mm / 1000),
            "ground": st.integers(FIRST_THAT_STANDS, len(GROUNDS) - 1),
            "surcharge_kpa": st.none() | st.integers(0, 20).map(float),
            "plant_m": st.none() | st.integers(21, 60).map(lambda dm: dm / 10),
            "pavement_m": st.sampled_from([0.0, 0.1]),
            "water": "dry",
        }
        | fixed
    )


def details(trench: dict[str, Any]) -> Details:
    name = GROUNDS[trench["ground"]]
    told = {key: value for key, value in trench.items() if key != "ground"}
    return Details(soil=Soil(kind=name.kind, state=name.state), **told)


def answer(trench: dict[str, Any], book: tuple[str, str]) -> Ask | Stop | Sized:
    return outcome(details(trench), *book)


def worse(trench: dict[str, Any], how: str, by: int) -> dict[str, Any]:
    """The same trench, one thing worse."""
    plant, spoil = trench["plant_m"], trench["spoil_m"]
    ways: dict[str, Any] = {
        "depth": {"depth_m": trench["depth_m"] + by / 100},
        "weaker": {"ground": weaker(trench["ground"], by)},
        "wetter": {"water": WATERS[min(3, WATERS.index(trench["water"] or "dry") + 1)]},
        "load": {"surcharge_kpa": (trench["surcharge_kpa"] or 0) + by / 10},
        "plant": {"plant_m": max(0.0, (9.0 if plant is None else plant) - by / 10)},
        "spoil": {"spoil_m": max(0.0, (0.6 if spoil is None else spoil) - by / 50)},
        # Untold beside a live road is the nearest that is answered.
        "traffic": {"traffic": True, "traffic_m": max(0.0, (0.6 if trench["traffic"] else 3.0) - by / 40)},
        "pit": {"pit": True},
        "beside": {"beside": (Beside(what="building", at_m=by / 20),)},
        "slope": {"beside": (Beside(what="slope", one_in=max(1.0, 12 - by / 10)),)},
        "fissured": {"fissured": True},
        "disturbed": {"disturbed": True},
    }
    return trench | ways[how]


WAYS = st.sampled_from(
    [
        *("depth", "weaker", "wetter", "load", "plant", "spoil", "fissured", "disturbed"),
        *("traffic", "pit", "beside", "slope"),
    ]
)
# A stop because rails do not fit, or a run too short for a group, is no stop of strength.
OF_ROOM = {"rail-does-not-fit", "levels-do-not-fit", "units-do-not-fit"}


def weaker(ground: int, by: int) -> int:
    """A weaker state of the same kind of ground."""
    states = [i for i in range(ground + 1) if GROUNDS[i].kind == GROUNDS[ground].kind]
    return states[max(0, len(states) - 1 - by % 6)]


@MANY
@given(trenches(), RULEBOOKS, WAYS, st.integers(0, 120))
def test_a_refusal_stays_a_refusal_for_anything_worse(
    trench: dict[str, Any], book: tuple[str, str], how: str, by: int
) -> None:
    before = answer(trench, book)
    assume(isinstance(before, Stop))
    assume(not OF_ROOM & {r.rule for r in before.stop})  # type: ignore[union-attr]
    if how == "load" and trench["surcharge_kpa"] is None:
        # The load that was missing is now told.
        assume("plant-close" not in {r.rule for r in before.stop})  # type: ignore[union-attr]
    assert not isinstance(answer(worse(trench, how, by), book), Sized)


@MANY
@given(likely(), RULEBOOKS, WAYS, st.integers(0, 120))
def test_design_pressure_never_falls_with_anything_worse(
    trench: dict[str, Any], book: tuple[str, str], how: str, by: int
) -> None:
    # A weaker clay may be a lighter one: its support is never lighter, its pressure may be.
    assume(how != "weaker")
    before, after = answer(trench, book), answer(worse(trench, how, by), book)
    assume(isinstance(before, Sized) and isinstance(after, Sized))
    assert after.pressure_kpa >= before.pressure_kpa - 1e-9  # type: ignore[union-attr]
    assert after.soil_type >= before.soil_type  # type: ignore[operator, union-attr]


@MANY
@given(likely(length_m=8.0), RULEBOOKS, WAYS, st.integers(0, 120))
def test_support_is_never_lighter_for_anything_worse(
    trench: dict[str, Any], book: tuple[str, str], how: str, by: int
) -> None:
    before, after = answer(trench, book), answer(worse(trench, how, by), book)
    assume(isinstance(before, Sized) and isinstance(after, Sized))
    assert isinstance(before, Sized) and isinstance(after, Sized)
    assert len(after.levels) >= len(before.levels)
    assert after.spacing_m <= before.spacing_m
    assert (after.units or 0) >= (before.units or 0)
    assert after.strut.load_kn <= after.strut.capacity_kn


@MANY
@given(likely(), RULEBOOKS)
def test_an_answer_keeps_its_own_limits(trench: dict[str, Any], book: tuple[str, str]) -> None:
    found = answer(trench, book)
    assume(isinstance(found, Sized))
    assert isinstance(found, Sized)
    kit, rail = TABLES.kits[book[1]], TABLES.kits[book[1]].rail.length_m
    z = [level.depth_m for level in found.levels]
    assert z[0] >= (trench["pavement_m"] or 0) + rail / 2 - 1e-6
    assert z[-1] + rail / 2 <= trench["depth_m"] + 1e-6
    assert all(b - a >= rail - 1e-6 for a, b in pairwise(z))
    assert found.stages_m[-1] == trench["depth_m"] <= kit.depth_m
    low, high = found.strut.length_m
    assert low - 1e-6 <= found.strut.needed_m <= high + 1e-6
    assert 0 < found.pressure_bar[0] < found.pressure_bar[1] <= kit.relief_bar
    heights = [(a + b) / 2 for a, b in pairwise(z)]
    edges = [0.0, *heights, trench["depth_m"]]
    load = found.pressure_kpa * found.spacing_m * max(b - a for a, b in pairwise(edges))
    assert found.strut.load_kn == pytest.approx(load, rel=1e-6)
    assert found.strut.load_kn <= found.strut.capacity_kn
    if trench["length_m"] is not None:
        assert found.units == sum(level.units or 0 for level in found.levels)


@MANY
@given(likely(), RULEBOOKS)
def test_an_answer_holds_as_far_as_it_says(trench: dict[str, Any], book: tuple[str, str]) -> None:
    found = answer(trench, book)
    assume(isinstance(found, Sized))
    assert isinstance(found, Sized)
    reach = found.holds_to
    assert reach.depth_m >= trench["depth_m"]
    assert reach.width_m >= trench["width_m"]
    weakest = GROUNDS.index(reach.soil)
    assert weakest <= trench["ground"]
    for change in ({"depth_m": reach.depth_m}, {"width_m": reach.width_m}, {"ground": weakest}):
        again = answer(trench | change, book)
        assert isinstance(again, Sized)
        for name in ("units", "units_per_run", "spacing_m", "pressure_bar", "boards"):
            assert getattr(again, name) == getattr(found, name)
        assert again.strut.size == found.strut.size
        assert again.strut.extensions_m == found.strut.extensions_m
        assert len(again.levels) == len(found.levels)


@MANY
@given(likely(), RULEBOOKS)
def test_every_printed_line_can_be_worked_again(trench: dict[str, Any], book: tuple[str, str]) -> None:
    found = answer(trench, book)
    assume(not isinstance(found, Ask))
    names = {n: getattr(math, n) for n in ("tan", "radians", "sqrt", "atan", "sin", "cos")}
    names |= {"min": min, "max": max, "round_down": round_down, "round_up": round_up}
    for line in found.public()["sheet"]:
        assert line["source"]
        if not line["figures"]:
            assert line["formula"] == "given"
            continue
        figures = line["figures"].replace("×", "*").replace("^", "**")
        if line["holds"] is not None:
            asked, there = re.split("<=|>", figures)
            assert float(asked) / float(there) == pytest.approx(line["value"], rel=2e-3)
            continue
        assert eval(figures, names) == pytest.approx(line["value"], rel=4e-3, abs=2e-3)


@MANY
@given(st.integers(22, 90), st.integers(16, 60), grounds, RULEBOOKS)
def test_the_same_trench_in_feet_and_in_metres_gets_the_same_answer(
    depth_in: int, width_in: int, ground: int, book: tuple[str, str]
) -> None:
    base = {"ground": ground, "face": "stands"}
    feet = answer(base | {"depth_m": depth_in / 12 * FT, "width_m": width_in / 12 * FT}, book)
    metres = answer(
        base | {"depth_m": round(depth_in * 25.4) / 1000, "width_m": round(width_in * 25.4) / 1000}, book
    )
    inches = answer(base | {"depth_m": depth_in * 0.0254, "width_m": width_in * 0.0254}, book)
    assert feet.kind == inches.kind
    if isinstance(feet, Sized) and isinstance(inches, Sized) and isinstance(metres, Sized):
        assert [level.depth_m for level in feet.levels] == [level.depth_m for level in inches.levels]
        assert (feet.spacing_m, feet.strut.size, feet.pressure_bar) == (
            inches.spacing_m,
            inches.strut.size,
            inches.pressure_bar,
        )
        assert len(metres.levels) == len(feet.levels)


def crossing(at: float, depth: float, what: str = "water") -> BuriedService:
    return BuriedService(what=what, at_m=at, depth_m=depth)  # type: ignore[arg-type]


@MANY
@given(
    likely(length_m=8.0),
    st.lists(
        st.builds(
            crossing,
            st.integers(3, 77).map(lambda dm: dm / 10),
            st.integers(3, 15).map(lambda dm: dm / 10),
            st.sampled_from(["water", "gas", "electric"]),
        ),
        max_size=5,
    ),
)
def test_units_keep_clear_of_the_services(trench: dict[str, Any], services: list[BuriedService]) -> None:
    found = answer(trench | {"services": tuple(services)}, ("uk", "light"))
    assume(isinstance(found, Sized))
    assert isinstance(found, Sized)
    rail, practice = TABLES.kits["light"].rail, TABLES.practice
    for level in found.levels:
        for at in level.positions_m or ():
            for service in services:
                clear = practice.service_width[service.what].si / 2 + practice.clearance.si
                along, down = rail.width_m, rail.length_m
                if at in level.turned_m:
                    along, down = down, along
                aside = abs(at - (service.at_m or 0)) >= clear + along / 2 - 1e-6
                around = abs(level.depth_m - (service.depth_m or 0)) >= clear + down / 2 - 1e-6
                assert aside or around
        gaps = [b - a for a, b in pairwise(level.positions_m or ())]
        assert all(gap <= found.spacing_m + 1e-9 for gap in gaps)
    assert found.strut.load_kn <= found.strut.capacity_kn


@MANY
@given(likely())
def test_an_answer_never_rests_on_what_nobody_stated(trench: dict[str, Any]) -> None:
    for name in ("depth_m", "width_m", "ground"):
        told = details(trench)
        untold = told.model_copy(update={"soil" if name == "ground" else name: None})
        assert not isinstance(outcome(untold), Sized)
