"""Strut and extensions, rail, pump pressure and spacing: what the units must be and how far apart."""

from dataclasses import dataclass

from knowledge.reading import SoilType
from knowledge.sheet import Sheet
from knowledge.sizing.bearing import Bearing, behind_a_rail, behind_the_top_rail
from knowledge.sizing.ground import Ground
from knowledge.sizing.strut import (
    column_capacity,
    euler_stress,
    face_to_face,
    gauge_force,
    gauge_stress,
    imperfection,
    in_bar,
    least_on_gauge,
    most_on_gauge,
    perry_mean,
    perry_stress,
    rail_in_bending,
    rail_in_shear,
    rail_moment,
    spacing_borne,
    spacing_for,
    strut_capacity,
    strut_load,
)
from knowledge.sourced import Figure
from knowledge.tables.kit import Combination, Kit, StrutSize
from knowledge.tables.load import Tables
from knowledge.tables.sizing_figures import CylinderRow, RulebookTable
from knowledge.units import Amount, Bar, KiloNewton, KiloPascal, Metre, round_down, round_up

_NOISE = 1e-9
_BAR_PER_GPA = 10_000.0


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
