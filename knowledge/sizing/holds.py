"""How far an answer holds: how deep and wide, and in how weak ground, the plan as given still passes.

What is invariant is the plan, not the answer. Everywhere up to a limit the plan as given (levels as they are
placed, spacing, strut, pump pressure, boards) passes every check. At the limit the answer itself comes out
the same. On the way there it need not: a little wider a lighter strut may fit for a few centimetres and be
the answer, though the one given would do as well. So "the same answer" comes and goes, and is looked for only
as the proof that the plan passes. The search may stop short of the farthest such place; it never goes beyond.

Whatever passes as told and at the limit passes between, since no check gets easier and then harder again:
wider, the strut bears less and the base less; deeper, pressure and heights grow, while the base is worst at
one of the two ends. Grounds are tried one after another, none is skipped.

One thing is changed at a time, and of the ground only its state. Cautions are no part of it: the deeper
trench may ask for a ladder.
"""

from collections.abc import Callable
from math import ceil, floor

from knowledge.outcome import GroundName, HoldsTo, Props
from knowledge.sheet import Scratch
from knowledge.sizing.bearing import behind_the_top_rail
from knowledge.sizing.before_sizing import facts_of, refused
from knowledge.sizing.ground import design
from knowledge.sizing.layout import Placed
from knowledge.sizing.levels import heights, lawful, staged
from knowledge.sizing.props import carried, still_fit
from knowledge.sizing.strut import gauge_stress, in_bar, rail_in_bending, rail_in_shear, strut_load
from knowledge.sizing.turned import turned_verdicts
from knowledge.sizing.working import Terms, WorkedTrench, work, work_again
from knowledge.units import Metre

_STEP = 100  # whole centimetres
_NOISE = 1e-6


