"""What the ground bears behind one rail, against the pump and against the load that it brings itself.

The face between rails stands by arching, so the whole tributary load of a strut reaches the ground through
the rail of either face. Where that is more than the ground bears, the ground comes out round the rail,
however strong the strut.

Clay: a surface footing laid on its side. Nothing presses on the bare face beside the rail, so that neither a
surcharge term nor a depth factor is taken. Near the surface a wedge may be pushed up before that; its weight,
which would help, is left out.

Granular ground: without cohesion, and with nothing on the face, theory leaves it no bearing at all; but a
face that stands at all has some. The allowable pressure is common practice. It is half of what theory gives
for the least cohesion with which a bite can stand (tests/sizing/test_bearing.py).

Boards, where they go behind the rails, spread load and pump as far as they can in bending.
"""

from dataclasses import dataclass
from math import sqrt

from knowledge.sheet import Sheet, formula
from knowledge.sizing.ground import Ground
from knowledge.tables.kit import Kit
from knowledge.tables.load import Tables
from knowledge.units import KiloNewton, KiloPascal, Metre, Ratio, SquareMetre

_KPA_PER_GPA = 1e6


@formula(
    symbol="q_f",
    source="Skempton 1951, surface footing; the same in EN 1997-1 Annex D",
    us="Skempton 1951, surface footing",
)
def rail_bearing(N_c: Ratio, k_s: Ratio, B_r: Metre, l_r: Metre, c_u: KiloPascal) -> KiloPascal:
    """Pressure at which clay gives way behind one rail `B_r` wide and `l_r` long."""
    return N_c * (1 + k_s * B_r / l_r) * c_u


@formula(symbol="q_p", source="common practice, factor of safety against the pump")
def bearing_for_pump(q_f: KiloPascal, F_p: Ratio) -> KiloPascal:
    """Pressure that the pump may bring behind a rail."""
    return q_f / F_p


@formula(symbol="q_b", source="a factor on strength", us="a factor on strength")
def bearing_for_load(q_f: KiloPascal, F_b: Ratio) -> KiloPascal:
    """Pressure that the ground's own load may bring behind a rail."""
    return q_f / F_b


@formula(symbol="A_r", source="width that bears by length of the rail")
def bearing_area(b: Metre, l_r: Metre) -> SquareMetre:
    """Area that bears behind one rail."""
    return b * l_r


@formula(symbol="P_w", source="bearing by rail area")
def bearing_force(q_p: KiloPascal, A_r: SquareMetre) -> KiloNewton:
    """Force that the pump may bring behind one rail."""
    return q_p * A_r


@formula(
    symbol="c_b",
    source="EN 1993-1-8 6.2.5 (4): a plate spreads as far as it bends within its strength",
    us="a plate spreads as far as it bends within its strength, M = f t^2 / 6",
)
def board_overhang(t_b: Metre, f_b: KiloPascal, q_b: KiloPascal) -> Metre:
    """How far beside the rail a board in bending brings the pressure `q_b`."""
    return t_b * sqrt(f_b / (3 * q_b))


@formula(symbol="b", source="rail and its boards, no wider than one board")
def bearing_width(b_b: Metre, B_r: Metre, c_b: Metre) -> Metre:
    """Width that bears behind one rail."""
    return max(B_r, min(b_b, B_r + 2 * c_b))


@formula(symbol="R_b", source="bearing by width and rail length")
def rail_capacity(q_b: KiloPascal, b: Metre, l_r: Metre) -> KiloNewton:
    """Strut load that the ground bears behind one rail."""
    return q_b * b * l_r


@formula(
    symbol="R_w",
    source="wedge at 45 degrees up from the foot of the rail, sheared on its base and both sides",
)
def wedge_capacity(c_u: KiloPascal, b: Metre, z_f: Metre, F_b: Ratio) -> KiloNewton:
    """Strut load at which clay above the foot of the top rail, `z_f` deep, is pushed up to the surface."""
    return c_u * (2 * b * z_f + sqrt(2) * z_f**2) / F_b


@formula(symbol="R_top", source="the lesser of both, for the top rail")
def top_rail_capacity(R_b: KiloNewton, R_w: KiloNewton) -> KiloNewton:
    """Strut load that the ground bears behind the top rail."""
    return min(R_b, R_w)


