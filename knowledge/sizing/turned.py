"""Turned units: where no upright rail stands for a service, a rail may lie level, if the kit says so.

Such a rail bears on as much ground as an upright one, and holds as much of the face at the same spacing. But
of the face above and below it stays open what an upright rail would have covered. So it holds no more of the
height than the kit allows; it lies deep enough for the wedge above it, which is as wide as the rail is long;
no two lie side by side; and none lies on the lowest level, since nothing is set below that any more. How far
a dig may go below a strut is counted from its axis, so that no bite grows by it.
"""

from math import inf

from knowledge.sheet import Scratch, Sheet
from knowledge.sizing.bearing import behind_the_top_rail, wedge_foot
from knowledge.sizing.layout import Placed
from knowledge.sizing.levels import final_bounds, heights
from knowledge.sizing.strut import strut_load
from knowledge.sizing.working import WorkedTrench
from knowledge.units import Metre

_NOISE = 1e-9


def turned_from(worked: WorkedTrench) -> list[Metre | None]:
    """For each level how deep it must lie for a unit of it to be turned, wherever the others end up; None
    where none may be."""
    case, ground = worked.face.case, worked.ground
    use, rail = case.kit.turned, case.kit.rail
    carried = final_bounds(worked.plan.windows, worked.depth)
    found: list[Metre | None] = [0.0 if use and h <= use.height_m + _NOISE else None for h in carried]
    found[-1] = None
    if found[0] is not None and ground.strength is not None:
        off = case.tables.practice.setting_tolerance.si
        N = strut_load(worked.pressure.kpa, worked.shores.spacing, carried[0] + off)
        foot = wedge_foot(N, case.tables.pressures.load_factor.si, ground.strength, rail.length_m)
        found[0] = foot + off - rail.width_m / 2
    return found


def turned_verdicts(worked: WorkedTrench, places: tuple[Placed, ...], sheet: Sheet) -> bool:
    """What turned units must hold, each with its verdict, and whether all of it holds: the height of face
    that the kit allows, and at the top the wedge above the rail."""
    case, holds = worked.face.case, True
    use, rail = case.kit.turned, case.kit.rail
    carried = heights(tuple(place.depth_m for place in places), worked.depth, Scratch())
    for i, (place, h) in enumerate(zip(places, carried, strict=True), 1):
        if place.turned_m:
            most, source = (
                (use.height_m, case.tables.source(use)) if use else (-inf, "not turned by this kit")
            )
            holds &= sheet.check("Height that a turned rail holds", (f"h_{i}", h), ("h_max", most), source)
    if places[0].turned_m:
        N = sheet.work(strut_load, worked.pressure.kpa, worked.shores.spacing, carried[0])
        foot = places[0].depth_m + rail.width_m / 2
        bears = behind_the_top_rail(
            worked.shores.bearing, worked.ground, foot, case.tables, sheet, along=rail.length_m
        )
        holds &= sheet.check(
            "Load on the ground behind a turned rail", ("N", N), ("R_w", bears), "at full depth"
        )
    return holds
