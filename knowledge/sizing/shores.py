"""Strut and extensions, rail, pump pressure and spacing: what the units must be and how far apart."""

from dataclasses import dataclass
from functools import cache
from math import inf

from knowledge.reading import SoilType
from knowledge.sheet import Formula, Sheet
from knowledge.sizing.bearing import Bearing, behind_a_rail, behind_the_top_rail, stage_capacity
from knowledge.sizing.ground import Ground
from knowledge.sizing.strut import (
    column_capacity,
    down_to_bar,
    euler_stress,
    face_to_face,
    gauge_force,
    gauge_stress,
    held_by_ram,
    imperfection,
    in_bar,
    in_gpa,
    in_mm,
    least_on_gauge,
    load_of_preload,
    lowest_high,
    most_on_gauge,
    on_step,
    perry_mean,
    perry_stress,
    preload,
    rail_in_bending,
    rail_in_shear,
    room_for_gauge,
    set_out,
    spacing_borne,
    spacing_for,
    strut_capacity,
    strut_load,
    up_to_bar,
)
from knowledge.sourced import Figure
from knowledge.tables.kit import Combination, Kit, StrutSize
from knowledge.tables.load import Tables
from knowledge.tables.sizing_figures import RulebookTable
from knowledge.tables.supplier import SupplierRow
from knowledge.units import (
    Amount,
    Bar,
    GigaPascal,
    KiloNewton,
    KiloPascal,
    Metre,
    SquareMillimetre,
    round_down,
    round_up,
)

_NOISE = 1e-9
_BAR = 1.0
_FAR = "The same, set as far out as it may be"
_OUT_TOP = set_out.named(symbol="h_at", said=_FAR, h_x="h_x1")
_OUT_STAGE = set_out.named(symbol="h_ad", said=_FAR, h_x="h_xd")
_BORNE = spacing_borne.named(symbol="s_bn")
_BORNE_TOP = spacing_borne.named(
    symbol="s_bt", said="The spacing that the ground bears behind the top rails", R_b="R_top", h_a="h_at"
)
_BORNE_STAGE = spacing_borne.named(
    symbol="s_bd", said="The spacing that the ground bears at a stage", R_b="R_t", h_a="h_ad"
)
_OWN = on_step.named(symbol="s_o", said="Spacing by our own working", s_g="s_m")
_RAIL_MM = in_mm.named(symbol="l_mm", said="Length of a rail in millimetres", L="l_r")
_LOWEST_GPA = in_gpa.named(symbol="p_ng", said="The same as a stress", p_b="p_n")
_HELD_GPA = in_gpa.named(symbol="p_rg", said="The same as a stress", p_b="p_r")
_RAM = gauge_force.named(said="Force of the ram at that pressure", p_g="p_ng")


@dataclass(frozen=True, slots=True)
class Demand:
    """What the shores must take.

    `height` is the most that one level carries at full depth, `staged` the most while the dig stops for a
    level, and `top` holds the depth of the foot of the top rail and what that level carries.
    """

    width: Metre
    depth: Metre
    pressure: KiloPascal
    height: Metre
    staged: Metre
    top: tuple[Metre, Metre]
    ground: Ground
    supplied: SupplierRow | None
    most: Metre  # no wider spacing is given out, whatever a strut allows; inf where nothing bars it


@dataclass(frozen=True, slots=True)
class Shores:
    """The strut chosen and what it is set to: `spacing` centre to centre, `band` in whole bar.

    `own`: the spacing by our own working, before the supplier's table. `lightest`: no lighter strut fits.
    """

    combination: Combination
    needed: Metre
    spacing: Metre
    own: Metre
    capacity: KiloNewton
    bearing: Bearing
    high: Bar
    lightest: bool


@dataclass(frozen=True, slots=True)
class NoShores:
    """No lawful units: which refusal, and the figures of its sentence."""

    rule: str
    numbers: dict[str, Amount]


