"""Strut and extensions, rail, pump pressure and spacing: what the units must be and how far apart."""

from dataclasses import dataclass
from math import pi, sqrt

from knowledge.bearing import Bearing, behind_a_rail, behind_the_top_rail
from knowledge.figures import CylinderRow, RulebookTable
from knowledge.ground import Ground
from knowledge.kit import Combination, Kit, StrutSize
from knowledge.reading import SoilType
from knowledge.sheet import Sheet, formula
from knowledge.sourced import Figure
from knowledge.tables import Tables
from knowledge.units import (
    Amount,
    Bar,
    CubicMillimetre,
    GigaPascal,
    KiloNewton,
    KiloNewtonMetre,
    KiloPascal,
    Metre,
    Millimetre,
    Millimetre4,
    Ratio,
    SquareMillimetre,
    round_down,
    round_up,
)

_NOISE = 1e-9
_BAR_PER_GPA = 10_000.0


@formula(symbol="L", source="strut between the rails of both faces")
def face_to_face(B: Metre, t_r: Metre, t_b: Metre) -> Metre:
    """What the strut must span in a trench `B` wide, with rail and board on each face."""
    return B - 2 * (t_r + t_b)


@formula(symbol="N", source="tributary area (not the hinge method): pressure by spacing by height")
def strut_load(p: KiloPascal, s: Metre, h: Metre) -> KiloNewton:
    """Load of one strut."""
    return p * s * h


@formula(symbol="s_max", source="tributary area, turned round")
def spacing_for(R: KiloNewton, p: KiloPascal, h_t: Metre) -> Metre:
    """The spacing at which a strut that carries `h_t` of the face comes to `R`."""
    return R / (p * h_t)


@formula(symbol="s_b", source="tributary area, turned round: what the ground bears behind one rail")
def spacing_borne(R_b: KiloNewton, p: KiloPascal, h: Metre) -> Metre:
    """The spacing at which a rail that carries `h` of the face comes to what the ground bears behind it."""
    return R_b / (p * h)


@formula(symbol="σ_E", source="Euler")
def euler_stress(E: GigaPascal, I: Millimetre4, A: SquareMillimetre, L: Millimetre) -> GigaPascal:  # noqa: E741
    """Stress at which a pinned column buckles."""
    return pi**2 * E * I / (A * L**2)


@formula(symbol="η", source="Perry-Robertson: 0.003 L/k")
def imperfection(a: Ratio, L: Millimetre, I: Millimetre4, A: SquareMillimetre) -> Ratio:  # noqa: E741
    """How far from straight the column is taken to be."""
    return a * L / sqrt(I / A)


@formula(symbol="X", source="Perry-Robertson")
def perry_mean(σ_y: GigaPascal, η: Ratio, σ_E: GigaPascal) -> GigaPascal:
    """Half of yield stress and enlarged Euler stress."""
    return (σ_y + (1 + η) * σ_E) / 2


@formula(symbol="σ_c", source="Perry-Robertson")
def perry_stress(X: GigaPascal, σ_y: GigaPascal, σ_E: GigaPascal) -> GigaPascal:
    """Stress at which the bent column first yields."""
    return X - sqrt(X**2 - σ_y * σ_E)


@formula(symbol="N_bRd", source="Perry-Robertson over a factor of safety")
def column_capacity(σ_c: GigaPascal, A: SquareMillimetre, F_c: Ratio) -> KiloNewton:
    """What the tube carries as a column, before it buckles."""
    return σ_c * A / F_c


@formula(symbol="R", source="the lesser of data sheet and column")
def strut_capacity(N_kit: KiloNewton, N_bRd: KiloNewton) -> KiloNewton:
    """What the strut may carry."""
    return min(N_kit, N_bRd)


@formula(symbol="N_m", source="rail as cantilevers either side of the strut, w l^2 / 2 with l half the rail")
def rail_in_bending(f: GigaPascal, W: CubicMillimetre, l_r: Millimetre) -> KiloNewton:
    """Strut load at which the rail bends to its allowable stress, the load spread along it."""
    return 8 * f * W / l_r


@formula(symbol="N_v", source="rail: half of the strut load to each side")
def rail_in_shear(f_v: GigaPascal, A_v: SquareMillimetre) -> KiloNewton:
    """Strut load at which the rail reaches its allowable shear."""
    return 2 * f_v * A_v