@formula(symbol="R_t", source="while the dig stops and nobody is in, with the lesser factor")
def stage_capacity(R_b: KiloNewton, F_b: Ratio, F_t: Ratio) -> KiloNewton:
    """Strut load that the ground bears behind one rail at a stage of the dig."""
    return R_b * F_b / F_t


@formula(symbol="z_t", source="the same wedge, over a rail that lies level: R_w turned round")
def wedge_foot(N: KiloNewton, F_b: Ratio, c_u: KiloPascal, l_r: Metre) -> Metre:
    """How deep the foot of a level rail must be for the wedge above it to bear a strut load."""
    return (sqrt(l_r**2 + sqrt(2) * N * F_b / c_u) - l_r) / sqrt(2)


@dataclass(frozen=True, slots=True)
class Bearing:
    """What the ground bears behind one rail: of pump and of load, on a width of rail or boards."""

    pump: KiloNewton
    load: KiloNewton
    width: Metre
    boards: bool


def behind_a_rail(ground: Ground, kit: Kit, boards: bool, tables: Tables, sheet: Sheet) -> Bearing:
    """What a ground bears behind one rail of a kit, bare or with boards."""
    rail, board = kit.rail, kit.board
    l_r = sheet.given("l_r", rail.length_m, "m", kit, "Length of a rail")
    width = sheet.given("B_r", rail.width_m, "m", kit, "Width of a rail")
    pump, load = _allowed(ground, kit, tables, sheet)
    if boards:
        t_b = sheet.given("t_b", board.thickness_m, "m", kit, "Thickness of a board")
        f_b = sheet.given("f_b", board.bending_gpa * _KPA_PER_GPA, "kPa", kit, "Allowable bending of a board")
        b_b = sheet.given("b_b", board.width_m, "m", kit, "Width of a board")
        overhang = sheet.work(board_overhang, t_b, f_b, load)
        width = sheet.work(bearing_width, b_b, rail.width_m, overhang)
    else:
        sheet.given("b", width, "m", "B_r, bare rails", "Width that bears behind one rail")
    area = sheet.work(bearing_area, width, l_r)
    return Bearing(
        pump=sheet.work(bearing_force, pump, area),
        load=sheet.work(rail_capacity, load, width, l_r),
        width=width,
        boards=boards,
    )


def behind_the_top_rail(
    bearing: Bearing, ground: Ground, foot: Metre, tables: Tables, sheet: Sheet
) -> KiloNewton:
    """Strut load that the ground bears behind an upright rail whose foot is `foot` below the surface."""
    if ground.strength is None:
        return sheet.given("R_top", bearing.load, "kN", "R_b, granular ground", top_rail_capacity.said)
    sheet.given("z_f", foot, "m", "the top level as high as it may come to be set", "Foot of the top rail")
    F_b = sheet.figure("F_b", tables.pressures.load_factor, "Factor on strength behind a rail")
    wedge = sheet.work(wedge_capacity, ground.strength, bearing.width, foot, F_b)
    return sheet.work(top_rail_capacity, bearing.load, wedge)


def _allowed(ground: Ground, kit: Kit, tables: Tables, sheet: Sheet) -> tuple[KiloPascal, KiloPascal]:
    """Pressure allowed behind a rail, by the pump and by load."""
    rows, rail = tables.pressures, kit.rail
    if ground.strength is None:
        figure = tables.practice.granular_bearing
        return (
            sheet.figure("q_p", figure, "Pressure allowed to the pump"),
            sheet.figure("q_b", figure, "Pressure allowed behind a rail"),
        )
    N_c = sheet.figure("N_c", rows.bearing_n_c, "Bearing factor of a surface footing")
    k_s = sheet.figure("k_s", rows.bearing_shape, "Shape factor")
    gives = sheet.work(rail_bearing, N_c, k_s, rail.width_m, rail.length_m, ground.strength)
    F_p = sheet.figure("F_p", rows.bearing_factor, "Factor of safety against the pump")
    F_b = sheet.figure("F_b", rows.load_factor, "Factor on strength behind a rail")
    return sheet.work(bearing_for_pump, gives, F_p), sheet.work(bearing_for_load, gives, F_b)
