"""One trench worked through: levels, pressure, base, shores. The same road for an answer and its limits."""

from dataclasses import dataclass, replace
from math import inf

from knowledge.reading import Details
from knowledge.sheet import Scratch, Sheet
from knowledge.sizing.ground import Ground
from knowledge.sizing.layout import KeepOut
from knowledge.sizing.levels import (
    Limits,
    NoPlan,
    Plan,
    fewest,
    final_bounds,
    heights,
    limits,
    plan,
    staged_bound,
)
from knowledge.sizing.pressure import (
    Pressure,
    base_bearing,
    base_safety,
    design_pressure,
    standing_height,
    surface_load,
)
from knowledge.sizing.shores import Demand, NoShores, Shores, loaded, shores
from knowledge.sourced import Rulebook
from knowledge.tables.kit import Kit
from knowledge.tables.load import Tables
from knowledge.tables.sizing_figures import RulebookTable
from knowledge.tables.supplier import SupplierRow
from knowledge.units import Amount, Bar, KiloNewton, KiloPascal, Metre

_NOISE = 1e-9


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
    """A face of one depth, in a trench of one width: how its levels may lie, and what presses on it.

    `unloaded`: how they might lie with no load told beside it.
    """

    case: Terms
    depth: Metre
    width: Metre
    ground: Ground
    limits: Limits
    pressure: Pressure
    supplied: SupplierRow | None
    unloaded: Limits


@dataclass(frozen=True, slots=True)
class WorkedTrench:
    """A trench that the kit holds. `by_table`: the supplier's table asks for more than our own working.

    `on_the_way`: the widest spacing that held at every shallower depth, where fewer levels stood.
    """

    face: WorkedFace
    plan: Plan
    shores: Shores
    load: KiloNewton
    band: tuple[Bar, Bar]
    by_table: bool
    on_the_way: Metre

    @property
    def depth(self) -> Metre:
        return self.face.depth

    @property
    def width(self) -> Metre:
        return self.face.width

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


@dataclass(frozen=True, slots=True)
class LighterStrut:
    """A trench worked again that takes a lighter strut: its answer is another, and is not worked out."""


def work(case: Terms, depth: Metre, width: Metre, ground: Ground, sheet: Sheet) -> WorkedTrench | NotHeld:
    """A trench of this depth and width in this ground. Every step leaves its line on the sheet."""
    worked = _worked(case, depth, width, ground, sheet, None)
    assert not isinstance(worked, LighterStrut)  # lighter than none
    return worked


def work_again(
    case: Terms, depth: Metre, width: Metre, before: WorkedTrench
) -> WorkedTrench | NotHeld | LighterStrut:
    """A trench as worked `before`, at another depth or width. What of it lies on the way down to both is not
    worked again."""
    return _worked(case, depth, width, before.ground, Scratch(), before)


def _worked(
    case: Terms, depth: Metre, width: Metre, ground: Ground, sheet: Sheet, before: WorkedTrench | None
) -> WorkedTrench | NotHeld | LighterStrut:
    bounds = before.limits if before else _bounds(case, ground, None, sheet)
    practice = case.tables.practice
    count = fewest(depth, bounds, round(practice.levels_most.si), practice.levels_within.si)
    if isinstance(count, NoPlan):
        return NotHeld(count.rule, {name: Amount(value, "m") for name, value in count.numbers.items()})
    if case.kit.table and case.kit.table.row_for(ground.soil_type, depth, width) is None:
        return NotHeld("outside-table", {"depth": Amount(depth, "m"), "width": Amount(width, "m")})
    easiest = case.tables.pressures.surcharge_least.si
    unloaded = before.face.unloaded if before else _bounds(case, ground, easiest, Scratch())
    pressure, supplied = _pressed(case, depth, width, ground, sheet)
    face = WorkedFace(case, depth, width, ground, bounds, pressure, supplied, unloaded)
    if refused := _heaves(face, sheet):
        return refused
    least = max(count, face.supplied.levels if face.supplied else 1)
    if least > count and bounds.least(least) > depth + _NOISE:
        return _no_room(face, count, least)
    held = _held(face, least, before, sheet)
    if isinstance(held, NotHeld | LighterStrut):
        return held
    planned, found, on_the_way = held
    own = min(found.own, on_the_way)
    allowed = face.supplied.spacing_m if face.supplied else inf
    found = replace(found, own=own, spacing=_spacing(face, found.own, on_the_way, sheet))
    carried = _carried(face, planned, sheet)
    load, low = loaded(found, carried, face.pressure.kpa, ground, case.kit, case.tables, sheet)
    return WorkedTrench(
        face, planned, found, load, (low, found.high), allowed < own - _NOISE or least > count, on_the_way
    )


