"""What stands beside the trench, at its limits: engineering basis, section 10; marks beside each row."""

from typing import Any

import pytest
from trenches import outcome, told

from knowledge.outcome import Ask, Sized, Stop
from knowledge.units import Amount

# what, ground, m from the edge, more of it, whether it stops. 1.6 m deep, k = 1 in firm clay, 1.5 in soft.
ROWS: list[tuple[str, str, float, dict[str, Any], bool]] = [
    ("foundation", "firm clay", 1.6, {}, True),  # x = limit is inside; App C adjacency (R2)
    ("foundation", "firm clay", 1.61, {}, False),
    ("foundation", "soft clay", 2.4, {}, True),  # k 1.5, practice
    ("foundation", "soft clay", 2.41, {}, False),
    ("foundation", "chalk", 1.61, {}, False),  # k = 1 in chalk and rock, as in firm clay
    ("foundation", "medium dense sand", 2.4, {}, True),  # k = 1.5 in what runs
    ("foundation", "dense gravel", 2.4, {}, True),
    ("foundation", "firm clay", 1.1, {"deep_m": 0.6}, False),  # 1.6 - 0.6 of it counts
    ("foundation", "firm clay", 1.0, {"deep_m": 0.6}, True),
    ("building", "firm clay", 1.0, {}, True),
    ("wall", "firm clay", 1.5, {}, True),
    ("railway", "firm clay", 1.5, {}, True),
    ("railway", "firm clay", 1.1, {"deep_m": 0.6}, True),  # its underside does not count
    ("tree", "firm clay", 1.6, {}, True),
    ("pole", "firm clay", 1.6, {}, True),  # the greater of k H and 1.5 m, practice
    ("pole", "firm clay", 1.0, {"held": True}, False),
    ("crane", "firm clay", 3.2, {}, True),  # 2 H from the mat, practice
    ("crane", "firm clay", 3.21, {}, False),
    ("trench", "firm clay", 2.0, {"deep_m": 2.5}, True),  # the deeper of the two
    ("trench", "firm clay", 2.0, {"deep_m": 1.0}, False),
    ("embankment", "firm clay", 1.0, {}, True),
    ("other", "firm clay", 1.6, {}, True),
]


@pytest.mark.parametrize(("what", "ground", "at", "more", "stops"), ROWS)
def test_how_near_a_thing_may_be(
    what: str, ground: str, at: float, more: dict[str, Any], stops: bool
) -> None:
    """Finding 3: foundation, building, wall, railway, crane beside it gave the same 14 units."""
    thing = {"what": what, "at_m": at, **more}
    found = outcome(told(1.6, 0.9, ground, face="stands", beside=(thing,)))
    assert isinstance(found, Stop if stops else Sized)
    if isinstance(found, Stop):
        assert what in found.stop[0].say


def test_a_stated_load_does_not_lift_it() -> None:
    near = told(1.6, 0.9, "firm clay", beside=({"what": "building", "at_m": 1.0},), surcharge_kpa=5)
    assert isinstance(outcome(near), Stop)


def test_a_pole_is_never_nearer_than_a_metre_and_a_half() -> None:
    for at, kind in ((1.5, Stop), (1.51, Sized)):
        found = outcome(told(1.0, 0.9, "firm clay", beside=({"what": "pole", "at_m": at},)))
        assert isinstance(found, kind)


def test_a_little_further_off_its_cracks_are_watched() -> None:
    for at, said in ((3.2, True), (3.3, False)):
        found = outcome(told(1.6, 0.9, "firm clay", beside=({"what": "building", "at_m": at},)))
        assert isinstance(found, Sized)
        assert ("watched" in {c.id for c in found.cautions}) is said


def test_a_distance_untold_is_asked() -> None:
    found = outcome(told(1.6, 0.9, "firm clay", beside=({"what": "wall"},)))
    assert isinstance(found, Ask)
    assert found.questions == ("beside",)


@pytest.mark.parametrize(("one_in", "counts"), [(10, False), (11, False), (9, True), (5, True), (3, True)])
def test_rising_ground_counts_in_the_depth(one_in: float, counts: bool) -> None:
    """App D (d)(3)(ii)(C) (R1); flatter than 1 in 10 nothing, practice."""
    flat = outcome(told(1.2, 0.9, "firm clay"))
    found = outcome(told(1.2, 0.9, "firm clay", beside=({"what": "slope", "one_in": one_in},)))
    assert isinstance(flat, Sized) and isinstance(found, Sized)
    assert (found.pressure_kpa > flat.pressure_kpa) is counts


