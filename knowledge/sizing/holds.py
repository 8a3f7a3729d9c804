"""How far an answer holds: how deep and wide, and in how weak ground, the plan as given still passes.

What is invariant is the plan, not the answer. Everywhere up to a limit the plan as given (levels as they are
placed, spacing, strut, pump pressure, boards) passes every check. At the limit the answer itself comes out
the same. On the way there it need not: a little wider a lighter strut may fit for a few centimetres and be
the answer, though the one given would do as well. So "the same answer" comes and goes, and is looked for only
as the proof that the plan passes. The search may stop short of the farthest such place; it never goes beyond.

Whatever passes as told and at the limit passes between, since no check gets easier and then harder again:
wider, the strut bears less and the base less; deeper, pressure and heights grow, while the base is worst at
one of the two ends. Grounds are tried one after another, none is skipped.

One thing is changed at a time. Cautions are no part of it: the deeper trench may ask for a ladder, and where
a table sets the spacing, weaker ground may bear less behind a rail than the table asks.
"""

from collections.abc import Callable
from math import ceil, floor

from knowledge.outcome import GroundName, HoldsTo
from knowledge.sheet import Scratch
from knowledge.sizing.bearing import behind_the_top_rail
from knowledge.sizing.before_sizing import facts_of, refused
from knowledge.sizing.ground import design
from knowledge.sizing.levels import heights, heights_met, lawful
from knowledge.sizing.strut import gauge_stress, in_bar, rail_in_bending, rail_in_shear, strut_load
from knowledge.sizing.working import Terms, WorkedTrench, across, work
from knowledge.units import Metre

_STEP = 100  # whole centimetres
_NOISE = 1e-6


def holds_to(case: Terms, worked: WorkedTrench, placed: tuple[Metre, ...]) -> HoldsTo:
    """The limits of the plan with its levels `placed`, one thing changed at a time."""
    return HoldsTo(
        depth_m=_greatest(
            worked.depth,
            _deepest(case, worked, placed),
            lambda depth: _same_at_depth(case, worked, placed, depth),
        ),
        width_m=_greatest(
            worked.width,
            _widest(case, worked),
            lambda width: _same_at_width(worked, width),
        ),
        soil=_weakest(case, worked, placed),
    )


def _greatest(told: Metre, most: Metre, passes: Callable[[Metre], bool]) -> Metre:
    """A whole centimetre up to `most` that passes, the greatest where all below it do; else `told`."""
    low, high = ceil(told * _STEP - _NOISE), floor(most * _STEP + _NOISE)
    if high < low or not passes(low / _STEP):
        return told
    if passes(high / _STEP):
        return max(told, high / _STEP)
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if passes(middle / _STEP) else (low, middle)
    return max(told, low / _STEP)


def _deepest(case: Terms, worked: WorkedTrench, placed: tuple[Metre, ...]) -> Metre:
    """No deeper by the limits of kit, rulebook and the levels as they are placed."""
    limits = worked.limits
    book = case.book.depth.si if case.book.depth else case.kit.depth_m
    return min(case.kit.depth_m, book, placed[-1] + limits.gap, limits.reach(len(placed)))


def _widest(case: Terms, worked: WorkedTrench) -> Metre:
    """No wider than the strut chosen reaches, or its row of the rulebook's table."""
    found = worked.shores
    reach = worked.width + found.combination.greatest_m - found.needed
    return min(reach, found.cylinder.width.si) if found.cylinder else reach


def _same_at_width(worked: WorkedTrench, width: Metre) -> bool:
    again = across(worked.face, width, Scratch())
    return isinstance(again, WorkedTrench) and _same(worked, again)


def _same_at_depth(case: Terms, worked: WorkedTrench, placed: tuple[Metre, ...], depth: Metre) -> bool:
    if not lawful(placed, depth, worked.limits) or _gated(case, worked, depth):  # the cheap checks first
        return False
    again = work(case, depth, worked.width, worked.ground, Scratch())
    return isinstance(again, WorkedTrench) and _same(worked, again) and _placed_passes(case, again, placed)


