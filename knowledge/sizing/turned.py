"""Turned units: where no upright rail stands for a service, a rail may lie level, if the kit says so.

Such a rail bears on as much ground as an upright one, and holds as much of the face at the same spacing. But
of the face above and below it stays open what an upright rail would have covered. So it holds no more of the
height than the kit allows; it lies deep enough for the wedge above it, which is as wide as the rail is long;
no two lie side by side; and none lies on the lowest level, since nothing is set below that any more. How far
a dig may go below a strut is counted from its axis, so that no bite grows by it.
"""

from knowledge.sheet import Scratch, Sheet
from knowledge.sizing.bearing import top_rail_capacity, wedge_capacity, wedge_foot
from knowledge.sizing.layout import Placed
from knowledge.sizing.levels import final_bounds, heights
from knowledge.sizing.strut import strut_load
from knowledge.sizing.working import WorkedTrench
from knowledge.units import KiloNewton, Metre

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
    if any(place.turned_m for place in places):
        sheet.part("Turned units")
    for i, (place, h) in enumerate(zip(places, carried, strict=True), 1):
        if place.turned_m:
            most = use.height_m if use else 0.0
            where = use or "not turned by this kit"
            held = f"Height that level {i} carries"
            sheet.given(f"h_u{i}", h, "m", "tributary area, levels as placed", held)
            sheet.given("h_turn", most, "m", where, "Height that a turned rail may hold")
            name = f"Height that a turned rail of level {i} holds"
            holds &= sheet.check(name, (f"h_u{i}", h), ("h_turn", most), "m", where)
    if places[0].turned_m:
        load = strut_load.named(symbol="N_lev", said="Load of a turned unit", h="h_u1")
        N = sheet.work(load, worked.pressure.kpa, worked.shores.spacing, carried[0])
        bears = _bears(worked, places[0].depth_m + rail.width_m / 2, sheet)
        name = "Load on the ground behind a turned rail"
        holds &= sheet.check(name, ("N_lev", N), ("R_u", bears), "kN", "at full depth")
    return holds


def _bears(worked: WorkedTrench, foot: Metre, sheet: Sheet) -> KiloNewton:
    """What the ground bears behind a rail of the top level that lies level, its lower edge at `foot`."""
    case, ground, bearing = worked.face.case, worked.ground, worked.shores.bearing
    said = "Strut load that the ground bears behind a turned rail"
    if ground.strength is None:
        return sheet.given("R_u", bearing.load, "kN", "R_b, granular ground", said)
    z_fu = sheet.given("z_fu", foot, "m", "z_1 and half of the width of the rail", "Lower edge of that rail")
    l_r = sheet.given("l_r", case.kit.rail.length_m, "m", case.kit, "Length of a rail")
    F_b = sheet.figure("F_b", case.tables.pressures.load_factor, "Factor on strength behind a rail")
    wedge = wedge_capacity.named(
        symbol="R_wu", said="Strut load at which the wedge above it is pushed up", b="l_r", z_f="z_fu"
    )
    lesser = top_rail_capacity.named(symbol="R_u", said=said, R_w="R_wu")
    return sheet.work(lesser, bearing.load, sheet.work(wedge, ground.strength, l_r, z_fu, F_b))
