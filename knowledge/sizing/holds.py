"""How far an answer holds: the greatest depth and width and the weakest ground for which it still passes.

Found by working the changed trench through the same functions. The answer must come out the same (levels,
spacing, strut, pump pressure, boards), and the levels as they are placed must hold the deeper trench, and the
ground behind their rails bear it.
"""

from collections.abc import Callable
from math import ceil, floor

from knowledge.outcome import GroundName, HoldsTo
from knowledge.sheet import Scratch
from knowledge.sizing.bearing import behind_the_top_rail
from knowledge.sizing.before_sizing import facts_of, refused
from knowledge.sizing.ground import design
from knowledge.sizing.levels import heights, lawful
from knowledge.sizing.strut import strut_load
from knowledge.sizing.working import NotHeld, Terms, WorkedTrench, across, work
from knowledge.units import Metre

_STEP = 100  # whole centimetres
_NOISE = 1e-6


def holds_to(case: Terms, worked: WorkedTrench, placed: tuple[Metre, ...]) -> HoldsTo:
    """The limits of an answer with its levels `placed`, one thing changed at a time."""
    return HoldsTo(
        depth_m=_greatest(
            worked.depth,
            _deepest(case, worked, placed),
            lambda depth: _same_at_depth(case, worked, placed, depth),
        ),
        width_m=_greatest(
            worked.width,
            _widest(case, worked),
            lambda width: _same(worked, across(worked.face, width, Scratch())),
        ),
        soil=_weakest(case, worked),
    )


def _greatest(told: Metre, most: Metre, passes: Callable[[Metre], bool]) -> Metre:
    """The greatest whole centimetre up to `most` that passes; `told` where none beyond it does."""
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


def _same_at_depth(case: Terms, worked: WorkedTrench, placed: tuple[Metre, ...], depth: Metre) -> bool:
    if not lawful(placed, depth, worked.limits) or _gated(case, worked, depth):
        return False
    again = work(case, depth, worked.width, worked.ground, Scratch())
    return isinstance(again, WorkedTrench) and _same(worked, again) and _borne(case, again, placed)


def _borne(case: Terms, again: WorkedTrench, placed: tuple[Metre, ...]) -> bool:
    """Whether the ground bears what the levels as they are placed bring; no table asks for it."""
    if case.book.by_table:
        return True
    found, none, foot = again.shores, Scratch(), placed[0] + again.limits.rail / 2
    loads = [strut_load(again.pressure.kpa, found.spacing, h) for h in heights(placed, again.depth, none)]
    by_top = behind_the_top_rail(found.bearing, again.ground, foot, case.tables, none)
    return loads[0] <= by_top + _NOISE and max(loads) <= found.bearing.load + _NOISE


def _gated(case: Terms, worked: WorkedTrench, depth: Metre) -> bool:
    """Whether the gate refuses the deeper trench, such as for plant that is then too near."""
    details = case.details.model_copy(update={"depth_m": depth})
    facts = facts_of(details, worked.ground.row, worked.ground, case.tables, case.rulebook)
    return bool(refused(details, worked.ground, facts, case.tables, case.rulebook, case.kit))


def _weakest(case: Terms, worked: WorkedTrench) -> GroundName:
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
        if not _same(worked, work(case, worked.depth, worked.width, ground, Scratch())):
            break
        name = row.name
    return name


def _same(worked: WorkedTrench, again: WorkedTrench | NotHeld) -> bool:
    return isinstance(again, WorkedTrench) and _essence(again) == _essence(worked)


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