def _spacing(face: WorkedFace, own: Metre, on_the_way: Metre, sheet: Sheet) -> Metre:
    """The spacing given out: by our own working, no wider than on the way down or by the supplier's table."""
    sheet.part("Spacing and load")
    of = {"s_o": own}
    if on_the_way < inf:
        name = "Widest spacing that held at every shallower depth with fewer levels"
        of["s_way"] = sheet.given("s_way", on_the_way, "m", "worked as s_o, at those depths", name)
    if face.supplied and (table := face.case.kit.table):
        sheet_of = f"supplier's table {table.number}, issue {table.issue}"
        of["s_table"] = sheet.given(
            "s_table", face.supplied.spacing_m, "m", sheet_of, "Spacing that it allows"
        )
    return sheet.least("s", of, "m", "the least of these", "Spacing, centre to centre")


def _pressed(
    case: Terms, depth: Metre, width: Metre, ground: Ground, sheet: Sheet
) -> tuple[Pressure, SupplierRow | None]:
    """What presses on a face, and the row of the supplier's table for it."""
    pressure = design_pressure(ground, depth, width, case.details, case.tables, case.book, sheet)
    return pressure, case.kit.table.row_for(ground.soil_type, depth, width) if case.kit.table else None


def _bounds(case: Terms, ground: Ground, load: KiloPascal | None, sheet: Sheet) -> Limits:
    """Limits of the levels, with a load on the surface beside the trench: what was told where it is None."""
    stands = bare_face(case, ground, sheet, load)
    slab = case.details.pavement_m or 0.0
    return limits(case.kit, case.book, case.tables.practice, ground.row.bites, stands, slab)


def _held(
    face: WorkedFace, levels: int, before: WorkedTrench | None, sheet: Sheet
) -> tuple[Plan, Shores, Metre] | NotHeld | LighterStrut:
    """The levels and shores at full depth, and the widest spacing on the way. Where one level does not carry,
    a second is set if it fits. A strut that allows more than held on the way is no better than a lighter one.
    """
    planned = plan(face.depth, levels, face.limits)
    found, steps = _shored(face, planned, sheet.fresh())
    if isinstance(found, NoShores) and levels == 1 and found.rule in ("ground-gives-way", "strut-overloaded"):
        if face.limits.least(2) > face.depth + _NOISE:
            sheet.take(steps)
            return _no_room(face, 1, 2)
        planned = plan(face.depth, 2, face.limits)
        found, steps = _shored(face, planned, sheet.fresh())
    if isinstance(found, NoShores):
        sheet.take(steps)
        return NotHeld(found.rule, found.numbers)
    if before and found.combination.weight < before.shores.combination.weight:
        return LighterStrut()  # and what held on the way would at most make it lighter yet
    on_the_way = _on_the_way(face, len(planned.depths), before)
    if isinstance(on_the_way, NotHeld):
        sheet.take(steps)
        return on_the_way
    if on_the_way < found.own - _NOISE and not found.lightest:
        again, steps = _shored(face, planned, sheet.fresh(), on_the_way)
        assert isinstance(again, Shores)  # it asks for less
        found = again
    sheet.take(steps)
    return planned, found, on_the_way


def _on_the_way(face: WorkedFace, levels: int, before: WorkedTrench | None) -> Metre | NotHeld:
    """The widest spacing that held at every shallower depth, where fewer levels stood.

    A deeper trench is never set wider than it was on its way down, and one that was a stop stays one.
    Within one number of levels the deepest trench asks most; where a single level no longer carried, it had
    come to the least spacing.
    """
    if (
        before
        and before.width == face.width
        and len(before.plan.depths) == levels
        and (levels == 1 or face.limits.reach(levels - 1) <= min(before.depth, face.depth))
    ):
        return before.on_the_way
    most, closest = inf, face.case.tables.practice.spacing_least.si
    for fewer in range(1, levels):
        depth = min(face.limits.reach(fewer), face.depth)
        found = _bare(face, depth, fewer)
        if isinstance(found, Shores):
            most = min(most, found.own)
        elif fewer > 1:
            return NotHeld(found.rule, found.numbers)
        elif isinstance(_bare(face, face.limits.least(1), 1), Shores):
            most = min(most, closest)
    return most