@formula(symbol="M", source="w l^2 / 2 with w = N / rail and l half the rail")
def rail_moment(N: KiloNewton, l_r: Metre) -> KiloNewtonMetre:
    """Greatest moment in the rail."""
    return N * l_r / 8


@formula(symbol="p_g", source="force by pressure on the full bore")
def gauge_stress(P: KiloNewton, A: SquareMillimetre) -> GigaPascal:
    """Fluid pressure that gives the force `P`."""
    return P / A


@formula(symbol="P_g", source="force by pressure on the full bore")
def gauge_force(p_g: GigaPascal, A: SquareMillimetre) -> KiloNewton:
    """Force of the ram at a fluid pressure."""
    return p_g * A


@formula(symbol="p_b", source="1 GPa = 10 000 bar")
def in_bar(p_g: GigaPascal) -> Bar:
    """A fluid pressure as the gauge shows it."""
    return 10_000 * p_g


@formula(
    symbol="p_low", source="common practice, kit, and a share of the design load; rounded up on the gauge"
)
def least_on_gauge(p_practice: Bar, p_kit: Bar, p_share: Bar) -> Bar:
    """The least that the strut is pumped to."""
    return max(p_practice, p_kit, p_share)


@formula(symbol="p_high", source="common practice, relief valve, strut and wall; rounded down on the gauge")
def most_on_gauge(p_practice: Bar, p_relief: Bar, p_wall: Bar) -> Bar:
    """The most that the strut is pumped to."""
    return min(p_practice, p_relief, p_wall)


@dataclass(frozen=True, slots=True)
class Demand:
    """What the shores must take.

    `height` is the most that one level carries at full depth, `carried` the most at any time, and `top` holds
    the depth of the foot of the top rail and what that level carries. The ground behind a rail is held to the
    full depth: while the dig stops for a level nobody is below, and the ground not yet dug carries the lower
    half of the bite, so that a factor of 1.2 or more is left then.
    """

    width: Metre
    depth: Metre
    pressure: KiloPascal
    height: Metre
    carried: Metre
    top: tuple[Metre, Metre]
    ground: Ground


@dataclass(frozen=True, slots=True)
class Shores:
    """The strut chosen and what it is set to: `spacing` centre to centre, `band` in whole bar."""

    combination: Combination
    needed: Metre
    spacing: Metre
    capacity: KiloNewton
    load: KiloNewton
    bearing: Bearing
    band: tuple[Bar, Bar]
    cylinder: CylinderRow | None


@dataclass(frozen=True, slots=True)
class NoShores:
    """No lawful units: which refusal, and the figures of its sentence."""

    rule: str
    numbers: dict[str, Amount]


def shores(demand: Demand, kit: Kit, book: RulebookTable, tables: Tables, sheet: Sheet) -> Shores | NoShores:
    """The lightest strut that fits and allows the spacing wanted, else the one that allows most."""
    cylinder = _cylinder(demand, kit, book)
    if isinstance(cylinder, NoShores):
        return cylinder
    needed = sheet.work(face_to_face, demand.width, kit.rail.thickness_m, _board(demand, kit))
    fitting = [c for c in kit.combinations if c.least_m - _NOISE <= needed <= c.greatest_m + _NOISE]
    if cylinder:
        fitting = [c for c in fitting if _meets(c.size, kit, cylinder)]
    reach = kit.reach_m
    # Boards only ever make the strut shorter: a trench too wide without them stays too wide with them.
    if not fitting or demand.width - 2 * kit.rail.thickness_m > reach + _NOISE:
        return _none_fits(demand, kit)
    bearing = behind_a_rail(demand.ground, kit, tables, sheet)
    wanted = _wanted(demand, bearing, book, tables, sheet)
    least = tables.practice.spacing_least.si
    if wanted < least - _NOISE:
        pressure = Amount(demand.pressure, "kPa")
        return NoShores("ground-gives-way", {"pressure": pressure, "least": Amount(least, "m")})
    job = _Job(demand, needed, wanted, bearing, kit, book, tables, cylinder)
    best, steps = _lightest(fitting, job, type(sheet))
    sheet.take(steps)
    return best