def _placed_passes(case: Terms, again: WorkedTrench, placed: tuple[Metre, ...]) -> bool:
    """Whether the levels as they are placed, which the changed trench would have elsewhere, do for it too."""
    if not lawful(placed, again.depth, again.limits):
        return False
    # Where a table sets the spacing, it asks for no load of a strut.
    return case.book.by_table or (_carried(case, again, placed) and _borne(case, again, placed))


def _carried(case: Terms, again: WorkedTrench, placed: tuple[Metre, ...]) -> bool:
    """Whether strut and rails carry what the levels bring at any time, and the pump pressure is its share."""
    found, rail = again.shores, case.kit.rail
    most = min(
        found.capacity,
        rail_in_bending(rail.bending_gpa, rail.section_modulus_mm3, rail.length_m * 1000),
        rail_in_shear(rail.shear_gpa, rail.shear_area_mm2),
    )
    at_any_time = max(heights_met(placed, again.depth, again.limits))
    at_last = max(heights(placed, again.depth, Scratch()))
    preload = case.tables.practice.preload_share.si * strut_load(again.pressure.kpa, found.spacing, at_last)
    share = in_bar(gauge_stress(preload, found.combination.size.bore_area_mm2))
    return (
        strut_load(again.pressure.kpa, found.spacing, at_any_time) <= most + _NOISE
        and share <= found.band[0] + _NOISE
    )


def _borne(case: Terms, again: WorkedTrench, placed: tuple[Metre, ...]) -> bool:
    """Whether the ground bears what the levels bring behind their rails."""
    found, none, foot = again.shores, Scratch(), placed[0] + again.limits.rail / 2
    loads = [strut_load(again.pressure.kpa, found.spacing, h) for h in heights(placed, again.depth, none)]
    by_top = behind_the_top_rail(found.bearing, again.ground, foot, case.tables, none)
    return loads[0] <= by_top + _NOISE and max(loads) <= found.bearing.load + _NOISE


def _gated(case: Terms, worked: WorkedTrench, depth: Metre) -> bool:
    """Whether the gate refuses the deeper trench, such as for plant that is then too near."""
    details = case.details.model_copy(update={"depth_m": depth})
    facts = facts_of(details, worked.ground.row, worked.ground, case.tables, case.rulebook)
    return bool(refused(details, worked.ground, facts, case.tables, case.rulebook, case.kit))


def _weakest(case: Terms, worked: WorkedTrench, placed: tuple[Metre, ...]) -> GroundName:
    """Down the order of grounds from the one told, as long as the answer stays the same."""
    soils, name = case.tables.soils, worked.ground.row.name
    if worked.ground.row.kind is None:
        weaker = [soils.by_type[t] for t in ("A", "B", "C") if t > worked.ground.soil_type]
    else:
        weaker = list(reversed(soils.ground[: soils.rank[name]]))
    for row in weaker:
        if row.stands == "never" or (row.stands == "as reported" and case.details.face != "stands"):
            break
        ground = design(row, case.details, case.tables, case.rulebook, Scratch())
        if ground.soil_type not in case.book.spacing:
            break
        again = work(case, worked.depth, worked.width, ground, Scratch())
        if (
            not isinstance(again, WorkedTrench)
            or not _same(worked, again)
            or not _placed_passes(case, again, placed)
        ):
            break
        name = row.name
    return name


def _same(worked: WorkedTrench, again: WorkedTrench) -> bool:
    return _essence(again) == _essence(worked)


def _essence(worked: WorkedTrench) -> tuple[object, ...]:
    found = worked.shores
    return (
        len(worked.plan.depths),
        found.spacing,
        found.combination,
        found.band,
        worked.ground.row.boards,
        found.cylinder,
    )