# kPa at the face, 1.6 m deep: 14.4 on 3 m to 3 t (UFC 3-220-20, R1), 30 on 2.5 m to 9 t (practice).
@pytest.mark.parametrize(
    ("tonnes", "at", "rule"),
    [
        (2.0, 0.59, "plant-at-edge"),
        (2.0, 0.6, None),
        (9.0, 0.6, None),
        (9.1, 1.6, "plant-heavy"),
        (9.1, 1.61, None),
        (None, 1.6, "plant-close"),
        (None, 1.61, None),
    ],
)
def test_plant_by_its_weight(tonnes: float | None, at: float, rule: str | None) -> None:
    found = outcome(told(1.6, 0.9, "stiff clay", plant_m=at, plant_t=tonnes))
    if rule:
        assert isinstance(found, Stop)
        assert rule in {r.rule for r in found.stop}
    else:
        assert isinstance(found, Sized)


def test_heavier_plant_presses_more() -> None:
    found = [outcome(told(1.2, 0.9, "stiff clay", plant_m=0.6, plant_t=t)) for t in (None, 3.0, 9.0)]
    found[0] = outcome(told(1.2, 0.9, "stiff clay"))
    pressures = [each.pressure_kpa for each in found if isinstance(each, Sized)]
    assert len(pressures) == 3
    assert pressures == sorted(set(pressures))


def test_a_distance_to_traffic_tells_of_a_street_too() -> None:
    """Finding 4 again: who tells how far the lane is tells that there is one."""
    found = outcome(told(1.6, 0.9, "firm clay", traffic_m=2.0))
    assert isinstance(found, Ask)
    assert found.questions == ("pavement_m",)


@pytest.mark.parametrize("cm", range(60, 201, 7))
def test_a_surface_nobody_told_of_is_said_with_how_thick_it_may_be(cm: int) -> None:
    """Unknown is not none: the plan holds for any surface that ends above its top rails, and that is said."""
    found = outcome(told(cm / 100, 0.9, "firm clay", length_m=6))
    assert isinstance(found, Sized)
    top = found.levels[0].depth_m - 0.55 / 2
    (caution,) = (c for c in found.cautions if c.id == "slab-untold")
    said = caution.numbers["rail_top"]
    assert isinstance(said, Amount) and said.value == pytest.approx(top)
    # With a surface that just fits, the same levels keep clear of it.
    again = outcome(told(cm / 100, 0.9, "firm clay", length_m=6, pavement_m=top))
    assert isinstance(again, Sized)
    assert again.levels[0].depth_m - 0.55 / 2 >= top - 1e-9
    assert "slab-untold" not in {c.id for c in again.cautions}


# Subpart P App B Table B-1 (R1): 3/4, 1 and 1 1/2 across to 1 up.
@pytest.mark.parametrize(
    ("soil", "more", "slope"),
    [
        ("stiff clay", {"disturbed": False, "traffic": False, "fissured": False}, 0.75),
        ("type B", {}, 1.0),
        ("soft clay", {"face": "stands"}, 1.5),
    ],
)
@pytest.mark.parametrize("ends", [None, "open", "battered", "supported"])
def test_how_flat_an_end_is_battered(soil: str, more: dict[str, Any], slope: float, ends: str | None) -> None:
    found = outcome(told(1.2, 0.9, soil, ends=ends, **more))
    assert isinstance(found, Sized)
    said = [c.numbers["end_slope"] for c in found.cautions if c.id == "end-slope"]
    assert said == ([] if ends == "supported" else [Amount(slope)])


def test_a_street_has_a_surface_and_its_thickness_is_asked() -> None:
    """Finding 4: surfacing untold was taken as none."""
    asked = outcome(told(1.6, 0.9, "firm clay", traffic=True))
    assert isinstance(asked, Ask)
    assert asked.questions == ("pavement_m",)
    near = outcome(told(1.6, 0.9, "firm clay", traffic=True, pavement_m=0.0))
    told_at = outcome(told(1.6, 0.9, "firm clay", traffic=True, traffic_m=0.6, pavement_m=0.0))
    assert isinstance(near, Sized) and isinstance(told_at, Sized)
    assert near.pressure_kpa == told_at.pressure_kpa  # untold: as near as is answered
