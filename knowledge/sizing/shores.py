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
    held_by_ram,
    imperfection,
    in_bar,
    least_on_gauge,
    most_on_gauge,
    perry_mean,
    perry_stress,
    rail_in_bending,
    rail_in_shear,
    rail_moment,
    room_for_gauge,
    spacing_borne,
    spacing_for,
    strut_capacity,
    strut_load,
)
from knowledge.sourced import Figure
from knowledge.tables.kit import Combination, Kit, StrutSize
from knowledge.tables.load import Tables
from knowledge.tables.sizing_figures import RulebookTable
from knowledge.tables.supplier import SupplierRow
from knowledge.units import Amount, Bar, KiloNewton, KiloPascal, Metre, round_down, round_up

_NOISE = 1e-9
_BAR_PER_GPA = 10_000.0


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


@dataclass(frozen=True, slots=True)
class Shores:
    """The strut chosen and what it is set to: `spacing` centre to centre, `band` in whole bar.

    `own`: the spacing by our own working, before the supplier's table.
    """

    combination: Combination
    needed: Metre
    spacing: Metre
    own: Metre
    capacity: KiloNewton
    bearing: Bearing
    high: Bar


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
    needed = sheet.work(
        face_to_face, demand.width, kit.rail.thickness_m, kit.board.thickness_m if bearing.boards else 0.0
    )
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
    best, steps = _lightest(fitting, _Job(demand, needed, wanted, bearing, kit, tables), type(sheet))
    sheet.take(steps)
    return best


def _wanted(
    demand: Demand, kit: Kit, book: RulebookTable, tables: Tables, sheet: Sheet
) -> tuple[Bearing, Metre]:
    """What bears behind a rail, and the greatest spacing by rulebook, arching and bearing.

    Where bare rails would have to stand too close for the ground behind them, boards go behind.
    """
    practice, boarded = tables.practice, demand.ground.row.boards
    rule = spacing_row(demand.ground.soil_type, demand.depth, book)
    arching = practice.arching[demand.ground.row.wall]
    most = [
        sheet.given("s_rule", rule.si, "m", tables.source(rule), "Spacing allowed by soil type and depth"),
        sheet.given(
            "s_arch", arching.si, "m", tables.source(arching), "Spacing over which the ground arches"
        ),
    ]
    if not boarded:
        bare = behind_a_rail(demand.ground, kit, False, tables, sheet)
        borne = spacing_on_ground(demand, bare, tables, sheet)
        if round_down(borne, practice.spacing_step.si) >= practice.spacing_boarded.si - _NOISE:
            return bare, stepped(min(*most, borne), tables)
        most.append(
            sheet.given(
                "s_boards",
                practice.spacing_boarded.si,
                "m",
                tables.source(practice.spacing_boarded),
                "Spacing allowed where boards go behind rails",
            )
        )
    bearing = behind_a_rail(demand.ground, kit, True, tables, sheet)
    return bearing, stepped(min(*most, spacing_on_ground(demand, bearing, tables, sheet)), tables)


def stepped(spacing: Metre, tables: Tables) -> Metre:
    """A spacing as it is given out: down to the step."""
    return round(round_down(spacing, tables.practice.spacing_step.si), 4)


def spacing_on_ground(demand: Demand, bearing: Bearing, tables: Tables, sheet: Sheet) -> Metre:
    """The greatest spacing at which the ground bears every rail, at full depth and at each stage."""
    off, rows = tables.practice.setting_tolerance.si, tables.pressures
    foot, height = demand.top
    by_top = behind_the_top_rail(bearing, demand.ground, foot - off, tables, sheet)
    spacings = [
        sheet.work(spacing_borne, bearing.load, demand.pressure, demand.height + off),
        sheet.work(spacing_borne, by_top, demand.pressure, height + off),
    ]
    if demand.staged:
        more = bearing.load * rows.load_factor.si / rows.stage_factor.si
        at_stage = sheet.given(
            "R_t",
            more,
            "kN",
            f"R_b, {tables.source(rows.stage_factor)}",
            "Load that the ground bears at a stage",
        )
        spacings.append(sheet.work(spacing_borne, at_stage, demand.pressure, demand.staged + off))
    return min(spacings)


