"""What `holds_to` promises: the plan as given passes every check in each trench up to the limit.

The checks are those of the second, naive implementation (naive.py), worked on the plan as it stands: nothing
is sized again. Every ground and many a centimetre on the way are tried, since the answer itself is not the
same everywhere on it.
"""

from collections.abc import Iterator
from itertools import islice

import pytest
from hypothesis import HealthCheck, assume, example, given, settings
from hypothesis import strategies as st
from naive import faults, standing
from test_second_opinion import TABLES, clays, grains, others, trenches, types

from knowledge.outcome import GroundName, Rulebook, Sized
from knowledge.reading import Details, Soil
from knowledge.sizing.ground import described
from knowledge.sizing.size import size
from knowledge.tables.sizing_figures import GroundRow

MOST = 20  # places tried on one way

# Each once had a limit too far. The pump pressure was less than its share of what the levels as placed bring;
PRELOAD = Details(
    depth_m=1.527, width_m=1.379, length_m=10.1, soil=Soil(kind="clay", state="very stiff"), face="stands",
    ends="battered", traffic=False, surcharge_kpa=22.0, disturbed=False, fissured=False,
)  # fmt: skip
# and the face of the weaker ground does not stand as high as the levels as placed leave it open.
BITE = Details(
    depth_m=2.0, width_m=0.9, soil=Soil(kind="clay", state="hard"), face="stands", ends="supported",
    traffic=False, pavement_m=0.0, surcharge_kpa=26.0, fissured=True,
)  # fmt: skip


def centimetres(told: float, most: float) -> Iterator[float]:
    """Every centimetre beyond what was told; of a long way every second or third, and always the limit."""
    first, last = int(told * 100) + 1, int(most * 100 + 1e-6)
    step = max(1, (last - first) // MOST)
    yield from (cm / 100 for cm in islice(range(last, first - 1, -step), MOST + 1))


def grounds(told: GroundRow, found: Sized) -> Iterator[Soil]:
    """Every ground from the one told down to the weakest that the answer names."""
    if told.kind is None:
        return
    rows = tuple(row for row in TABLES.soils.ground if row.kind == told.kind)
    weakest = next(i for i, row in enumerate(rows) if row.name == found.holds_to.soil)
    yield from (Soil(kind=row.kind, state=row.state) for row in rows[weakest : rows.index(told)])


def on_the_way(details: Details, found: Sized) -> Iterator[Details]:
    """Every trench for which the answer says that it holds, one thing changed at a time."""
    assert details.depth_m is not None and details.width_m is not None
    told, reach = described(details.soil, TABLES.soils), found.holds_to
    assert told is not None
    for depth in centimetres(details.depth_m, reach.depth_m):
        yield details.model_copy(update={"depth_m": depth})
    for width in centimetres(details.width_m, reach.width_m):
        yield details.model_copy(update={"width_m": width})
    for soil in grounds(told, found):
        # A type that was told of the ground stays told.
        same = soil.model_copy(update={"type": details.soil.type if details.soil else None})
        yield details.model_copy(update={"soil": same})


@settings(max_examples=100, suppress_health_check=[HealthCheck.filter_too_much, HealthCheck.too_slow])
@example(details=PRELOAD, terms=("uk", "heavy"))
@example(details=BITE, terms=("us", "heavy"))
@given(
    details=trenches(2.6, 1.6, clays | clays | grains | others | types),
    terms=st.sampled_from([("uk", "light"), ("uk", "heavy"), ("us", "heavy")]),
)
def test_the_plan_as_given_passes_everywhere_up_to_its_limits(
    details: Details, terms: tuple[Rulebook, str]
) -> None:
    found = size(details, TABLES, *terms)
    assume(isinstance(found, Sized))
    assert isinstance(found, Sized)
    assert faults(details, standing(details, found, TABLES), TABLES) == []
    for trench in on_the_way(details, found):
        assert faults(trench, standing(trench, found, TABLES), TABLES) == [], trench


def test_the_answer_itself_comes_and_goes_on_the_way() -> None:
    """Why the plan is what is promised: a lighter strut fits for a while, and no longer at the limit."""
    told = Details(depth_m=1.6, width_m=0.8, length_m=6.0, soil=Soil(kind="clay", state="firm"))
    found = size(told, TABLES, "uk", "heavy")
    assert isinstance(found, Sized)
    struts = []
    for width in centimetres(0.8, found.holds_to.width_m):
        again = size(told.model_copy(update={"width_m": width}), TABLES, "uk", "heavy")
        assert isinstance(again, Sized)
        struts.append((again.strut.size, again.strut.extensions_m))
    given = (found.strut.size, found.strut.extensions_m)
    assert struts[0] == given and set(struts) > {given}


def test_a_deeper_trench_needs_the_pump_pressure_that_was_given() -> None:
    """Sized anew at 1.54 m the levels lie lower and the same band does; as they stand they bring more."""
    found = size(PRELOAD, TABLES, "uk", "heavy")
    assert isinstance(found, Sized) and found.holds_to.depth_m == 1.53
    beyond = PRELOAD.model_copy(update={"depth_m": 1.54})
    assert faults(beyond, standing(beyond, found, TABLES), TABLES) == ["a share of the load"]


@pytest.mark.parametrize(
    ("told", "terms", "limit", "fails"),
    [
        (Details(depth_m=1.6, width_m=0.9, length_m=6.0, soil=Soil(kind="clay", state="firm")),
         ("uk", "light"), 1.66, ["the ground bears a rail"]),
        # Half a rail more or less behind the top rail would end it at 1.60 m.
        (Details(depth_m=1.6, width_m=1.5, length_m=6.0, soil=Soil(type="B"), water="dry", surcharge_kpa=0.0),
         ("us", "heavy"), 1.68, ["the ground bears a rail"]),
    ],
)  # fmt: skip
def test_the_limit_is_no_nearer_than_it_must_be(
    told: Details, terms: tuple[Rulebook, str], limit: float, fails: list[str]
) -> None:
    """A centimetre beyond it a check of the second implementation fails."""
    found = size(told, TABLES, *terms)
    assert isinstance(found, Sized) and found.holds_to.depth_m == limit
    beyond = told.model_copy(update={"depth_m": round(limit + 0.01, 2)})
    assert faults(beyond, standing(beyond, found, TABLES), TABLES) == fails


def test_weaker_ground_must_stand_as_high_as_the_levels_given_leave_it_open() -> None:
    """By hand: firm clay stands (2.67 x 23.9 - 36) / 19.6 / 1.5 = 0.946 m, and the second bite is 0.995 m."""
    found = size(BITE, TABLES, "us", "heavy")
    assert isinstance(found, Sized)
    first, second = found.levels[0].depth_m, found.levels[1].depth_m
    bite = second + TABLES.kits["heavy"].rail.length_m / 2 + TABLES.practice.working_room.si - first
    assert bite == pytest.approx(0.995)
    assert found.holds_to.soil == GroundName(kind="clay", state="very stiff")


@pytest.mark.parametrize(("deeper", "wrong"), [(0.3, "last gap"), (1.5, "kit depth")])
def test_a_plan_that_stands_too_deep_is_found_out(deeper: float, wrong: str) -> None:
    told = Details(depth_m=1.6, width_m=0.9, length_m=6.0, soil=Soil(kind="clay", state="firm"))
    found = size(told, TABLES, "uk", "light")
    assert isinstance(found, Sized)
    trench = told.model_copy(update={"depth_m": 1.6 + deeper})
    assert wrong in faults(trench, standing(trench, found, TABLES), TABLES)
