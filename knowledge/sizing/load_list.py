"""What goes on the van for a trench, or for a day's trenches that stand open together."""

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import ceil

from knowledge.outcome import Sized, Strut
from knowledge.reading import Details
from knowledge.tables.kit import Combination, Kit, StrutSize
from knowledge.tables.lifting import Lifting
from knowledge.units import Kilogram, Litre, Metre


@dataclass(frozen=True, slots=True)
class LoadItem:
    """One kind of thing: how many, what one weighs, how many people lift one (None: a machine does)."""

    name: str
    count: int
    mass_kg: Kilogram
    hands: int | None
    length_m: Metre | None = None


@dataclass(frozen=True, slots=True)
class LoadList:
    """The kit list. `per_run_m`: a length was not told, and this is for so long a run of that trench.

    `fluid_l` fills every strut out to its length in the trench. `roped`: a whole unit is heavier than may
    be lowered at arm's length, so it goes in by rope or hook (HSE L23 filter, lowest band, arms out).
    """

    items: tuple[LoadItem, ...]
    mass_kg: Kilogram
    fluid_l: Litre
    unit_kg: Kilogram
    unit_hands: int | None
    roped: bool
    per_run_m: Metre | None = None


def load_list(trenches: Sequence[tuple[Sized, Details]], kit: Kit, lifting: Lifting) -> LoadList:
    """The list for trenches sized with one kit. Raises ValueError for none, or for another kit's."""
    if not trenches or any(sized.kit != kit.name for sized, _ in trenches):
        raise ValueError(f"a list for kit {kit.name} needs trenches sized with it")
    counts = Counter[tuple[str, Kilogram, Metre | None]]()
    for sized, details in trenches:
        for name, count, mass, length in _trench(sized, details, kit):
            counts[name, mass, length] += count
    for name, extra in kit.extra.items():
        counts[name, extra.mass_kg, None] += extra.per_load
    items = tuple(
        LoadItem(name, count, mass, lifting.hands(mass), length)
        for (name, mass, length), count in counts.items()
        if count
    )
    unit = max(_unit_kg(sized, kit) for sized, _ in trenches)
    return LoadList(
        items=items,
        mass_kg=round(sum(item.count * item.mass_kg for item in items), 3),
        fluid_l=round(sum(_fluid(sized, kit) for sized, _ in trenches), 3),
        unit_kg=round(unit, 3),
        unit_hands=lifting.hands(unit),
        roped=unit > lifting.capacity("below mid lower leg", "out"),
        per_run_m=next((sized.run_m for sized, _ in trenches if sized.units is None), None),
    )


def fluid(bore_area_mm2: float, stroke_m: Metre, count: int) -> Litre:
    """Fluid that extends so many struts: bore area x stroke (1 mm2 x 1 m is 1 mL)."""
    return bore_area_mm2 * stroke_m * count / 1000


def _trench(sized: Sized, details: Details, kit: Kit) -> Iterator[tuple[str, int, Kilogram, Metre | None]]:
    """Name, count, weight and length of what one trench takes, without what is taken once a load."""
    units, strut = _units(sized), sized.strut
    yield from _of_units(units, strut, kit)
    if sized.props:
        yield from _of_units(sized.props.count, sized.props.strut, kit)
    if sized.boards:
        yield "board", _boards(sized, details, kit), _board_kg(kit), kit.board.length_m
    for name, extra in kit.extra.items():
        every = [(units, strut), *([(sized.props.count, sized.props.strut)] if sized.props else [])]
        pinned = sum(n * (extra.per_unit + extra.per_extension * len(s.extensions_m)) for n, s in every)
        yield name, pinned + extra.per_trench, extra.mass_kg, None


def _of_units(count: int, strut: Strut, kit: Kit) -> Iterator[tuple[str, int, Kilogram, Metre | None]]:
    """Rails, struts and extensions of so many units."""
    yield "rail", 2 * count, kit.rail.mass_kg, kit.rail.length_m
    yield f"strut {strut.size}", count, _size(strut, kit).mass_kg, None
    weights = {extension.length_m: extension.mass_kg for extension in kit.extension}
    for length, each in sorted(Counter(strut.extensions_m).items()):
        yield "extension", count * each, weights[length], length


def _units(sized: Sized) -> int:
    count = sized.units if sized.units is not None else sized.units_per_run
    return count or 0


def _size(strut: Strut, kit: Kit) -> StrutSize:
    return next(size for size in kit.strut if size.name == strut.size)


def _strut(sized: Sized, kit: Kit) -> Combination:
    wanted = (sized.strut.size, sorted(sized.strut.extensions_m))
    return next(c for c in kit.combinations if (c.size.name, sorted(c.extensions_m)) == wanted)


def _unit_kg(sized: Sized, kit: Kit) -> Kilogram:
    return 2 * kit.rail.mass_kg + _strut(sized, kit).mass_kg


def _fluid(sized: Sized, kit: Kit) -> Litre:
    every = [(_units(sized), sized.strut), *([(sized.props.count, sized.props.strut)] if sized.props else [])]
    return sum(_filled(count, strut, _size(strut, kit)) for count, strut in every)


def _filled(count: int, strut: Strut, size: StrutSize) -> Litre:
    return fluid(size.bore_area_mm2, strut.needed_m - size.closed_m - sum(strut.extensions_m), count)


def _boards(sized: Sized, details: Details, kit: Kit) -> int:
    """Whole boards that cover both faces to the full depth, and one for each rail at least.

    The answer rests on each rail bearing on the middle of a board, so a joint never falls behind one.
    """
    length = details.length_m if sized.units is not None else sized.run_m
    along = ceil((length or 0) / kit.board.length_m - 1e-9)
    return max(2 * _units(sized), 2 * along * ceil(sized.stages_m[-1] / kit.board.width_m - 1e-9))


def _board_kg(kit: Kit) -> Kilogram:
    return round(kit.board.mass_kg_per_m2 * kit.board.length_m * kit.board.width_m, 3)