def _lightest(fitting: list[Combination], job: "_Job", kept: type[Sheet]) -> tuple[Shores | NoShores, Sheet]:
    """The lightest strut at the spacing wanted, else the one that allows most; with its steps."""
    found: list[tuple[Shores | NoShores, Sheet]] = []
    for combination in fitting:
        steps = kept()
        tried = job.set(combination, steps)
        if isinstance(tried, Shores) and tried.own >= job.wanted - _NOISE:
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

    def set(self, combination: Combination, sheet: Sheet) -> Shores | NoShores:
        """The spacing and the most that is pumped to, of one strut."""
        size = combination.size
        capacity = self._capacity(size, sheet)
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
        return Shores(combination, self.needed, spacing, own, capacity, self.bearing, high)

    @property
    def _narrowest(self) -> Bar:
        """A band narrower than what two gauges may differ by cannot be pumped to."""
        return 2 * self.tables.practice.gauge_error.si

    def _spacing(self, size: StrutSize, capacity: KiloNewton, high: Bar, sheet: Sheet) -> Metre:
        """The spacing that strut, rail and preload allow, no more than is wanted."""
        rail, practice = self.kit.rail, self.tables.practice
        bends = sheet.work(rail_in_bending, rail.bending_gpa, rail.section_modulus_mm3, rail.length_m * 1000)
        shears = sheet.work(rail_in_shear, rail.shear_gpa, rail.shear_area_mm2)
        # The preload that is the wanted share of the load must leave the pressure band its width.
        preload = sheet.work(gauge_force, (high - self._narrowest) / _BAR_PER_GPA, size.bore_area_mm2)
        most = min(capacity, bends, shears, preload / practice.preload_share.si)
        height = max(self.demand.height, self.demand.staged) + practice.setting_tolerance.si
        allowed = sheet.work(spacing_for, most, self.demand.pressure, height)
        return stepped(min(allowed, self.wanted), self.tables)

    def _capacity(self, size: StrutSize, sheet: Sheet) -> KiloNewton:
        """The least of the stated safe working load at this length, the tube as a column and the ram."""
        stated = sheet.given(
            "N_kit",
            size.stated_kn(self.needed),
            "kN",
            self.tables.source(self.kit),
            "Safe working load stated at this length",
        )
        tube, L = size.tube, self.needed * 1000
        σ_E = sheet.work(euler_stress, tube.modulus_gpa, tube.inertia_mm4, tube.area_mm2, L)
        η = sheet.work(imperfection, self.tables.pressures.perry.si, L, tube.inertia_mm4, tube.area_mm2)
        X = sheet.work(perry_mean, tube.yield_gpa, η, σ_E)
        σ_c = sheet.work(perry_stress, X, tube.yield_gpa, σ_E)
        column = sheet.work(column_capacity, σ_c, tube.area_mm2, self.kit.column_factor)
        ram = sheet.work(held_by_ram, self.kit.held_bar / _BAR_PER_GPA, size.bore_area_mm2)
        return sheet.work(strut_capacity, stated, column, ram)

    def _high(self, size: StrutSize, capacity: KiloNewton, sheet: Sheet) -> Bar:
        """Greatest pump pressure, in whole bar to the safe side: within strut and wall, with room to rise."""
        practice = self.tables.practice
        wall = sheet.work(in_bar, sheet.work(gauge_stress, self.bearing.pump, size.bore_area_mm2))
        carries = min(self.bearing.load, capacity)
        most = sheet.work(in_bar, sheet.work(gauge_stress, carries, size.bore_area_mm2))
        error, drift = practice.gauge_error.si, practice.gauge_drift.si
        room = sheet.work(room_for_gauge, min(most, self.kit.ram_bar), error, drift)
        soft = self.demand.ground.row.boards
        usual = (practice.pressure_most_boarded if soft else practice.pressure_most).si
        return round_down(sheet.work(most_on_gauge, usual, self.kit.relief_bar, wall, room), 1.0)


def floor_bar(ground: Ground, kit: Kit, tables: Tables) -> tuple[Bar, Bar]:
    """The least pump pressure by practice and by the kit, whatever the load."""
    return tables.practice.pressure_least.si, kit.least_bar[ground.row.wall]


def loaded(
    found: Shores, h: Metre, p: KiloPascal, ground: Ground, kit: Kit, tables: Tables, sheet: Sheet
) -> tuple[KiloNewton, Bar]:
    """The load of a strut that carries `h` of the face, and the least it is pumped to, in whole bar."""
    load = sheet.work(strut_load, p, found.spacing, h)
    sheet.work(rail_moment, load, kit.rail.length_m)
    preload = tables.practice.preload_share.si * load
    share = sheet.work(in_bar, sheet.work(gauge_stress, preload, found.combination.size.bore_area_mm2))
    return load, round_up(sheet.work(least_on_gauge, *floor_bar(ground, kit, tables), share), 1.0)


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
