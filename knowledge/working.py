"""One trench worked through: levels, pressure, base, shores. The same road for an answer and its limits."""

from dataclasses import dataclass

from knowledge.figures import RulebookTable
from knowledge.ground import Ground
from knowledge.kit import Kit
from knowledge.layout import KeepOut
from knowledge.levels import Limits, NoPlan, Plan, final_bound, heights, heights_bound, limits, plan
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
    site = _Site(case, depth, width, ground, bounds, pressure)
    found, steps = _shored(site, planned, type(sheet))
    if isinstance(found, NoShores) and found.rule == "ground-gives-way":
        # Where the ground does not bear what a rail brings, another level brings less.
        more = plan(depth, bounds, len(planned.depths) + 1)
        if isinstance(more, Plan):
            again, others = _shored(site, more, type(sheet))
            if isinstance(again, Shores):
                planned, found, steps = more, again, others
    sheet.take(steps)
    if isinstance(found, NoShores):
        return Refused(found.rule, found.numbers)
    return Worked(depth, width, ground, bounds, planned, pressure, found)


@dataclass(frozen=True, slots=True)
class _Site:
    """A trench before its levels are chosen."""

    case: Case
    depth: Metre
    width: Metre
    ground: Ground
    limits: Limits
    pressure: Pressure


def _shored(site: _Site, planned: Plan, kept: type[Sheet]) -> tuple[Shores | NoShores, Sheet]:
    """The shores for one set of levels, with their steps."""
    sheet = kept()
    demand = _demand(site, planned, sheet)
    return shores(demand, site.case.kit, site.case.book, site.case.tables, sheet), sheet


def _stands(case: Case, ground: Ground, sheet: Sheet) -> Metre:
    """How high a bare face may be left by theory, also where it was only reported to stand."""
    rows = case.tables.pressures
    load = surface_load(case.details, case.tables)
    return sheet.work(
        standing_height, rows.crack_factor.si, ground.standing, load, ground.weight, rows.stand_factor.si
    )


def _demand(site: _Site, planned: Plan, sheet: Sheet) -> Demand:
    each = heights(planned.depths, site.depth, sheet)
    height, carried, first, on_first = max(each), planned.carried, planned.depths[0], each[0]
    if site.case.keep_outs:
        # Round services a level may end up anywhere in its window.
        first = planned.windows[0].top
        height = on_first = final_bound(planned.windows, site.depth)
        carried = max(carried, heights_bound(planned.windows, site.depth, site.limits))
        sheet.given("h", height, "m", "tributary area, levels anywhere in their windows")
    sheet.given("h_t", carried, "m", "the most that a level carries at any stage of the dig")
    top = (first + site.limits.rail / 2, on_first)
    return Demand(site.width, site.depth, site.pressure.kpa, height, carried, top, site.ground)


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