def _wanted(demand: Demand, bearing: Bearing, book: RulebookTable, tables: Tables, sheet: Sheet) -> Metre:
    """The greatest spacing by the rulebook and, where no table sets it, by arching and bearing."""
    rule = spacing_row(demand.ground.soil_type, demand.depth, book)
    wanted = sheet.given("s_rule", rule.si, "m", tables.source(rule))
    if book.by_table:
        return wanted
    practice = tables.practice
    arching = practice.arching[demand.ground.row.wall]
    arches = sheet.given("s_arch", arching.si, "m", tables.source(arching))
    borne = spacing_on_ground(demand, bearing, tables, sheet)
    return round(round_down(min(wanted, arches, borne), practice.spacing_step.si), 4)


def spacing_on_ground(demand: Demand, bearing: Bearing, tables: Tables, sheet: Sheet) -> Metre:
    """The greatest spacing at which the ground bears every rail, the top one and those below."""
    off = tables.practice.setting_tolerance.si
    foot, height = demand.top
    by_top = behind_the_top_rail(bearing, demand.ground, foot - off, tables, sheet)
    return min(
        sheet.work(spacing_borne, bearing.load, demand.pressure, demand.height + off),
        sheet.work(spacing_borne, by_top, demand.pressure, height + off),
    )


def _lightest(fitting: list[Combination], job: "_Job", kept: type[Sheet]) -> tuple[Shores | NoShores, Sheet]:
    """The lightest strut at the spacing wanted, else the one that allows most; with its steps."""
    found: list[tuple[Shores | NoShores, Sheet]] = []
    for combination in fitting:
        steps = kept()
        tried = job.set(combination, steps)
        if isinstance(tried, Shores) and tried.spacing >= job.wanted - _NOISE:
            return tried, steps
        found.append((tried, steps))
    return max(found, key=lambda f: f[0].spacing if isinstance(f[0], Shores) else -1.0)


@dataclass(frozen=True, slots=True)
class _Job:
    """One trench's demand on one kit: sets each strut in turn."""

    demand: Demand
    needed: Metre
    wanted: Metre
    bearing: Bearing
    kit: Kit
    book: RulebookTable
    tables: Tables
    cylinder: CylinderRow | None

    def set(self, combination: Combination, sheet: Sheet) -> Shores | NoShores:
        """The spacing, load and pump pressure of one strut."""
        size = combination.size
        capacity = self._capacity(size, sheet)
        high = self._high(size, min(capacity, self.bearing.pump), sheet)
        least = round_up(max(self._floor()), 1.0)
        if high - least < self.tables.practice.band_least.si - _NOISE:
            figures = {"low": Amount(least, "bar", "lower"), "high": Amount(high, "bar", "upper")}
            return NoShores("band-empty", figures)
        spacing = self.wanted if self.book.by_table else self._spacing(size, capacity, high, sheet)
        closest = self.tables.practice.spacing_least.si
        if spacing < closest - _NOISE:
            pressure = Amount(self.demand.pressure, "kPa")
            return NoShores("strut-overloaded", {"pressure": pressure, "least": Amount(closest, "m")})
        load = sheet.work(strut_load, self.demand.pressure, spacing, self.demand.height)
        low = self._low(size, 0.0 if self.book.by_table else load, sheet)
        sheet.work(rail_moment, load, self.kit.rail.length_m)
        band = (low, high)
        return Shores(combination, self.needed, spacing, capacity, load, self.bearing, band, self.cylinder)

    def _spacing(self, size: StrutSize, capacity: KiloNewton, high: Bar, sheet: Sheet) -> Metre:
        """The spacing that strut, rail and preload allow, no more than is wanted."""
        rail, practice = self.kit.rail, self.tables.practice
        bends = sheet.work(rail_in_bending, rail.bending_gpa, rail.section_modulus_mm3, rail.length_m * 1000)
        shears = sheet.work(rail_in_shear, rail.shear_gpa, rail.shear_area_mm2)
        # The preload that is the wanted share of the load must leave the pressure band its width.
        preload = sheet.work(gauge_force, (high - practice.band_least.si) / _BAR_PER_GPA, size.bore_area_mm2)
        most = min(capacity, bends, shears, preload / practice.preload_share.si)
        height = self.demand.carried + practice.setting_tolerance.si
        allowed = sheet.work(spacing_for, most, self.demand.pressure, height)
        return round(round_down(min(allowed, self.wanted), practice.spacing_step.si), 4)

    def _capacity(self, size: StrutSize, sheet: Sheet) -> KiloNewton:
        """The lesser of the stated safe working load at this length and the tube as a column."""
        stated = sheet.given("N_kit", size.stated_kn(self.needed), "kN", self.tables.source(self.kit))
        tube, L = size.tube, self.needed * 1000
        σ_E = sheet.work(euler_stress, tube.modulus_gpa, tube.inertia_mm4, tube.area_mm2, L)
        η = sheet.work(imperfection, self.tables.pressures.perry.si, L, tube.inertia_mm4, tube.area_mm2)
        X = sheet.work(perry_mean, tube.yield_gpa, η, σ_E)
        σ_c = sheet.work(perry_stress, X, tube.yield_gpa, σ_E)
        column = sheet.work(column_capacity, σ_c, tube.area_mm2, self.kit.column_factor)
        return sheet.work(strut_capacity, stated, column)

    def _high(self, size: StrutSize, borne: KiloNewton, sheet: Sheet) -> Bar:
        """Greatest pump pressure, in whole bar to the safe side. `borne`: by strut and wall."""
        wall = sheet.work(in_bar, sheet.work(gauge_stress, borne, size.bore_area_mm2))
        practice = self.tables.practice.pressure_most.si
        return round_down(sheet.work(most_on_gauge, practice, self.kit.relief_bar, wall), 1.0)

    def _low(self, size: StrutSize, load: KiloNewton, sheet: Sheet) -> Bar:
        """Least pump pressure, in whole bar to the safe side."""
        preload = self.tables.practice.preload_share.si * load
        share = sheet.work(in_bar, sheet.work(gauge_stress, preload, size.bore_area_mm2))
        return round_up(sheet.work(least_on_gauge, *self._floor(), share), 1.0)

    def _floor(self) -> tuple[Bar, Bar]:
        """The least pump pressure by practice and by the kit, whatever the load."""
        return self.tables.practice.pressure_least.si, self.kit.least_bar[self.demand.ground.row.wall]


