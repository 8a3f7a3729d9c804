"""Nothing worse ever turns a stop into an answer, lightens units, levels or strut load, or widens spacing.

Reason is the source (engineering basis, section 9). Walked on a grid: each depth to the centimetre, each
way of being worse step by step. A stop because rails do not fit is no stop of strength: there alone a deeper
trench, or one with a thinner slab, may be answered.
"""

from collections.abc import Iterable, Iterator
from typing import Any

import pytest
from trenches import TABLES, told

from knowledge.reading import Details
from knowledge.sheet import Scratch
from knowledge.sizing.before_sizing import facts_of, refused
from knowledge.sizing.ground import described, design
from knowledge.sizing.working import Terms, WorkedTrench, work

GEOMETRY = {"rail-does-not-fit", "levels-do-not-fit"}
BOOKS = [("uk", "light"), ("uk", "heavy"), ("us", "light"), ("us", "heavy")]
GROUNDS = [
    *("soft clay", "firm clay", "stiff clay", "hard clay", "firm silt", "stiff silt", "made ground"),
    *("medium dense sand", "dense sand", "medium dense gravel", "dense gravel", "chalk", "type A", "type B"),
]
Answer = tuple[str, WorkedTrench | None]


def answered(details: Details, book: str, kit: str) -> Answer:
    """The rule that stops a trench, or "" and how it is worked: the road of `size`."""
    row, chosen = described(details.soil, TABLES.soils), TABLES.kits[kit]
    assert row and details.depth_m and details.width_m
    ground = design(row, details, TABLES, book, Scratch())  # type: ignore[arg-type]
    facts = facts_of(details, row, ground, TABLES, book)  # type: ignore[arg-type]
    if stops := refused(details, ground, facts, TABLES, book, chosen):  # type: ignore[arg-type]
        return stops[0].rule, None
    case = Terms(details, TABLES, book, chosen, ())  # type: ignore[arg-type]
    found = work(case, details.depth_m, details.width_m, ground, Scratch())
    return ("", found) if isinstance(found, WorkedTrench) else (found.rule, None)


def lighter(easier: Answer, harder: Answer) -> str:
    """What is lighter, wider or answered at last in the harder of two trenches; "" for nothing."""
    (stop, before), (_, after) = easier, harder
    if after is None or (stop in GEOMETRY):
        return ""
    if before is None:
        return f"{stop} turns into an answer"
    found = []
    if after.shores.spacing > before.shores.spacing + 1e-9:
        found.append(f"spacing {before.shores.spacing} to {after.shores.spacing}")
    if len(after.plan.depths) < len(before.plan.depths):
        found.append("levels")
    if after.pressure.kpa < before.pressure.kpa - 1e-9:
        found.append("pressure")
    if after.shores.spacing * len(before.plan.depths) > before.shores.spacing * len(after.plan.depths) + 1e-9:
        found.append("units")
    # With a board behind each rail the strut is shorter, and closer units or another level share the load
    # among more: only of like plans can one have the lighter strut.
    alike = before.shores.bearing.boards == after.shores.bearing.boards
    alike &= len(after.plan.depths) == len(before.plan.depths)
    alike &= after.shores.spacing == before.shores.spacing
    if alike and after.shores.combination.mass_kg < before.shores.combination.mass_kg - 1e-9:
        found.append("strut")
    return ", ".join(found)


def faults(told: Iterable[tuple[Any, Details]], book: str, kit: str) -> Iterator[str]:
    """Where a walk from easy to hard gets lighter than at the last step that was no matter of room."""
    last: tuple[Any, Answer] | None = None
    for at, details in told:
        found = answered(details, book, kit)
        if last and (what := lighter(last[1], found)):
            yield f"{last[0]} to {at}: {what}"
        if found[0] not in GEOMETRY:
            last = at, found


@pytest.mark.parametrize(("book", "kit"), BOOKS)
@pytest.mark.parametrize("ground", GROUNDS)
@pytest.mark.parametrize("slab", [0.0, 0.25])
def test_deeper_to_the_centimetre(ground: str, slab: float, book: str, kit: str) -> None:
    walk = [
        (cm / 100, told(cm / 100, 0.9, ground, face="stands", water="dry", pavement_m=slab))
        for cm in range(55, 261)
    ]
    assert list(faults(walk, book, kit)) == []


def like(**more: Any) -> dict[str, Any]:
    return {"face": "stands", "water": "dry", "pavement_m": 0.0} | more


# What only every centimetre showed: book, kit, depth, ground, a harder one, what is told, and what is harder.
ONCE_LIGHTER: list[tuple[str, str, float, str, str, dict[str, Any], dict[str, Any]]] = [
    # A strut that allowed more than held on the way down was set where the lighter one does.
    ("us", "heavy", 1.60, "stiff clay", "stiff clay", {"surcharge_kpa": 31.0}, {"surcharge_kpa": 32.0}),
    ("us", "heavy", 2.30, "stiff clay", "stiff clay", {"plant_m": 0.85, "plant_t": 5.0}, {"plant_m": 0.8}),
    # The heap of a denser gravel weighs more, and its face was held by more than that of a looser one.
    ("uk", "light", 1.01, "dense gravel", "medium dense gravel", {}, {}),
    ("uk", "light", 1.01, "dense sand", "medium dense sand", {}, {}),
    ("uk", "heavy", 1.09, "dense gravel", "medium dense gravel", {}, {}),
    ("uk", "heavy", 1.65, "dense sand", "medium dense sand", {}, {}),  # a stop that turned into an answer
]


@pytest.mark.parametrize(("book", "kit", "depth", "easy", "hard", "more", "worse"), ONCE_LIGHTER)
def test_what_was_lighter_once(
    book: str, kit: str, depth: float, easy: str, hard: str, more: dict[str, Any], worse: dict[str, Any]
) -> None:
    walk = [
        ("easier", told(depth, 0.9, easy, **like(**more))),
        ("harder", told(depth, 0.9, hard, **like(**(more | worse)))),
    ]
    found = [
        each for each in faults(walk, book, kit) if easy == hard or "pressure" not in each.split(": ")[-1]
    ]
    assert found == []