def shores(demand: Demand, kit: Kit, book: RulebookTable, tables: Tables, sheet: Sheet) -> Shores | NoShores:
    """The lightest strut that fits and allows the spacing wanted, else the one that allows most."""
    # Boards only ever make the strut shorter: a trench too wide without them stays too wide with them.
    if demand.width - 2 * kit.rail.thickness_m > kit.reach_m + _NOISE:
        return _none_fits(demand, kit, boards=False)
    bearing, wanted = _wanted(demand, kit, book, tables, sheet)
    sheet.part("Strut")
    t_r = sheet.given("t_r", kit.rail.thickness_m, "m", kit, "Thickness of a rail")
    if bearing.boards:
        t_b = sheet.given("t_b", kit.board.thickness_m, "m", kit, "Thickness of a board")
    else:
        t_b = sheet.given("t_b", 0.0, "m", "no boards behind the rails", "Thickness of a board")
    needed = sheet.work(face_to_face, demand.width, t_r, t_b)
    supplied = demand.supplied
    fitting = [
        c
        for c in kit.combinations
        if c.least_m - _NOISE <= needed <= c.greatest_m + _NOISE
        and not (supplied and supplied.strut and c.size.name not in supplied.strut)
    ]
    if not fitting:
        return _none_fits(demand, kit, bearing.boards)
    least = tables.practice.spacing_least.si
    if wanted < least - _NOISE:
        pressure = Amount(demand.pressure, "kPa")
        return NoShores("ground-gives-way", {"pressure": pressure, "least": Amount(least, "m")})
    best, steps = _lightest(fitting, _Job(demand, needed, wanted, bearing, kit, tables), sheet)
    sheet.take(steps)
    return best


def _wanted(
    demand: Demand, kit: Kit, book: RulebookTable, tables: Tables, sheet: Sheet
) -> tuple[Bearing, Metre]:
    """What bears behind a rail, and the greatest spacing by rulebook, arching and bearing.

    Where bare rails would have to stand too close for the ground behind them, boards go behind.
    """
    practice, boarded = tables.practice, demand.ground.row.boards
    sheet.part("Spacing by rule, arching and ground")
    most = {
        "s_rule": sheet.figure(
            "s_rule",
            spacing_row(demand.ground.soil_type, demand.depth, book),
            "Spacing allowed by soil type and depth",
        ),
        "s_arch": sheet.figure(
            "s_arch", practice.arching[demand.ground.row.wall], "Spacing over which the ground arches"
        ),
    }
    if not boarded:
        steps = sheet.fresh()
        bare = behind_a_rail(demand.ground, kit, False, tables, steps)
        borne = spacing_on_ground(demand, bare, tables, steps)
        if round_down(borne, practice.spacing_step.si) >= practice.spacing_boarded.si - _NOISE:
            sheet.take(steps)
            return bare, _within({**most, "s_b": borne}, tables, sheet)
        sheet.given(
            "s_bare",
            borne,
            "m",
            "worked as s_b, with bare rails: so boards go behind",
            "Spacing of bare rails",
        )
        most["s_boards"] = sheet.figure(
            "s_boards", practice.spacing_boarded, "Spacing allowed where boards go behind rails"
        )
    bearing = behind_a_rail(demand.ground, kit, True, tables, sheet)
    most["s_b"] = spacing_on_ground(demand, bearing, tables, sheet)
    return bearing, _within(most, tables, sheet)


def _within(most: dict[str, Metre], tables: Tables, sheet: Sheet) -> Metre:
    """The spacing wanted: the least of these, as it is given out."""
    least = sheet.least("s_g", most, "m", "the least of these", "Spacing by rule, arching and ground")
    return _stepped(on_step, least, tables, sheet)


def _stepped(step: Formula[[Metre, Metre]], spacing: Metre, tables: Tables, sheet: Sheet) -> Metre:
    """A spacing as it is given out: down to the step."""
    s_0 = sheet.figure("s_0", tables.practice.spacing_step, "Step that spacings are given in")
    return round(sheet.work(step, spacing, s_0), 4)


def spacing_on_ground(demand: Demand, bearing: Bearing, tables: Tables, sheet: Sheet) -> Metre:
    """The greatest spacing at which the ground bears every rail, at full depth and at each stage."""
    rows, p = tables.pressures, demand.pressure
    t_z = sheet.figure("t_z", tables.practice.setting_tolerance, "What a level may be off its depth")
    foot, height = demand.top
    by_top = behind_the_top_rail(bearing, demand.ground, foot - t_z, tables, sheet)
    h_a = sheet.work(set_out, _before("h_x", demand.height, "a level", sheet), t_z)
    top = _before("h_x1", height, "the top level", sheet)
    h_at = sheet.work(_OUT_TOP, top, t_z)
    spacings = {
        "s_bn": sheet.work(_BORNE, bearing.load, p, h_a),
        "s_bt": sheet.work(_BORNE_TOP, by_top, p, h_at),
    }
    if demand.staged:
        F_b = sheet.figure("F_b", rows.load_factor, "Factor on what the ground bears behind a rail")
        F_t = sheet.figure("F_t", rows.stage_factor, "The same while the dig stops and nobody is in")
        R_t = sheet.work(stage_capacity, bearing.load, F_b, F_t)
        at_stage = _before("h_xd", demand.staged, "a level at a stage", sheet)
        spacings["s_bd"] = sheet.work(_BORNE_STAGE, R_t, p, sheet.work(_OUT_STAGE, at_stage, t_z))
    return sheet.least("s_b", spacings, "m", "the least of these", "Spacing that the ground bears")


