"""Step by step from easy to hard, in every ground, kit and rulebook: nothing worse is answered with less, and
no answer fails a check of the second, naive implementation at any stage of its dig.

Reason is the source (engineering basis, section 9). Each way of being worse is walked in its own small steps,
1 kPa or a few centimetres, and depth as finely as GRID_CM in the environment says: 1 is every centimetre.
"""

import os
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from naive import faults as failed
from test_never_lighter import GROUNDS, faults
from trenches import TABLES, outcome, told

from knowledge.outcome import Ask, Sized
from knowledge.reading import Details

BOOKS = [("uk", "light"), ("uk", "heavy"), ("us", "light"), ("us", "heavy")]
GRID_CM = int(os.environ.get("GRID_CM", "51"))
DEPTHS = range(55, 261, GRID_CM)
EVERY = [row.name for row in TABLES.soils.ground]

OF_WEIGHT = (": pressure", ": pressure, strut")

Walk = Callable[[dict[str, Any]], Iterator[tuple[Any, dict[str, Any]]]]


def loads(trench: dict[str, Any]) -> Iterator[tuple[Any, dict[str, Any]]]:
    yield from ((f"{kpa} kPa", trench | {"surcharge_kpa": float(kpa)}) for kpa in range(61))


def heaps(trench: dict[str, Any]) -> Iterator[tuple[Any, dict[str, Any]]]:
    yield from ((f"heap {cm} cm", trench | {"spoil_m": cm / 100}) for cm in range(300, -1, -5))


def lanes(trench: dict[str, Any]) -> Iterator[tuple[Any, dict[str, Any]]]:
    yield "no lane", trench | {"traffic": False}
    for cm in range(500, 50, -5):
        yield f"lane {cm} cm", trench | {"traffic": True, "traffic_m": cm / 100}


def plant(trench: dict[str, Any]) -> Iterator[tuple[Any, dict[str, Any]]]:
    for tonnes in (1.0, 3.0, 5.0, 9.0, 10.0):
        yield f"{tonnes} t", trench | {"plant_m": 0.8, "plant_t": tonnes}


def machines(trench: dict[str, Any]) -> Iterator[tuple[Any, dict[str, Any]]]:
    for cm in range(400, 30, -5):
        yield f"machine {cm} cm", trench | {"plant_m": cm / 100, "plant_t": 5.0}


def slopes(trench: dict[str, Any]) -> Iterator[tuple[Any, dict[str, Any]]]:
    for tenths in range(120, 19, -1):
        yield f"1 in {tenths / 10}", trench | {"beside": ({"what": "slope", "one_in": tenths / 10},)}


def houses(trench: dict[str, Any]) -> Iterator[tuple[Any, dict[str, Any]]]:
    for cm in range(500, 0, -5):
        yield f"house {cm} cm", trench | {"beside": ({"what": "building", "at_m": cm / 100},)}


@pytest.mark.parametrize(("book", "kit"), BOOKS)
@pytest.mark.parametrize(
    "walk", [loads, heaps, lanes, plant, machines, slopes, houses], ids=lambda w: w.__name__
)
def test_nothing_worse_is_answered_with_less(walk: Walk, book: str, kit: str) -> None:
    found = []
    for ground in GROUNDS:
        for cm in DEPTHS:
            trench: dict[str, Any] = {"face": "stands", "water": "dry", "pavement_m": 0.0}
            steps = ((at, told(cm / 100, 0.9, ground, **more)) for at, more in walk(trench))
            found += [f"{ground} {cm} cm: {fault}" for fault in faults(steps, book, kit)]
    assert found == []


@pytest.mark.parametrize(("book", "kit"), BOOKS)
def test_a_weaker_state_is_never_answered_with_less(book: str, kit: str) -> None:
    """Weaker clay weighs less and may press less for it, and a strut carry less: what must not fall are
    units, levels and how close they stand."""
    found = []
    for kind in {name.kind for name in EVERY}:
        states = [name for name in EVERY if name.kind == kind][::-1]
        for cm in DEPTHS:
            usual = {"face": "stands", "water": "dry", "pavement_m": 0.0}
            named = ((name.state, f"{name.state or ''} {name.kind}".strip()) for name in states)
            steps = ((state, told(cm / 100, 0.9, ground, **usual)) for state, ground in named)
            lighter = (fault for fault in faults(steps, book, kit) if not fault.endswith(OF_WEIGHT))
            found += [f"{kind} {cm} cm: {fault}" for fault in lighter]
    assert found == []


@pytest.mark.parametrize(("book", "kit"), BOOKS)
@pytest.mark.parametrize("water", ["damp", "seeping", "standing"])
def test_wetter_ground_is_never_answered_with_less(water: str, book: str, kit: str) -> None:
    found = []
    for ground in GROUNDS:
        for cm in DEPTHS:
            easy = told(cm / 100, 0.9, ground, face="stands", water="dry", pavement_m=0.0)
            steps = [("dry", easy), (water, easy.model_copy(update={"water": water}))]
            found += [f"{ground} {cm} cm: {fault}" for fault in faults(steps, book, kit)]
    assert found == []


@pytest.mark.parametrize(("book", "kit"), BOOKS)
@pytest.mark.parametrize("load", [0, 17, 34])
def test_no_answer_goes_past_its_own_strut_rail_ram_or_ground_at_any_stage(
    load: int, book: str, kit: str
) -> None:
    """Every described ground, those that never stand among them; checked by naive.py."""
    answered = 0
    for name in EVERY:
        for cm in DEPTHS:
            details: Details = told(
                cm / 100, 0.9, f"{name.state or ''} {name.kind}".strip(), length_m=6.0, face="stands",
                water="dry", pavement_m=0.0, ends="battered", surcharge_kpa=float(load) or None,
            )  # fmt: skip
            found = outcome(details, book, kit)
            assert not isinstance(found, Ask)
            if isinstance(found, Sized):
                answered += 1
                assert failed(details, found, TABLES) == [], details
    assert answered > len(DEPTHS)