def spacing_row(soil_type: SoilType, depth: Metre, book: RulebookTable) -> Figure:
    """The greatest spacing by soil type and depth. Raises KeyError for a type without rows."""
    rows = book.spacing[soil_type]
    return next((row for row in rows if depth <= row.depth.si + _NOISE), rows[-1]).spacing


def kit_meets_tables(kit: Kit, book: RulebookTable) -> bool:
    """Whether a kit's rails and cylinders meet the minima of a rulebook's tables."""
    if book.rail_modulus and kit.rail.section_modulus_mm3 < book.rail_modulus.si:
        return False
    return all(any(_meets(size, kit, row) for size in kit.strut) for row in book.cylinders[:1])


def _cylinder(demand: Demand, kit: Kit, book: RulebookTable) -> CylinderRow | NoShores | None:
    """The cylinder that the rulebook's table wants at this width; None where the rulebook has no table."""
    if not book.cylinders:
        return None
    row = next((row for row in book.cylinders if demand.width <= row.width.si + _NOISE), None)
    if row is None:
        widest = Amount(book.cylinders[-1].width.si, "m", "upper")
        return NoShores("wider-than-tables", {"width": Amount(demand.width, "m"), "greatest": widest})
    if not any(_meets(size, kit, row) for size in kit.strut):
        return NoShores("kit-below-minima", {})
    return row


def _meets(size: StrutSize, kit: Kit, row: CylinderRow) -> bool:
    """Whether a strut's bore and stated load at full extension meet the table's minima."""
    return size.bore_mm / 1000 >= row.bore.si - _NOISE and kit.at_full_extension[size.name] >= row.load.si


def _none_fits(demand: Demand, kit: Kit) -> NoShores:
    least = min(c.least_m for c in kit.combinations) + 2 * (kit.rail.thickness_m + _board(demand, kit))
    greatest = max(c.greatest_m for c in kit.combinations) + 2 * kit.rail.thickness_m
    numbers = {
        "width": Amount(demand.width, "m"),
        "least": Amount(least, "m", "lower"),
        "greatest": Amount(greatest, "m", "upper"),
    }
    return NoShores("no-strut-fits", numbers)


def _board(demand: Demand, kit: Kit) -> Metre:
    return kit.board.thickness_m if demand.ground.row.boards else 0.0
