"""One trench worked through: levels, pressure, base, shores. The same road for an answer and its limits."""

from dataclasses import dataclass

from knowledge.reading import Details
from knowledge.sheet import Sheet
from knowledge.sizing.ground import Ground
from knowledge.sizing.layout import KeepOut
from knowledge.sizing.levels import Limits, NoPlan, Plan, final_bound, heights, heights_bound, limits, plan
from knowledge.sizing.pressure import (
    Pressure,
    base_bearing,
    base_safety,
    design_pressure,
    standing_height,
    surface_load,
)
from knowledge.sizing.shores import Demand, NoShores, Shores, shores
from knowledge.sourced import Rulebook
from knowledge.tables.kit import Kit
from knowledge.tables.load import Tables
from knowledge.tables.sizing_figures import RulebookTable
from knowledge.units import Amount, Metre


@dataclass(frozen=True, slots=True)
class Terms:
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
class WorkedFace:
    """A face of one depth in one ground, whatever the width: its fewest levels, and what presses on it."""

    case: Terms
    depth: Metre
    ground: Ground
    limits: Limits
    plan: Plan
    pressure: Pressure


@dataclass(frozen=True, slots=True)
class WorkedTrench:
    """A trench that the kit holds. `plan` has a level more than the face wants where the ground needs it."""

    face: WorkedFace
    width: Metre
    plan: Plan
    shores: Shores

    @property
    def depth(self) -> Metre:
        return self.face.depth

    @property
    def ground(self) -> Ground:
        return self.face.ground

    @property
    def limits(self) -> Limits:
        return self.face.limits

    @property
    def pressure(self) -> Pressure:
        return self.face.pressure


@dataclass(frozen=True, slots=True)
class NotHeld:
    """A trench that it does not hold: the refusal, and the figures of its sentence."""

    rule: str
    numbers: dict[str, Amount]


def work(case: Terms, depth: Metre, width: Metre, ground: Ground, sheet: Sheet) -> WorkedTrench | NotHeld:
    """A trench of this depth and width in this ground. Every step leaves its line on the sheet."""
    found = face(case, depth, ground, sheet)
    return found if isinstance(found, NotHeld) else across(found, width, sheet)


def face(case: Terms, depth: Metre, ground: Ground, sheet: Sheet) -> WorkedFace | NotHeld:
    """What does not hang on the width: levels and pressure."""
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
        return NotHeld(planned.rule, {name: Amount(value, "m") for name, value in planned.numbers.items()})
    pressure = design_pressure(ground, depth, case.details, case.tables, case.book, sheet)
    return WorkedFace(case, depth, ground, bounds, planned, pressure)


def across(face: WorkedFace, width: Metre, sheet: Sheet) -> WorkedTrench | NotHeld:
    """What does: the base between the faces, and the shores."""
    if refused := _heaves(face, width, sheet):
        return refused
    planned = face.plan
    found, steps = _shored(face, width, planned, type(sheet))
    if isinstance(found, NoShores) and found.rule == "ground-gives-way":
        # Where the ground does not bear what a rail brings, another level brings less.
        more = plan(face.depth, face.limits, len(planned.depths) + 1)
        if isinstance(more, Plan):
            again, others = _shored(face, width, more, type(sheet))
            if isinstance(again, Shores):
                planned, found, steps = more, again, others
    sheet.take(steps)
    if isinstance(found, NoShores):
        return NotHeld(found.rule, found.numbers)
    return WorkedTrench(face, width, planned, found)


def _shored(
    face: WorkedFace, width: Metre, planned: Plan, kept: type[Sheet]
) -> tuple[Shores | NoShores, Sheet]:
    """The shores for one set of levels, with their steps."""
    sheet = kept()
    demand = _demand(face, width, planned, sheet)
    return shores(demand, face.case.kit, face.case.book, face.case.tables, sheet), sheet


def _stands(case: Terms, ground: Ground, sheet: Sheet) -> Metre:
    """How high a bare face may be left by theory, also where it was only reported to stand."""
    rows = case.tables.pressures
    load = surface_load(case.details, case.tables)
    return sheet.work(
        standing_height, rows.crack_factor.si, ground.standing, load, ground.weight, rows.stand_factor.si
    )


def _demand(face: WorkedFace, width: Metre, planned: Plan, sheet: Sheet) -> Demand:
    each = heights(planned.depths, face.depth, sheet)
    height, carried, first, on_first = max(each), planned.carried, planned.depths[0], each[0]
    if face.case.keep_outs:
        # Round services a level may end up anywhere in its window.
        first = planned.windows[0].top
        height = on_first = final_bound(planned.windows, face.depth)
        carried = max(carried, heights_bound(planned.windows, face.depth, face.limits))
        sheet.given("h", height, "m", "tributary area, levels anywhere in their windows")
    sheet.given("h_t", carried, "m", "the most that a level carries at any stage of the dig")
    top = (first + face.limits.rail / 2, on_first)
    return Demand(width, face.depth, face.pressure.kpa, height, carried, top, face.ground)


def _heaves(face: WorkedFace, width: Metre, sheet: Sheet) -> NotHeld | None:
    """Base heave, where the ground was described: a type named for a table does not tell its strength."""
    case, depth, ground = face.case, face.depth, face.ground
    if case.book.by_table and ground.row.kind is None:
        return None
    rows = case.tables.pressures
    n_c = base_bearing(depth, width, case.details.length_m, rows, sheet)
    load = surface_load(case.details, case.tables)
    safety = sheet.work(base_safety, n_c, ground.standing, ground.weight, depth, load)
    if safety >= rows.base_factor.si:
        return None
    return NotHeld(
        "base-heave", {"factor": Amount(safety, "", "upper"), "wanted": Amount(rows.base_factor.si)}
    )
