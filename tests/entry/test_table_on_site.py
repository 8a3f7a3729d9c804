"""A plan that rests on the supplier's table, or an engineer's approval, waits until that is on site.

29 CFR 1926.652(c)(2)(iii), (c)(3)(iii), (c)(4) (R1, M-H): in writing at the jobsite while it is being
built; from 5 ft on, 652(a)(1)(ii) (R1). BS 5975-1:2024 12.10.3 (R1): held against the supplier's data
before use.
"""

import pytest
from trench_days import INSPECTED, PROPPED, SIZING, TABLE_HERE, Day, good_day, plan_for

from knowledge.outcome import Props, Sized
from knowledge.reading import Reading
from knowledge.units import M_PER_FT

FACT = "table on site"


def day(rulebook: str, depth: float, governed_by: str) -> Day:
    plan = plan_for(depth, (0.5, depth - 0.5)).model_copy(update={"governed_by": governed_by})
    return Day(rulebook).sized(plan, SIZING.model_copy(update={"depth_m": depth}))  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("rulebook", "depth", "governed_by", "asked"),
    [
        ("us", 5 * M_PER_FT, "working", True),
        ("us", 5 * M_PER_FT - 0.001, "working", False),
        ("us", 1.2, "table", True),
        ("us", 1.9, "table", True),
        ("uk", 1.9, "working", False),
        ("uk", 1.9, "table", True),
        ("uk", 1.1, "table", True),
    ],
)
def test_a_plan_that_needs_the_table_waits_for_it(
    rulebook: str, depth: float, governed_by: str, asked: bool
) -> None:
    told = day(rulebook, depth, governed_by)
    assert (FACT in told.missing()) is asked
    assert FACT not in told.tell(TABLE_HERE).missing()


def test_without_a_plan_nothing_rests_on_it() -> None:
    assert FACT not in Day("us").missing()


def test_it_is_told_once_and_taken_back() -> None:
    """Asked for while it is being built, so that it does not lapse overnight."""
    told = good_day("us").wait(days=1)
    assert FACT not in told.missing()
    assert FACT in told.tell(Reading(purpose="report", undone=(FACT,))).missing()


def with_props(count: int = 4) -> Sized:
    plan = plan_for()
    return plan.model_copy(update={"props": Props(depth_m=0.1, units=count, strut=plan.strut)})


def test_a_surface_that_overhangs_is_propped_before_anybody_goes_in() -> None:
    told = Day().sized(with_props()).works().tell(INSPECTED, "supervisor")
    assert told.missing() == {"surface propped"}
    said = next(each.say for each in told.entry().missing)
    assert "4 units" in said
    assert told.tell(PROPPED).missing() == set()
    assert "surface propped" in told.wait(days=1).missing(), "looked at in every shift"


def test_a_surface_that_overhangs_more_than_planned_voids_the_plan() -> None:
    told = good_day().tell(Reading(purpose="report", overhang_m=0.1))
    assert "plan changed" in told.missing()
    assert {each.what for each in told.trench.now.changed} == {"overhang"}


def test_a_corner_told_later_voids_the_plan() -> None:
    told = good_day().tell(SIZING.model_copy(update={"purpose": "report", "depth_m": None, "junction": True}))
    assert "plan changed" in told.missing()