def _before(symbol: str, height: Metre, of: str, sheet: Sheet) -> Metre:
    source = "tributary area, levels before they are rounded to the tape, or anywhere round services"
    return sheet.given(symbol, height, "m", source, f"Height that {of} carries at most")


def _lightest(fitting: list[Combination], job: "_Job", sheet: Sheet) -> tuple[Shores | NoShores, Sheet]:
    """The lightest strut at the spacing wanted, else the one that allows most; with its steps.

    A strut need not allow more than the supplier's table does: none is set wider, whatever it allows.
    """
    supplied = job.demand.supplied
    enough = min(job.wanted, job.demand.most, supplied.spacing_m if supplied else inf)
    found: list[tuple[Shores | NoShores, Sheet]] = []
    for combination in fitting:
        steps = sheet.fresh()
        tried = job.set(combination, combination is fitting[0], steps)
        if isinstance(tried, Shores) and tried.own >= enough - _NOISE:
            return tried, steps
        found.append((tried, steps))
    return max(found, key=lambda f: f[0].own if isinstance(f[0], Shores) else -1.0)


@dataclass(frozen=True, slots=True)
class _Job:
    """One trench's demand on one kit: sets each strut in turn."""

    demand: Demand
    needed: Metre
    wanted: Metre
    bearing: Bearing
    kit: Kit
    tables: Tables

    def set(self, combination: Combination, lightest: bool, sheet: Sheet) -> Shores | NoShores:
        """The spacing and the most that is pumped to, of one strut."""
        size = combination.size
        capacity = capacity_at(size, self.needed, self.kit, self.tables, sheet)
        high = self._high(size, capacity, sheet)
        least = round_up(max(floor_bar(self.demand.ground, self.kit, self.tables)), 1.0)
        if high - least < self._narrowest - _NOISE:
            figures = {"low": Amount(least, "bar", "lower"), "high": Amount(max(high, 0.0), "bar", "upper")}
            return NoShores("band-empty", figures)
        own = self._spacing(size, capacity, high, sheet)
        spacing = min(own, self.demand.supplied.spacing_m) if self.demand.supplied else own
        closest = self.tables.practice.spacing_least.si
        if spacing < closest - _NOISE:
            pressure = Amount(self.demand.pressure, "kPa")
            return NoShores("strut-overloaded", {"pressure": pressure, "least": Amount(closest, "m")})
        return Shores(combination, self.needed, spacing, own, capacity, self.bearing, high, lightest)

    @property
    def _narrowest(self) -> Bar:
        """A band narrower than what two gauges may differ by cannot be pumped to."""
        return 2 * self.tables.practice.gauge_error.si

    def _spacing(self, size: StrutSize, capacity: KiloNewton, high: Bar, sheet: Sheet) -> Metre:
        """The spacing that strut, rail and preload allow, no more than is wanted."""
        practice, demand = self.tables.practice, self.demand
        sheet.part("Spacing by strut, rail and pump")
        R_l = sheet.least(
            "R_l",
            {
                "R": capacity,
                "N_m": self._bends(sheet),
                "N_v": self._shears(sheet),
                "N_p": self._preloaded(size, high, sheet),
            },
            "kN",
            "the least of these",
            "Load that strut, rail and pump allow",
        )
        heights = {"h_a": demand.height + practice.setting_tolerance.si}
        if demand.staged:
            heights["h_ad"] = demand.staged + practice.setting_tolerance.si
        height = sheet.most(
            "h_l", heights, "m", "the greater of these", "Height that a strut carries at most"
        )
        allowed = sheet.work(spacing_for, R_l, demand.pressure, height)
        s_m = sheet.least(
            "s_m",
            {"s_max": allowed, "s_w": self.wanted},
            "m",
            "the lesser of these",
            "Spacing by ground and shores",
        )
        return _stepped(_OWN, s_m, self.tables, sheet)

    def _bends(self, sheet: Sheet) -> KiloNewton:
        kit, rail = self.kit, self.kit.rail
        f_m = sheet.given("f_m", rail.bending_gpa, "GPa", kit, "Allowable bending of a rail")
        W = sheet.given("W", rail.section_modulus_mm3, "mm3", kit, "Section modulus of a rail")
        l_r = sheet.given("l_r", rail.length_m, "m", kit, "Length of a rail")
        return sheet.work(rail_in_bending, f_m, W, sheet.work(_RAIL_MM, l_r))

    def _shears(self, sheet: Sheet) -> KiloNewton:
        kit, rail = self.kit, self.kit.rail
        f_v = sheet.given("f_v", rail.shear_gpa, "GPa", kit, "Allowable shear of a rail")
        A_v = sheet.given("A_v", rail.shear_area_mm2, "mm2", kit, "Shear area of a rail")
        return sheet.work(rail_in_shear, f_v, A_v)

    def _preloaded(self, size: StrutSize, high: Bar, sheet: Sheet) -> KiloNewton:
        """Load of which the pump gives the share wanted, and the pressure band keeps its width."""
        practice = self.tables.practice
        e = sheet.figure("e", practice.gauge_error, "What a good gauge may be out")
        p_n = sheet.work(lowest_high, high, e)
        p_ng = sheet.work(_LOWEST_GPA, p_n)
        A_p = sheet.given("A_p", size.bore_area_mm2, "mm2", self.kit, "Area of the bore of the ram")
        a_0 = sheet.figure("a_0", practice.preload_share, "Share of its load that a strut is pumped to")
        return sheet.work(load_of_preload, sheet.work(_RAM, p_ng, A_p), a_0)

    def _high(self, size: StrutSize, capacity: KiloNewton, sheet: Sheet) -> Bar:
        """Greatest pump pressure, in whole bar to the safe side: within strut and wall, with room to rise."""
        practice, A_p = self.tables.practice, size.bore_area_mm2
        sheet.part("Pump")
        wall = _on_gauge("w", "P_w", "what the ground bears of the pump", self.bearing.pump, A_p, sheet)
        R_c = sheet.least(
            "R_c",
            {"R_b": self.bearing.load, "R": capacity},
            "kN",
            "the lesser of these",
            "Load that ground and strut carry",
        )
        most = _on_gauge("c", "R_c", "that load", R_c, A_p, sheet)
        p_ram = sheet.given("p_ram", self.kit.ram_bar, "bar", self.kit, "Rated pressure of the ram")
        p_k = sheet.least(
            "p_k",
            {"p_c": most, "p_ram": p_ram},
            "bar",
            "the lesser of these",
            "Pressure that a gauge may come to",
        )
        e = sheet.figure("e", practice.gauge_error, "What a good gauge may be out")
        a_d = sheet.figure(
            "a_d", practice.gauge_drift, "Share by which a gauge may move before it means something"
        )
        room = sheet.work(room_for_gauge, p_k, e, a_d)
        soft = self.demand.ground.row.boards
        usual = practice.pressure_most_boarded if soft else practice.pressure_most
        p_u = sheet.figure("p_u", usual, "Pressure usually pumped to at most")
        p_rel = sheet.given(
            "p_rel", self.kit.relief_bar, "bar", self.kit, "Pressure at which the relief valve acts"
        )
        g = sheet.given("g", _BAR, "bar", "whole bar", "What a gauge is read to")
        return sheet.work(down_to_bar, sheet.work(most_on_gauge, p_u, p_rel, wall, room), g)


