"""One trench worked through: levels, pressure, base, shores. The same road for an answer and its limits."""

from dataclasses import dataclass

from knowledge.figures import RulebookTable
from knowledge.ground import Ground
from knowledge.kit import Kit
from knowledge.layout import KeepOut
from knowledge.levels import Limits, NoPlan, Plan, heights, heights_bound, limits, plan
from knowledge.outcome import Rulebook
from knowledge.pressure import (
    Pressure,
    base_bearing,
    base_safety,
    design_pressure,
    standing_height,
    surface_load,
)
from knowledge.reading import Details
from knowledge.sheet import Sheet
from knowledge.shores import Demand, NoShores, Shores, shores
from knowledge.tables import Tables
from knowledge.units import Amount, Metre


@dataclass(frozen=True, slots=True)
class Case:
    """What an answer is worked from, besides depth, width and ground."""

    details: Details
    tables: Tables
    rulebook: Rulebook
    kit: Kit
    keep_outs: tuple[KeepOut, ...]

    @property
    def book(self) -> RulebookTable:
        return self.tables.rulebook(self.rulebook)


@dataclass(frozen=True, slots=True)
class Worked:
    """A trench that the kit holds."""

    depth: Metre
    width: Metre
    ground: Ground
    limits: Limits
    plan: Plan
    pressure: Pressure
    shores: Shores


@dataclass(frozen=True, slots=True)
class Refused:
    """A trench that it does not hold: the refusal, and the figures of its sentence."""

    rule: str
    numbers: dict[str, Amount]


def work(case: Case, depth: Metre, width: Metre, ground: Ground, sheet: Sheet) -> Worked | Refused:
    """A trench of this depth and width in this ground. Every step leaves its line on the sheet."""
    bounds = limits(
        case.kit,
        case.book,
        case.tables.practice,
        ground.row.bites,
        _stands(case, ground, sheet),
        case.details.pavement_m or 0.0,
    )
    planned = plan(depth, bounds)
    if isinstance(planned, NoPlan):
        return Refused(planned.rule, {name: Amount(value, "m") for name, value in planned.numbers.items()})
    pressure = design_pressure(ground, depth, case.details, case.tables, case.book, sheet)
    if refused := _heaves(case, depth, width, ground, sheet):
        return refused
    demand = _demand(case, depth, width, ground, bounds, planned, pressure, sheet)
    found = shores(demand, case.kit, case.book, case.tables, sheet)
    if isinstance(found, NoShores):
        return Refused(found.rule, found.numbers)
    return Worked(depth, width, ground, bounds, planned, pressure, found)


def _stands(case: Case, ground: Ground, sheet: Sheet) -> Metre:
    """How high a bare face may be left by theory, also where it was only reported to stand."""
    rows = case.tables.pressures
    load = surface_load(case.details, case.tables)
    return sheet.work(
        standing_height, rows.crack_factor.si, ground.standing, load, ground.weight, rows.stand_factor.si
    )


def _demand(
    case: Case,
    depth: Metre,
    width: Metre,
    ground: Ground,
    bounds: Limits,
    planned: Plan,
    pressure: Pressure,
    sheet: Sheet,
) -> Demand:
    height, carried = max(heights(planned.depths, depth, sheet)), planned.carried
    if case.keep_outs:
        # Round services a level may end up anywhere in its window.
        height = carried = max(carried, heights_bound(planned.windows, depth, bounds))
        sheet.given("h", height, "m", "tributary area, levels anywhere in their windows")
    sheet.given("h_t", carried, "m", "the most that a level carries at any stage of the dig")
    return Demand(width, depth, pressure.kpa, height, carried, ground)


def _heaves(case: Case, depth: Metre, width: Metre, ground: Ground, sheet: Sheet) -> Refused | None:
    """Base heave, where the ground was described: a type named for a table does not tell its strength."""
    if case.book.by_table and ground.row.kind is None:
        return None
    rows = case.tables.pressures
    n_c = base_bearing(depth, width, case.details.length_m, rows, sheet)
    load = surface_load(case.details, case.tables)
    safety = sheet.work(base_safety, n_c, ground.standing, ground.weight, depth, load)
    if safety >= rows.base_factor.si:
        return None
    return Refused(
        "base-heave", {"factor": Amount(safety, "", "upper"), "wanted": Amount(rows.base_factor.si)}
    )