def _bare(face: WorkedFace, depth: Metre, levels: int) -> Shores | NoShores:
    """The shores of the same trench at a lesser depth."""
    pressure, supplied = _pressed(face.case, depth, face.width, face.ground, Scratch())
    shallow = replace(face, depth=depth, pressure=pressure, supplied=supplied)
    return _shored(shallow, plan(depth, levels, face.limits), Scratch())[0]


def _shored(
    face: WorkedFace, planned: Plan, sheet: Sheet, most: Metre = inf
) -> tuple[Shores | NoShores, Sheet]:
    """The shores for one set of levels, no further apart than `most`, and the sheet of their steps."""
    return shores(_demand(face, planned, most), face.case.kit, face.case.book, face.case.tables, sheet), sheet


def _no_room(face: WorkedFace, fit: int, wanted: int) -> NotHeld:
    """One level too few carries, and one more does not fit yet: a deeper trench may be answered."""
    numbers = {
        "depth": face.depth,
        "reach": face.limits.reach(fit),
        "from": face.limits.least(wanted),
    }
    return NotHeld("levels-do-not-fit", {name: Amount(value, "m") for name, value in numbers.items()})


def bare_face(case: Terms, ground: Ground, sheet: Sheet, load: KiloPascal | None = None) -> Metre:
    """How high a bare face may be left by theory; granular ground has none, and only what was reported.

    `load`: on the surface beside it; None: what was told.
    """
    if ground.strength is None:
        return inf
    rows = case.tables.pressures
    sheet.part("How high the face stands by itself")
    load = surface_load(case.details, case.tables, sheet) if load is None else load
    f_h = sheet.figure("f_h", rows.crack_factor, "Factor of a bare face with a crack behind it")
    F_h = sheet.figure("F_h", rows.stand_factor, "Factor of safety on standing height")
    return sheet.work(standing_height, f_h, ground.strength, load, ground.weight, F_h)


def _demand(face: WorkedFace, planned: Plan, most: Metre) -> Demand:
    # A load makes the bites shorter, and so may move the levels to where they carry less: that earns nothing.
    easy = plan(face.depth, len(planned.depths), face.unloaded)
    height, staged = max(planned.height, easy.height), max(planned.staged, easy.staged)
    on_first, first = max(planned.top, easy.top), min(planned.depths[0], easy.depths[0])
    if face.case.keep_outs:
        # Round services a level may end up anywhere in its window.
        first = planned.windows[0].top
        height = on_first = max(final_bounds(planned.windows, face.depth))
        staged = max(staged, staged_bound(planned.windows, face.depth, face.limits))
    top = (first + face.limits.rail / 2, on_first)
    return Demand(
        face.width, face.depth, face.pressure.kpa, height, staged, top, face.ground, face.supplied, most
    )


def _carried(face: WorkedFace, planned: Plan, sheet: Sheet) -> Metre:
    """The most that any level carries at full depth as the levels are set out, or round services may be."""
    name = "Height that a level carries at full depth"
    if face.case.keep_outs:
        bound = max(final_bounds(planned.windows, face.depth))
        return sheet.given("h", bound, "m", "tributary area, levels anywhere in their windows", name)
    for i, depth in enumerate(planned.depths, 1):
        sheet.given(f"z_{i}", depth, "m", "level, within its window", f"Depth of strut {i} below ground")
    each = heights(planned.depths, face.depth, sheet)
    of = {f"h_{i}": height for i, height in enumerate(each, 1)}
    return sheet.most("h", of, "m", "the greatest of these", name)


def _heaves(face: WorkedFace, sheet: Sheet) -> NotHeld | None:
    """Base heave, in clay and silt: dry sand and gravel do not."""
    case, ground = face.case, face.ground
    if ground.strength is None:
        return None
    rows = case.tables.pressures
    sheet.part("Heave of the bottom")
    n_c = base_bearing(face.depth, face.width, case.details.length_m, rows, sheet)
    load = surface_load(case.details, case.tables, sheet)
    safety = sheet.work(base_safety, n_c, ground.strength, ground.weight, face.depth, load)
    wanted = rows.base_factor
    sheet.figure("F_u", wanted, "Factor of safety wanted against heave")
    sheet.check("Heave of the bottom", ("F_u", wanted.si), ("FoS_b", safety), "", wanted)
    if safety >= rows.base_factor.si:
        return None
    return NotHeld(
        "base-heave", {"factor": Amount(safety, "", "upper"), "wanted": Amount(rows.base_factor.si)}
    )