def capacity_at(size: StrutSize, needed: Metre, kit: Kit, tables: Tables, sheet: Sheet) -> KiloNewton:
    """The least of the stated safe working load at this length, the tube as a column and the ram."""
    tube = size.tube
    stated = sheet.given(
        "N_kit",
        size.stated_kn(needed),
        "kN",
        kit,
        f"Safe working load of strut {size.name} at this length, between its rows",
    )
    E_t = sheet.given("E_t", tube.modulus_gpa, "GPa", kit, "Modulus of the tube")
    I_t = sheet.given("I_t", tube.inertia_mm4, "mm4", kit, "Second moment of area of the tube")
    A_t = sheet.given("A_t", tube.area_mm2, "mm2", kit, "Area of the tube")
    σ_y = sheet.given("σ_y", tube.yield_gpa, "GPa", kit, "Yield stress of the tube")
    F_c = sheet.given("F_c", kit.column_factor, "", kit, "Factor of safety of the column")
    a_p = sheet.figure("a_p", tables.pressures.perry, "How crooked a column is, by its slenderness")
    L_mm = sheet.work(in_mm, needed)
    σ_E = sheet.work(euler_stress, E_t, I_t, A_t, L_mm)
    η = sheet.work(imperfection, a_p, L_mm, I_t, A_t)
    X = sheet.work(perry_mean, σ_y, η, σ_E)
    σ_c = sheet.work(perry_stress, X, σ_y, σ_E)
    column = sheet.work(column_capacity, σ_c, A_t, F_c)
    p_r = sheet.given("p_r", kit.held_bar, "bar", kit, "Pressure that the ram holds under load")
    p_rg = sheet.work(_HELD_GPA, p_r)
    A_p = sheet.given("A_p", size.bore_area_mm2, "mm2", kit, "Area of the bore of the ram")
    ram = sheet.work(held_by_ram, p_rg, A_p)
    return sheet.work(strut_capacity, stated, column, ram)