def holds_to(
    case: Terms, worked: WorkedTrench, placed: tuple[Placed, ...], propped: Props | None = None
) -> HoldsTo:
    """The limits of the plan with its levels `placed` and its props, one thing changed at a time."""
    return HoldsTo(
        depth_m=_greatest(
            worked.depth,
            _deepest(case, worked, placed),
            lambda depth: _passes_at(case, worked, placed, propped, depth),
        ),
        width_m=_greatest(
            worked.width,
            _widest(case, worked),
            lambda width: (
                _same_at(case, worked, worked.depth, width) is not None
                and (propped is None or still_fit(worked, propped, width))
            ),
        ),
        soil=_weakest(case, worked, placed, propped),
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


def _deepest(case: Terms, worked: WorkedTrench, placed: tuple[Placed, ...]) -> Metre:
    """No deeper by the limits of kit, rulebook and the levels as they are placed."""
    limits = worked.limits
    book = case.book.depth.si if case.book.depth else case.kit.depth_m
    return min(case.kit.depth_m, book, placed[-1].depth_m + limits.gap, limits.reach(len(placed)))


def _widest(case: Terms, worked: WorkedTrench) -> Metre:
    """No wider than the strut chosen reaches, or than a trench is."""
    found = worked.shores
    reach = worked.width + found.combination.greatest_m - found.needed
    return min(reach, case.book.width.si) if case.book.width else reach


def _passes_at(
    case: Terms, worked: WorkedTrench, placed: tuple[Placed, ...], propped: Props | None, depth: Metre
) -> bool:
    if not lawful(_axes(placed), depth, worked.limits):
        return False
    again = _same_at(case, worked, depth, worked.width)
    return again is not None and _placed_passes(case, again, placed, propped)


def _same_at(case: Terms, worked: WorkedTrench, depth: Metre, width: Metre) -> WorkedTrench | None:
    """The trench at another depth or width, None where the gate refuses it, such as for plant that is then
    too near, or where its answer is another. As it was told it has been worked already."""
    if (depth, width) == (worked.depth, worked.width):
        return worked
    again = work_again(case, depth, width, worked)
    if not isinstance(again, WorkedTrench) or not _same(worked, again):
        return None
    details = case.details.model_copy(update={"depth_m": depth, "width_m": width})
    facts = facts_of(details, worked.ground.row, worked.ground, case.tables, case.rulebook)
    gate = refused(details, worked.ground, facts, case.tables, case.rulebook, case.kit)
    return None if gate else again


def _placed_passes(
    case: Terms, again: WorkedTrench, placed: tuple[Placed, ...], propped: Props | None
) -> bool:
    """Whether the levels as they are placed, which the changed trench would have elsewhere, do for it too."""
    axes = _axes(placed)
    if not lawful(axes, again.depth, again.limits):
        return False
    at_last = heights(axes, again.depth, Scratch())
    at_stage = staged(axes, again.depth, again.limits)
    held = _carried(case, again, at_last, at_stage)
    held = held and _borne(case, again, axes[0] + again.limits.rail / 2, at_last, at_stage)
    held = held and (propped is None or carried(again, propped))
    return held and turned_verdicts(again, placed, Scratch())


def _axes(placed: tuple[Placed, ...]) -> tuple[Metre, ...]:
    return tuple(place.depth_m for place in placed)


def _carried(case: Terms, again: WorkedTrench, at_last: list[Metre], at_stage: Metre) -> bool:
    """Whether strut and rails carry what the levels bring at any time, and the pump pressure is its share."""
    found, rail = again.shores, case.kit.rail
    most = min(
        found.capacity,
        rail_in_bending(rail.bending_gpa, rail.section_modulus_mm3, rail.length_m * 1000),
        rail_in_shear(rail.shear_gpa, rail.shear_area_mm2),
    )
    highest = max(at_last)
    preload = case.tables.practice.preload_share.si * strut_load(again.pressure.kpa, found.spacing, highest)
    share = in_bar(gauge_stress(preload, found.combination.size.bore_area_mm2))
    return (
        strut_load(again.pressure.kpa, found.spacing, max(highest, at_stage)) <= most + _NOISE
        and share <= again.band[0] + _NOISE
    )


def _borne(case: Terms, again: WorkedTrench, foot: Metre, at_last: list[Metre], at_stage: Metre) -> bool:
    """Whether the ground bears what the levels bring behind their rails, at full depth and at every stage."""
    found, p, rows = again.shores, again.pressure.kpa, case.tables.pressures
    by_top = behind_the_top_rail(found.bearing, again.ground, foot, case.tables, Scratch())
    return (
        strut_load(p, found.spacing, at_last[0]) <= by_top + _NOISE
        and strut_load(p, found.spacing, max(at_last)) <= found.bearing.load + _NOISE
        and strut_load(p, found.spacing, at_stage)
        <= found.bearing.load * rows.load_factor.si / rows.stage_factor.si + _NOISE
    )


def _weakest(
    case: Terms, worked: WorkedTrench, placed: tuple[Placed, ...], propped: Props | None
) -> GroundName:
    """Down the states of the ground told, as long as the answer stays the same."""
    soils, name = case.tables.soils, worked.ground.row.name
    if worked.ground.row.kind is None:
        weaker = [soils.by_type[t] for t in ("A", "B", "C") if t > worked.ground.soil_type]
    else:
        ranked = reversed(soils.ground[: soils.rank[name]])
        weaker = [row for row in ranked if row.kind == worked.ground.row.kind]
    for row in weaker:
        if row.stands == "never" or (row.stands == "as reported" and case.details.face != "stands"):
            break
        ground = design(row, case.details, case.tables, case.rulebook, Scratch())
        facts = facts_of(case.details, row, ground, case.tables, case.rulebook)
        if refused(case.details, ground, facts, case.tables, case.rulebook, case.kit):
            break
        again = work(case, worked.depth, worked.width, ground, Scratch())
        if not isinstance(again, WorkedTrench) or not _same(worked, again):
            break
        if not _placed_passes(case, again, placed, propped):
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
        worked.band,
        found.bearing.boards,
    )