def _on_gauge(a: str, force: str, of: str, kn: KiloNewton, bore: float, sheet: Sheet) -> Bar:
    """What a gauge shows for a force; `a` is the letter that its symbols end in."""
    stress, shown = _gauge_of(a, force, of)
    return sheet.work(shown, sheet.work(stress, kn, bore))


@cache
def _gauge_of(
    a: str, force: str, of: str
) -> tuple[Formula[[KiloNewton, SquareMillimetre]], Formula[[GigaPascal]]]:
    stress = gauge_stress.named(symbol=f"p_{a}g", said=f"Fluid pressure of {of}", P=force)
    return stress, in_bar.named(symbol=f"p_{a}", said=f"Gauge pressure of {of}", p_g=f"p_{a}g")


def floor_bar(ground: Ground, kit: Kit, tables: Tables) -> tuple[Bar, Bar]:
    """The least pump pressure by practice and by the kit, whatever the load."""
    return tables.practice.pressure_least.si, kit.least_bar[ground.row.wall]


def loaded(
    found: Shores, h: Metre, p: KiloPascal, ground: Ground, kit: Kit, tables: Tables, sheet: Sheet
) -> tuple[KiloNewton, Bar]:
    """The load of a strut that carries `h` of the face, and the least it is pumped to, in whole bar."""
    practice = tables.practice
    load = sheet.work(strut_load, p, found.spacing, h)
    a_0 = sheet.figure("a_0", practice.preload_share, "Share of its load that a strut is pumped to")
    force = sheet.work(preload, a_0, load)
    p_0 = _on_gauge("0", "P_0", "that force", force, found.combination.size.bore_area_mm2, sheet)
    p_min = sheet.figure("p_min", practice.pressure_least, "Pressure usually pumped to at least")
    least = kit.least_bar[ground.row.wall]
    p_kit = sheet.given("p_kit", least, "bar", kit, f"Least pump pressure in {ground.row.wall} ground")
    g = sheet.given("g", _BAR, "bar", "whole bar", "What a gauge is read to")
    return load, sheet.work(up_to_bar, sheet.work(least_on_gauge, p_min, p_kit, p_0), g)


def spacing_row(soil_type: SoilType, depth: Metre, book: RulebookTable) -> Figure:
    """The greatest spacing by soil type and depth. Raises KeyError for a type without rows."""
    rows = book.spacing[soil_type]
    return next((row for row in rows if depth <= row.depth.si + _NOISE), rows[-1]).spacing


def _none_fits(demand: Demand, kit: Kit, boards: bool) -> NoShores:
    board = kit.board.thickness_m if boards else 0.0
    least = min(c.least_m for c in kit.combinations) + 2 * (kit.rail.thickness_m + board)
    greatest = max(c.greatest_m for c in kit.combinations) + 2 * kit.rail.thickness_m
    numbers = {
        "width": Amount(demand.width, "m"),
        "least": Amount(least, "m", "lower"),
        "greatest": Amount(greatest, "m", "upper"),
    }
    return NoShores("no-strut-fits", numbers)
